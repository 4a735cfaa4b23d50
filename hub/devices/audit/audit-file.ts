// The audit log as private files of the data folder: one that is added to and, when that is full, one full one before it.

import { appendFile, chmod, mkdir, readFile, rename, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { type AuditEntry, auditEntrySchema } from '../../../shared/audit.ts';
import { foldedName } from '../../../shared/name-text.ts';
import type { HubLog } from '../../base/log.ts';
import type { AuditLog } from '../../base/ports/audit-log.ts';
import { replaceFileLater } from '../../base/replace-file.ts';

/** Some 4,000 entries; two such files hold a club's year (our choice). */
const mostBytesOfFile = 2 ** 20;
const erased = 'erased';

/** Entries that wait for a disk that doesn't answer; what comes beyond is counted, and that is written down. Our choice. */
const mostWaitingEntries = 2_000;

export interface AuditFileOptions {
  /** Of each of the two files. */
  readonly mostBytes?: number;
  readonly mostWaiting?: number;
  /** No more entries can be held for the disk; told once until there is room again. */
  readonly full?: () => void;
}

/** Never waits in the calling thread: every call to the file system is one that another thread carries out. */
export function auditLogIn(dataDirectory: string, log: HubLog, options: AuditFileOptions = {}): AuditLog {
  return new AuditFile(dataDirectory, log, options);
}

class AuditFile implements AuditLog {
  readonly #log: HubLog;
  readonly #directory: string;
  readonly #current: string;
  readonly #before: string;
  readonly #mostBytes: number;
  readonly #mostWaiting: number;
  readonly #full: () => void;
  #queue: Promise<unknown> = Promise.resolve();
  /** Not yet handed to the file system. */
  #waiting: AuditEntry[] = [];
  #writeIsDue = false;
  #lostCount = 0;

  constructor(dataDirectory: string, log: HubLog, options: AuditFileOptions) {
    this.#log = log;
    this.#directory = dataDirectory;
    this.#current = join(dataDirectory, 'audit.jsonl');
    this.#before = join(dataDirectory, 'audit.1.jsonl');
    this.#mostBytes = options.mostBytes ?? mostBytesOfFile;
    this.#mostWaiting = options.mostWaiting ?? mostWaitingEntries;
    this.#full = options.full ?? (() => undefined);
  }

  append(entry: AuditEntry): void {
    if (this.#waiting.length >= this.#mostWaiting) {
      this.#lostCount += 1;
      if (this.#lostCount > 1) return;
      this.#log.error('the audit log takes no more entries: the disk does not answer');
      this.#full();
      return;
    }
    this.#waiting.push(entry);
    if (this.#writeIsDue) return;
    this.#writeIsDue = true;
    void this.#inTurn(() => this.#writeWaiting()).catch(() => undefined);
  }

  newest(most: number): Promise<readonly AuditEntry[]> {
    return this.#inTurn(async () =>
      (await this.#lines())
        .slice(-most)
        .flatMap((line) => entryOf(line) ?? [])
        .reverse(),
    );
  }

  wholeText(): Promise<string> {
    return this.#inTurn(async () => (await this.#lines()).map((line) => `${line}\n`).join(''));
  }

  forgetAthlete(athleteId: string, names: ReadonlySet<string> = new Set()): Promise<void> {
    return this.#inTurn(async () => {
      for (const path of [this.#before, this.#current]) await forget(path, athleteId, names);
    });
  }

  close(): Promise<void> {
    return this.#inTurn(async () => undefined);
  }

  /** One after another; what fails is told and does not stop what comes after. */
  #inTurn<Value>(work: () => Promise<Value>): Promise<Value> {
    const done = this.#queue.then(work);
    this.#queue = done.catch((error: unknown) =>
      this.#log.error('the audit log could not be written', error),
    );
    return done;
  }

  async #writeWaiting(): Promise<void> {
    this.#writeIsDue = false;
    const entries = this.#waiting;
    const lostCount = this.#lostCount;
    this.#waiting = [];
    this.#lostCount = 0;
    const last = entries.at(-1);
    if (lostCount > 0 && last !== undefined)
      entries.push({ ...blankEntry, atWallMs: last.atWallMs, action: 'entriesLost', count: lostCount });
    await mkdir(this.#directory, { recursive: true, mode: 0o700 });
    for (const entry of entries) await this.#write(`${JSON.stringify(entry)}\n`);
  }

  async #write(line: string): Promise<void> {
    const size = await sizeOf(this.#current);
    const isFull = size !== undefined && size + line.length > this.#mostBytes;
    if (isFull) await rename(this.#current, this.#before);
    await appendFile(this.#current, line, { mode: 0o600 });
    // A umask can only take rights away, but a file copied here may have more.
    if (size === undefined || isFull) await chmod(this.#current, 0o600);
  }

  async #lines(): Promise<string[]> {
    return [...(await linesOf(this.#before)), ...(await linesOf(this.#current))];
  }
}

const blankEntry = {
  device: null,
  deviceAthleteId: null,
  athleteId: null,
  sessionId: null,
  floorPercent: null,
} as const;

const ifThere = (error: unknown): undefined => {
  if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
  throw error;
};

const sizeOf = async (path: string): Promise<number | undefined> => (await stat(path).catch(ifThere))?.size;

async function linesOf(path: string): Promise<string[]> {
  const text = (await readFile(path, 'utf8').catch(ifThere)) ?? '';
  return text.split('\n').filter((line) => line !== '');
}

async function forget(path: string, athleteId: string, names: ReadonlySet<string>): Promise<void> {
  const kept = await linesOf(path);
  if (kept.length === 0) return;
  const without = kept.flatMap((line) => {
    const entry = entryOf(line);
    // What cannot be read might name them.
    return entry === undefined ? [] : JSON.stringify(withoutAthlete(entry, athleteId, names));
  });
  await replaceFileLater(path, `${without.join('\n')}\n`);
}

/** For a hub that leaves no trace, and tests: kept until it ends. */
export function auditLogInMemory(): AuditLog {
  let entries: AuditEntry[] = [];
  return {
    append: (entry) => void entries.push(entry),
    newest: async (most) => entries.slice(-most).reverse(),
    wholeText: async () => entries.map((entry) => `${JSON.stringify(entry)}\n`).join(''),
    async forgetAthlete(athleteId, names = new Set()) {
      entries = entries.map((entry) => withoutAthlete(entry, athleteId, names));
    },
    close: async () => undefined,
  };
}

function entryOf(line: string): AuditEntry | undefined {
  try {
    const checked = auditEntrySchema.safeParse(JSON.parse(line));
    return checked.success ? checked.data : undefined;
  } catch {
    // A line cut off by a crash: passed over, the others stand.
    return undefined;
  }
}

function withoutAthlete(entry: AuditEntry, athleteId: string, names: ReadonlySet<string>): AuditEntry {
  const isTheirs = entry.deviceAthleteId === athleteId;
  const { device, afar } = entry;
  const isNamed = device !== null && names.has(foldedName(device.name));
  return {
    ...entry,
    athleteId: entry.athleteId === athleteId ? erased : entry.athleteId,
    deviceAthleteId: isTheirs ? erased : entry.deviceAthleteId,
    device: device !== null && (isTheirs || isNamed) ? { ...device, name: '' } : device,
    ...(afar !== undefined && names.has(foldedName(afar.by)) && { afar: { ...afar, by: '' } }),
  };
}
