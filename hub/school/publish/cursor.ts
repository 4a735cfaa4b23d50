// What a hub has sent to its school and had acknowledged, on the hub's own disk. Losing it loses nothing: what the archive has
// is asked for, and what is sent twice is kept once. A damaged one is put aside and begun anew.

import { existsSync, renameSync, rmSync } from 'node:fs';
import SqliteDatabase, { type Database } from 'better-sqlite3';
import * as z from 'zod/mini';
import { generationSchema } from '../../../shared/school/kept-messages.ts';

export interface SentSession {
  readonly sessionId: string;
  readonly generation: string;
  /** Packets before this number are acknowledged. */
  readonly sent: number;
  /** Of those (`packet-fingerprint.ts`). */
  readonly fingerprint: string;
  /** Of what was told beside them, as last acknowledged; empty for nothing. */
  readonly toldSha: string;
  readonly revision: number;
  /** Who was in it then. */
  readonly athleteIds: readonly string[];
}

export interface CursorOf {
  readonly school: string;
  readonly hub: string;
}

/** Of the file; another one is of an older program, and begun anew. */
const cursorVersion = 2;
/** What SQLite says of a file that it cannot read (https://www.sqlite.org/rescode.html). */
const damageCodes = /^SQLITE_(CORRUPT|NOTADB|IOERR_SHORT_READ|FORMAT)/;

export class SendingCursor {
  readonly #path: string;
  readonly #of: CursorOf;
  readonly #setAside: (path: string) => void;
  #database: Database;

  /**
   * `path`: made when it is missing. `of`: one that was of another school, or under another name, is begun anew. `setAside` is
   * told where a damaged one lies.
   */
  constructor(path: string, of: CursorOf, setAside: (path: string) => void) {
    this.#path = path;
    this.#of = of;
    this.#setAside = setAside;
    this.#database = this.#openWhole();
  }

  get(sessionId: string): SentSession | undefined {
    return this.#whole(() => {
      const row = this.#database
        .prepare<[string], unknown>('SELECT * FROM sent WHERE session_id = ?')
        .get(sessionId);
      return row === undefined ? undefined : sentOf(row);
    });
  }

  save(sent: SentSession): void {
    const { sessionId, generation, fingerprint, toldSha, revision, athleteIds } = sent;
    this.#whole(() =>
      this.#database
        .prepare('INSERT OR REPLACE INTO sent VALUES (?, ?, ?, ?, ?, ?, ?)')
        .run(sessionId, generation, sent.sent, fingerprint, toldSha, revision, JSON.stringify(athleteIds)),
    );
  }

  all(): readonly SentSession[] {
    return this.#whole(() => this.#database.prepare<[], unknown>('SELECT * FROM sent').all().map(sentOf));
  }

  get list(): { readonly sha: string; readonly revision: number } {
    const none = { sha: '', revision: 0 };
    return this.#whole(
      () =>
        this.#database
          .prepare<[], { sha: string; revision: number }>('SELECT sha, revision FROM list')
          .get() ?? none,
    );
  }

  saveList(sha: string, revision: number): void {
    this.#whole(() =>
      this.#database.prepare('INSERT OR REPLACE INTO list VALUES (1, ?, ?)').run(sha, revision),
    );
  }

  close(): void {
    this.#database.close();
  }

  /** Tried once more with a new file, where the one there cannot be read. */
  #whole<Value>(work: () => Value): Value {
    try {
      return work();
    } catch (error) {
      if (!isDamage(error)) throw error;
      this.#database.close();
      this.#putAside();
      this.#database = this.#open();
      return work();
    }
  }

  #openWhole(): Database {
    try {
      return this.#open();
    } catch (error) {
      if (!isDamage(error)) throw error;
      this.#putAside();
      return this.#open();
    }
  }

  #open(): Database {
    const database = new SqliteDatabase(this.#path);
    try {
      database.pragma('journal_mode = WAL');
      // A power cut takes nothing back: a hub that knew less than it has sent would have to send it all anew.
      database.pragma('synchronous = FULL');
      if (database.pragma('quick_check', { simple: true }) !== 'ok') throw damage();
      this.#prepare(database);
      return database;
    } catch (error) {
      database.close();
      throw error;
    }
  }

  #prepare(database: Database): void {
    const of = `${this.#of.school} ${this.#of.hub}`;
    const isOurs =
      database.pragma('user_version', { simple: true }) === cursorVersion &&
      database.prepare('SELECT whose FROM cursor_of').pluck().get() === of;
    if (isOurs) return;
    database.exec(`
      BEGIN;
      DROP TABLE IF EXISTS sent;
      DROP TABLE IF EXISTS list;
      DROP TABLE IF EXISTS cursor_of;
      CREATE TABLE cursor_of (whose TEXT NOT NULL) STRICT;
      CREATE TABLE sent (
        session_id TEXT PRIMARY KEY,
        generation TEXT NOT NULL,
        sent INTEGER NOT NULL,
        fingerprint TEXT NOT NULL,
        told_sha TEXT NOT NULL,
        revision INTEGER NOT NULL,
        athlete_ids TEXT NOT NULL
      ) STRICT;
      CREATE TABLE list (only INTEGER PRIMARY KEY CHECK (only = 1), sha TEXT NOT NULL, revision INTEGER NOT NULL) STRICT;
      PRAGMA user_version = ${cursorVersion};
      COMMIT;
    `);
    database.prepare('INSERT INTO cursor_of VALUES (?)').run(of);
  }

  /** The newest that was damaged; what lay there from before goes. */
  #putAside(): void {
    const aside = `${this.#path}.damaged`;
    rmSync(aside, { force: true });
    if (existsSync(this.#path)) renameSync(this.#path, aside);
    for (const ending of ['-wal', '-shm']) rmSync(`${this.#path}${ending}`, { force: true });
    this.#setAside(aside);
  }
}

const damage = (): Error => Object.assign(new Error('damaged'), { code: 'SQLITE_CORRUPT' });

function isDamage(error: unknown): boolean {
  const { code } = error as { readonly code?: unknown };
  return typeof code === 'string' && damageCodes.test(code);
}

/** SQLite checks none of its content: what fits no shape is damage too. */
const rowSchema = z.object({
  session_id: z.string(),
  generation: generationSchema,
  sent: z.int().check(z.gte(0)),
  fingerprint: z.string().check(z.regex(/^[0-9a-f]{64}$/)),
  told_sha: z.string(),
  revision: z.int(),
  athlete_ids: z.string(),
});
const athleteIdsSchema = z.array(z.string());

function sentOf(given: unknown): SentSession {
  const row = z.safeParse(rowSchema, given);
  const athleteIds = row.success
    ? z.safeParse(athleteIdsSchema, parsed(row.data.athlete_ids))
    : { success: false as const };
  if (!row.success || !athleteIds.success) throw damage();
  const { session_id, generation, sent, fingerprint, told_sha, revision } = row.data;
  return {
    sessionId: session_id,
    generation,
    sent,
    fingerprint,
    toldSha: told_sha,
    revision,
    athleteIds: athleteIds.data,
  };
}

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}
