// The database's tables, and one function a version that brings an older file up to date.

import type { Database } from 'better-sqlite3';
import { type EntryColumns, entryChecksum } from './row-checksums.ts';

/** 'SLWA': marks a file as ours (https://www.sqlite.org/pragma.html#pragma_application_id). */
export const applicationId = 0x534c5741;

/**
 * `migrations[n]` takes a database of version n to version n + 1, inside a transaction. Never change one that
 * has been released: add the next, and a database of the version before it to fixtures/databases.
 *
 * Every row carries a CRC-32 of its other columns, because SQLite itself checks none of its content.
 * `body` is JSON, except in journal and chunks, where it is packets as encodeBatch and encodeChunk write them.
 */
const migrations: readonly ((database: Database) => void)[] = [
  (database) => {
    database.exec(`
      CREATE TABLE athletes (
        athlete_no INTEGER PRIMARY KEY,
        athlete_id TEXT NOT NULL UNIQUE,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL
      ) STRICT;

      CREATE TABLE assignments (
        assignment_no INTEGER PRIMARY KEY,
        sensor_id TEXT NOT NULL UNIQUE,
        athlete_id TEXT NOT NULL REFERENCES athletes (athlete_id) ON DELETE CASCADE,
        checksum INTEGER NOT NULL
      ) STRICT;
      CREATE INDEX assignments_by_athlete ON assignments (athlete_id);

      CREATE TABLE sessions (
        session_no INTEGER PRIMARY KEY,
        session_id TEXT NOT NULL UNIQUE,
        started_wall_at_ms REAL NOT NULL,
        status TEXT NOT NULL CHECK (status IN ('recording', 'ended', 'interrupted')),
        ended_at_ms REAL,
        packet_count INTEGER,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL
      ) STRICT;

      CREATE TABLE entries (
        entry_no INTEGER PRIMARY KEY,
        session_no INTEGER NOT NULL REFERENCES sessions (session_no) ON DELETE CASCADE,
        kind TEXT NOT NULL CHECK (kind IN ('sensor', 'mark', 'hold', 'alarm', 'settings', 'link')),
        entry_key TEXT,
        athlete_id TEXT,
        at_ms REAL NOT NULL,
        withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (session_no, kind, entry_key)
      ) STRICT;

      CREATE TABLE journal (
        journal_no INTEGER PRIMARY KEY,
        session_no INTEGER NOT NULL REFERENCES sessions (session_no) ON DELETE CASCADE,
        first_packet INTEGER NOT NULL,
        packet_count INTEGER NOT NULL,
        last_at_ms REAL NOT NULL,
        body BLOB NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (session_no, first_packet)
      ) STRICT;

      CREATE TABLE chunks (
        chunk_no INTEGER PRIMARY KEY,
        session_no INTEGER NOT NULL REFERENCES sessions (session_no) ON DELETE CASCADE,
        first_packet INTEGER NOT NULL,
        packet_count INTEGER NOT NULL,
        last_at_ms REAL NOT NULL,
        body BLOB NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (session_no, first_packet)
      ) STRICT;
    `);
  },
  (database) => {
    database.exec(`
      CREATE TABLE documents (
        document_no INTEGER PRIMARY KEY,
        kind TEXT NOT NULL
          CHECK (kind IN ('plan', 'planRun', 'planRunAthlete', 'planRunEvent', 'training')),
        document_id TEXT NOT NULL,
        group_id TEXT,
        athlete_id TEXT,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (kind, document_id)
      ) STRICT;
      CREATE INDEX documents_by_group ON documents (group_id);
      CREATE INDEX documents_by_athlete ON documents (athlete_id);
    `);
  },
  (database) => {
    database.exec(`
      CREATE TABLE corrections (
        correction_no INTEGER PRIMARY KEY,
        session_no INTEGER NOT NULL REFERENCES sessions (session_no) ON DELETE CASCADE,
        correction_id TEXT NOT NULL,
        athlete_id TEXT NOT NULL,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (session_no, correction_id)
      ) STRICT;
    `);
  },
  (database) => {
    database.exec(`
      CREATE TABLE summaries (
        session_no INTEGER NOT NULL REFERENCES sessions (session_no) ON DELETE CASCADE,
        athlete_id TEXT NOT NULL,
        made_by TEXT NOT NULL,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        PRIMARY KEY (athlete_id, session_no)
      ) STRICT;
    `);
  },
  // 'oxygenPrior' joins the kinds. SQLite cannot change a CHECK, so the table is made anew
  // (https://www.sqlite.org/lang_altertable.html#otheralter).
  (database) => {
    const columns = 'document_no, kind, document_id, group_id, athlete_id, body, checksum';
    database.exec(`
      ALTER TABLE documents RENAME TO documents_before;
      DROP INDEX documents_by_group;
      DROP INDEX documents_by_athlete;
      CREATE TABLE documents (
        document_no INTEGER PRIMARY KEY,
        kind TEXT NOT NULL
          CHECK (kind IN ('plan', 'planRun', 'planRunAthlete', 'planRunEvent', 'training', 'oxygenPrior')),
        document_id TEXT NOT NULL,
        group_id TEXT,
        athlete_id TEXT,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (kind, document_id)
      ) STRICT;
      INSERT INTO documents (${columns}) SELECT ${columns} FROM documents_before;
      DROP TABLE documents_before;
      CREATE INDEX documents_by_group ON documents (group_id);
      CREATE INDEX documents_by_athlete ON documents (athlete_id);
    `);
  },
  // Alarms keep more than one value and one time. What was not kept before stays unknown; `value` may be one of later.
  (database) => {
    const rows = database
      .prepare<[], EntryColumns & { readonly entry_no: number; readonly checksum: number }>(
        `SELECT * FROM entries WHERE kind = 'alarm'`,
      )
      .all();
    const update = database.prepare('UPDATE entries SET body = ?, checksum = ? WHERE entry_no = ?');
    for (const row of rows) {
      // A damaged row stays as it is, so that reading still finds it damaged.
      if (row.checksum !== entryChecksum(row)) continue;
      const stored = JSON.parse(row.body);
      const body = JSON.stringify({
        ...stored,
        alarm: {
          highestPriority: stored.alarm.priority,
          timesPresent: 1,
          passedAtMs: null,
          acknowledgedAtMs: null,
          acknowledgedBy: null,
          worstValue: null,
          worstAtMs: null,
          limit: null,
          likely: null,
          subject: null,
          sensorId: null,
          detail: null,
          holdNear: false,
          ...stored.alarm,
        },
      });
      update.run(body, entryChecksum({ ...row, body }), row.entry_no);
    }
  },
  // Entries tell who came and went and which sensor changed hands; documents hold what a course keeps. A CHECK cannot be
  // changed: both tables are made anew.
  (database) => {
    database.exec(`
      ALTER TABLE entries RENAME TO entries_before;
      CREATE TABLE entries (
        entry_no INTEGER PRIMARY KEY,
        session_no INTEGER NOT NULL REFERENCES sessions (session_no) ON DELETE CASCADE,
        kind TEXT NOT NULL
          CHECK (kind IN ('sensor', 'mark', 'hold', 'alarm', 'settings', 'link', 'change')),
        entry_key TEXT,
        athlete_id TEXT,
        at_ms REAL NOT NULL,
        withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (session_no, kind, entry_key)
      ) STRICT;
      INSERT INTO entries SELECT * FROM entries_before;
      DROP TABLE entries_before;
      ALTER TABLE documents RENAME TO documents_before;
      DROP INDEX documents_by_group;
      DROP INDEX documents_by_athlete;
      CREATE TABLE documents (
        document_no INTEGER PRIMARY KEY,
        kind TEXT NOT NULL
          CHECK (kind IN ('plan', 'planRun', 'planRunAthlete', 'planRunEvent', 'training', 'oxygenPrior',
            'participant', 'emergencyCard', 'drill', 'incident')),
        document_id TEXT NOT NULL,
        group_id TEXT,
        athlete_id TEXT,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (kind, document_id)
      ) STRICT;
      INSERT INTO documents SELECT * FROM documents_before;
      DROP TABLE documents_before;
      CREATE INDEX documents_by_group ON documents (group_id);
      CREATE INDEX documents_by_athlete ON documents (athlete_id);
    `);
  },
  // 'schedule', 'unwatched' and 'alive' join the kinds, by which a session can be taken up again.
  (database) => {
    database.exec(`
      ALTER TABLE entries RENAME TO entries_before;
      CREATE TABLE entries (
        entry_no INTEGER PRIMARY KEY,
        session_no INTEGER NOT NULL REFERENCES sessions (session_no) ON DELETE CASCADE,
        kind TEXT NOT NULL
          CHECK (kind IN ('sensor', 'mark', 'hold', 'alarm', 'settings', 'link', 'change', 'schedule',
            'unwatched', 'alive')),
        entry_key TEXT,
        athlete_id TEXT,
        at_ms REAL NOT NULL,
        withdrawn INTEGER NOT NULL CHECK (withdrawn IN (0, 1)),
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (session_no, kind, entry_key)
      ) STRICT;
      INSERT INTO entries SELECT * FROM entries_before;
      DROP TABLE entries_before;
    `);
  },
  // 'binned' joins the kinds of documents.
  (database) => {
    database.exec(`
      ALTER TABLE documents RENAME TO documents_before;
      DROP INDEX documents_by_group;
      DROP INDEX documents_by_athlete;
      CREATE TABLE documents (
        document_no INTEGER PRIMARY KEY,
        kind TEXT NOT NULL
          CHECK (kind IN ('plan', 'planRun', 'planRunAthlete', 'planRunEvent', 'training', 'oxygenPrior',
            'participant', 'emergencyCard', 'drill', 'incident', 'binned')),
        document_id TEXT NOT NULL,
        group_id TEXT,
        athlete_id TEXT,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (kind, document_id)
      ) STRICT;
      INSERT INTO documents SELECT * FROM documents_before;
      DROP TABLE documents_before;
      CREATE INDEX documents_by_group ON documents (group_id);
      CREATE INDEX documents_by_athlete ON documents (athlete_id);
    `);
  },
  // 'sessionDetails' and 'sharing' join the kinds of documents.
  (database) => {
    database.exec(`
      ALTER TABLE documents RENAME TO documents_before;
      DROP INDEX documents_by_group;
      DROP INDEX documents_by_athlete;
      CREATE TABLE documents (
        document_no INTEGER PRIMARY KEY,
        kind TEXT NOT NULL
          CHECK (kind IN ('plan', 'planRun', 'planRunAthlete', 'planRunEvent', 'training', 'oxygenPrior',
            'participant', 'emergencyCard', 'drill', 'incident', 'binned', 'sessionDetails', 'sharing')),
        document_id TEXT NOT NULL,
        group_id TEXT,
        athlete_id TEXT,
        body TEXT NOT NULL,
        checksum INTEGER NOT NULL,
        UNIQUE (kind, document_id)
      ) STRICT;
      INSERT INTO documents SELECT * FROM documents_before;
      DROP TABLE documents_before;
      CREATE INDEX documents_by_group ON documents (group_id);
      CREATE INDEX documents_by_athlete ON documents (athlete_id);
    `);
  },
];

export const schemaVersion = migrations.length;

/** Brings the database from its version to `version` in one transaction. Safe to run on a current one. */
export function migrate(database: Database, version = schemaVersion): void {
  const from = database.pragma('user_version', { simple: true }) as number;
  if (from >= version) return;
  database.transaction(() => {
    for (const step of migrations.slice(from, version)) step(database);
    database.pragma(`user_version = ${version}`);
  })();
}
