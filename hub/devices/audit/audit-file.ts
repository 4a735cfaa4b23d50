// The audit log as private files of the data folder: one that is added to and, when that is full, one full one before it.

import { existsSync } from 'node:fs';
import { appendFile, chmod, mkdir, readFile, rename, stat } from 'node:fs/promises';
import { join } from 'node:path';
import { type AuditEntry, auditEntrySchema } from '../../../shared/audit.ts';
import type { HubLog } from '../../base/log.ts';
import type { AuditLog } from '../../base/ports/audit-log.ts';
import { replaceFile } from '../../base/replace-file.ts';

/** Some 4,000 entries; two such files hold a club's year (our choice). */
const mostBytesOfFile = 2 ** 20;
const erased = 'erased';

/** `mostBytes` of each of the two files. */
export function auditLogIn(dataDirectory: string, log: HubLog, mostBytes = mostBytesOfFile): AuditLog {
  const current = join(dataDirectory, 'audit.jsonl');
  const before = join(dataDirectory, 'audit.1.jsonl');
  let queue: Promise<unknown> = Promise.resolve();

  /** One after another; what fails is told and does not stop what comes after. */
  function inTurn<Value>(work: () => Promise<Value>): Promise<Value> {
    const done = queue.then(work);
    queue = done.catch((error: unknown) => log.error('the audit log could not be written', error));
    return done;
  }

  async function write(entry: AuditEntry): Promise<void> {
    const line = `${JSON.stringify(entry)}\n`;
    await mkdir(dataDirectory, { recursive: true, mode: 0o700 });
    if (existsSync(current) && (await stat(current)).size + line.length > mostBytes)
      await rename(current, before);
    const isNew = !existsSync(current);
    await appendFile(current, line, { mode: 0o600 });
    // A umask can only take rights away, but a file copied here may have more.
    if (isNew) await chmod(current, 0o600);
  }

  async function linesOf(path: string): Promise<string[]> {
    if (!existsSync(path)) return [];
    return (await readFile(path, 'utf8')).split('\n').filter((line) => line !== '');
  }
  const lines = async (): Promise<string[]> => [...(await linesOf(before)), ...(await linesOf(current))];

  async function forget(path: string, athleteId: string): Promise<void> {
    const kept = await linesOf(path);
    if (kept.length === 0) return;
    const without = kept.flatMap((line) => {
      const entry = entryOf(line);
      // What cannot be read might name them.
      return entry === undefined ? [] : JSON.stringify(withoutAthlete(entry, athleteId));
    });
    replaceFile(path, `${without.join('\n')}\n`);
  }

  return {
    append: (entry) => void inTurn(() => write(entry)).catch(() => undefined),
    newest: (most) =>
      inTurn(async () =>
        (await lines())
          .slice(-most)
          .flatMap((line) => entryOf(line) ?? [])
          .reverse(),
      ),
    wholeText: () => inTurn(async () => (await lines()).map((line) => `${line}\n`).join('')),
    forgetAthlete: (athleteId) =>
      inTurn(async () => {
        for (const path of [before, current]) await forget(path, athleteId);
      }),
    close: () => inTurn(async () => undefined),
  };
}

/** For a hub that leaves no trace, and tests: kept until it ends. */
export function auditLogInMemory(): AuditLog {
  let entries: AuditEntry[] = [];
  return {
    append: (entry) => void entries.push(entry),
    newest: async (most) => entries.slice(-most).reverse(),
    wholeText: async () => entries.map((entry) => `${JSON.stringify(entry)}\n`).join(''),
    async forgetAthlete(athleteId) {
      entries = entries.map((entry) => withoutAthlete(entry, athleteId));
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

function withoutAthlete(entry: AuditEntry, athleteId: string): AuditEntry {
  const isTheirs = entry.deviceAthleteId === athleteId;
  return {
    ...entry,
    athleteId: entry.athleteId === athleteId ? erased : entry.athleteId,
    deviceAthleteId: isTheirs ? erased : entry.deviceAthleteId,
    device: isTheirs && entry.device !== null ? { ...entry.device, name: '' } : entry.device,
  };
}
