// Opens the database file: makes it if missing, looks before touching it, locks it, brings it up to date.

import {
  chmodSync,
  closeSync,
  constants,
  copyFileSync,
  existsSync,
  linkSync,
  openSync,
  readSync,
  renameSync,
  rmSync,
  statfsSync,
  statSync,
} from 'node:fs';
import { dirname } from 'node:path';
import SqliteDatabase, { type Database } from 'better-sqlite3';
import { type Said, said } from '../../shared/said.ts';
import { HubError } from '../base/hub-error.ts';
import { damaged, databaseFault, unwritable } from './database-fault.ts';
import { applicationId, migrate, schemaVersion } from './schema.ts';
import { losesCommits } from './write-ahead-log.ts';

export interface DatabaseOptions {
  /** How long to wait for another hub that is just closing. */
  readonly lockWaitMs: number;
  /** A larger file is checked without its chunks, which could take seconds to read; they are when they are read. */
  readonly wholeCheckBytes: number;
  /** The file may not grow beyond this; for a disk shared with others. */
  readonly sizeLimitBytes?: number;
}

export interface OpenedDatabase {
  readonly database: Database;
  readonly notices: readonly Said[];
}

/**
 * The database at `path`, for this process alone until it is closed (or the process dies: the lock is the
 * kernel's). Throws a HubError, before a byte is changed, for a file that is damaged, foreign or of a newer
 * version. `verifyRows` reads through the still untouched file and throws for what it does not like.
 */
export function openDatabase(
  path: string,
  options: DatabaseOptions,
  verifyRows: (database: Database) => void,
): OpenedDatabase {
  const notices: Said[] = [];
  try {
    if (!existsSync(path)) createDatabase(path);
    inspect(path, options, verifyRows);
    if (losesCommits(`${path}-wal`)) notices.push(keepCopyOfLog(path));
  } catch (cause) {
    throw databaseFault(cause, path);
  }
  let database: Database | undefined;
  try {
    database = new SqliteDatabase(path, { fileMustExist: true, timeout: options.lockWaitMs });
    database.pragma('locking_mode = EXCLUSIVE');
    database.pragma('journal_mode = WAL');
    database.pragma('synchronous = FULL');
    database.pragma('foreign_keys = ON');
    database.pragma('secure_delete = ON');
    database.pragma('trusted_schema = OFF');
    database.pragma('cell_size_check = ON');
    database.pragma(`journal_size_limit = ${4 * 2 ** 20}`);
    if (options.sizeLimitBytes !== undefined) {
      const pageBytes = database.pragma('page_size', { simple: true }) as number;
      database.pragma(`max_page_count = ${Math.ceil(options.sizeLimitBytes / pageBytes)}`);
    }
    // Takes the lock now, and finds out now whether the file can be written.
    database.exec('BEGIN IMMEDIATE; COMMIT');
    notices.push(...keepBefore(database, path));
    migrate(database);
    return { database, notices };
  } catch (cause) {
    database?.close();
    throw databaseFault(cause, path);
  }
}

/** What the copies of a database from before it was brought up to date are called; with the version at their end. */
export const beforeMark = '.version-';

/** A program of the version before can still read this copy, and no program reads the file itself after. */
function keepBefore(database: Database, path: string): Said[] {
  const version = database.pragma('user_version', { simple: true }) as number;
  if (version >= schemaVersion) return [];
  const copy = `${path}${beforeMark}${version}`;
  try {
    rmSync(copy, { force: true });
    const { bavail, bsize } = statfsSync(dirname(path));
    // What is recorded next needs the room more.
    if (bavail * bsize < 3 * statSync(path).size)
      throw new HubError('data.full', said('data.full', { path }));
    database.prepare('VACUUM INTO ?').run(copy);
    chmodSync(copy, 0o600);
    return [said('data.broughtUpToDate', { from: version, to: schemaVersion, copy })];
  } catch (cause) {
    rmSync(copy, { force: true });
    // Bringing it up to date happens whole or not at all: a full disk must keep nobody from recording.
    return [said('data.noCopyBefore', { reason: databaseFault(cause, copy).said })];
  }
}

/** Built beside its place and put there whole, so that an empty file in its place is always damage. */
function createDatabase(path: string): void {
  const log = `${path}-wal`;
  if (existsSync(log) && statSync(log).size > 0) throw damaged(log);
  const building = `${path}.new-${process.pid}`;
  rmSync(building, { force: true });
  closeSync(openSync(building, constants.O_CREAT | constants.O_EXCL | constants.O_RDWR, 0o600));
  try {
    const database = new SqliteDatabase(building);
    try {
      database.pragma('auto_vacuum = INCREMENTAL');
      database.pragma(`application_id = ${applicationId}`);
      // The log comes last: closing moves what is in it into the file, and says nothing when that fails.
      migrate(database);
      database.pragma('journal_mode = WAL');
    } finally {
      database.close();
    }
    try {
      linkSync(building, path);
    } catch (cause) {
      // Another hub was quicker: its file it is. Some file systems know no links: then a plain move.
      if (!existsSync(path)) renameSync(building, path);
      else if ((cause as NodeJS.ErrnoException).code !== 'EEXIST') throw cause;
    }
  } finally {
    for (const ending of ['', '-journal']) rmSync(`${building}${ending}`, { force: true });
  }
}

/**
 * Looks through a connection that cannot write: closing it leaves the file and its log as they are. It may leave
 * an empty log and an index of it behind, which are not removed, since another hub may just have begun with them.
 */
function inspect(path: string, options: DatabaseOptions, verifyRows: (database: Database) => void): void {
  rollBack(path, options);
  inspectHeader(path);
  const database = new SqliteDatabase(path, {
    readonly: true,
    fileMustExist: true,
    timeout: options.lockWaitMs,
  });
  try {
    const version = database.pragma('user_version', { simple: true }) as number;
    if (version > schemaVersion)
      throw new HubError(
        'data.newerVersion',
        said('data.newerVersion', { path, version, known: schemaVersion }),
      );
    if (version < 1) throw damaged(path);
    if (schemaOf(database) !== expectedSchema(version)) throw damaged(path, new Error('otherTables'));
    const checks =
      statSync(path).size <= options.wholeCheckBytes
        ? ['integrity_check(1)']
        : tablesOf(database).flatMap((table) => (table === 'chunks' ? [] : [`integrity_check(${table})`]));
    for (const check of checks) {
      const problem = database.pragma(check, { simple: true });
      if (problem !== 'ok') throw damaged(path, new Error(String(problem)));
    }
    const orphans = database.pragma('foreign_key_check') as unknown[];
    if (orphans.length > 0) throw damaged(path, new Error('orphanedRows'));
    verifyRows(database);
  } finally {
    database.close();
  }
}

/**
 * A journal beside the file holds pages of before a change that never was completed, such as a restored backup being given
 * its log: they are put back, which a connection that cannot write could not do.
 */
function rollBack(path: string, { lockWaitMs }: DatabaseOptions): void {
  const journal = `${path}-journal`;
  if (!existsSync(journal) || statSync(journal).size === 0) return;
  const database = new SqliteDatabase(path, { fileMustExist: true, timeout: lockWaitMs });
  try {
    database.prepare('SELECT count(*) FROM sqlite_schema').get();
  } finally {
    database.close();
  }
}

function inspectHeader(path: string): void {
  if (!statSync(path).isFile()) throw unwritable(path, new Error('notAFile'));
  // https://www.sqlite.org/fileformat2.html#the_database_header
  const header = Buffer.alloc(100);
  const file = openSync(path, 'r');
  let read: number;
  try {
    read = readSync(file, header);
  } finally {
    closeSync(file);
  }
  if (read === 0) throw damaged(path, new Error('emptyFile'));
  if (header.toString('latin1', 0, 16) !== 'SQLite format 3\0' || header.readUInt32BE(68) !== applicationId)
    throw new HubError('data.notOurs', said('data.notOurs', { path }));
}

function schemaOf(database: Database): string {
  const rows = database.prepare('SELECT type, name, sql FROM sqlite_schema ORDER BY type, name').all();
  return JSON.stringify(
    rows.filter((row) => !String((row as { name: string }).name).startsWith('sqlite_stat')),
  );
}

function tablesOf(database: Database): string[] {
  const tables = database.prepare(
    `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'`,
  );
  return tables.pluck().all() as string[];
}

function expectedSchema(version: number): string {
  const database = new SqliteDatabase(':memory:');
  try {
    migrate(database, version);
    return schemaOf(database);
  } finally {
    database.close();
  }
}

/** Opening will use and then discard the log, so what it passes over is kept for someone who can read it. */
function keepCopyOfLog(path: string): Said {
  let copy = `${path}-wal.damaged`;
  for (let n = 2; existsSync(copy); n++) copy = `${path}-wal.damaged-${n}`;
  copyFileSync(`${path}-wal`, copy, constants.COPYFILE_EXCL);
  return said('data.logDamaged', { copy });
}
