// What a hub has sent to its school and had acknowledged, on the hub's own disk. Losing it loses nothing: what is sent
// twice is kept once.

import SqliteDatabase, { type Database } from 'better-sqlite3';

export interface SentSession {
  readonly sessionId: string;
  readonly generation: number;
  /** Packets before this number are acknowledged. */
  readonly sent: number;
  /** Of what was told beside them, as last acknowledged; empty for nothing. */
  readonly toldSha: string;
  readonly revision: number;
  /** Who was in it then. */
  readonly athleteIds: readonly string[];
}

interface Row {
  readonly session_id: string;
  readonly generation: number;
  readonly sent: number;
  readonly told_sha: string;
  readonly revision: number;
  readonly athlete_ids: string;
}

export class SendingCursor {
  readonly #database: Database;

  /** `path`: made when it is missing, and begun anew when it cannot be read. */
  constructor(path: string) {
    this.#database = new SqliteDatabase(path);
    // The last moments before a power cut may be sent again.
    this.#database.pragma('journal_mode = WAL');
    this.#database.pragma('synchronous = NORMAL');
    this.#database.exec(`
      CREATE TABLE IF NOT EXISTS sent (
        session_id TEXT PRIMARY KEY,
        generation INTEGER NOT NULL,
        sent INTEGER NOT NULL,
        told_sha TEXT NOT NULL,
        revision INTEGER NOT NULL,
        athlete_ids TEXT NOT NULL
      ) STRICT;
      CREATE TABLE IF NOT EXISTS list (only INTEGER PRIMARY KEY CHECK (only = 1), sha TEXT NOT NULL, revision INTEGER NOT NULL) STRICT;
    `);
  }

  get(sessionId: string): SentSession | undefined {
    const row = this.#database
      .prepare<[string], Row>('SELECT * FROM sent WHERE session_id = ?')
      .get(sessionId);
    return row && sentOf(row);
  }

  save({ sessionId, generation, sent, toldSha, revision, athleteIds }: SentSession): void {
    this.#database
      .prepare('INSERT OR REPLACE INTO sent VALUES (?, ?, ?, ?, ?, ?)')
      .run(sessionId, generation, sent, toldSha, revision, JSON.stringify(athleteIds));
  }

  all(): readonly SentSession[] {
    return this.#database.prepare<[], Row>('SELECT * FROM sent').all().map(sentOf);
  }

  get list(): { readonly sha: string; readonly revision: number } {
    return (
      this.#database
        .prepare<[], { sha: string; revision: number }>('SELECT sha, revision FROM list')
        .get() ?? {
        sha: '',
        revision: 0,
      }
    );
  }

  saveList(sha: string, revision: number): void {
    this.#database.prepare('INSERT OR REPLACE INTO list VALUES (1, ?, ?)').run(sha, revision);
  }

  close(): void {
    this.#database.close();
  }
}

const sentOf = (row: Row): SentSession => ({
  sessionId: row.session_id,
  generation: row.generation,
  sent: row.sent,
  toldSha: row.told_sha,
  revision: row.revision,
  athleteIds: JSON.parse(row.athlete_ids) as string[],
});
