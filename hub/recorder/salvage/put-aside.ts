// A damaged archive makes room for a fresh one, so that a course can go on: put aside under another name, never deleted. The
// fresh one begins with the athletes, sensors and plans that can still be read.

import { existsSync, readdirSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import { type Said, said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import { databaseFileName } from '../data-directory.ts';
import { databaseFault } from '../database-fault.ts';
import { openSqliteStore, type SqliteStore, type SqliteStoreOptions } from '../sqlite-store.ts';
import { provenRowsOf, salvage } from './salvage.ts';

/** Then come the files of its log, if it had any. */
const asidePattern = /^recordings\.sqlite\.damaged-[0-9-]+$/;

/** Archives of this folder that were put aside, the newest last. */
export function archivesPutAside(directory: string): string[] {
  return readdirSync(directory)
    .filter((name) => asidePattern.test(name))
    .sort()
    .map((name) => join(directory, name));
}

/**
 * As `openSqliteStore`, but a damaged archive is put aside and a fresh one begun; its notices say so first. Everything else
 * that keeps it from opening is thrown.
 */
export function openOrPutAside(options: SqliteStoreOptions, wallNowMs: number): SqliteStore {
  try {
    return openSqliteStore(options);
  } catch (error) {
    const path = join(options.directory, databaseFileName);
    if (!isDamage(error, path)) throw error;
    const aside = moveAside(path, wallNowMs);
    const notice = beginFresh(aside, options.directory);
    const store = openSqliteStore(options);
    return Object.assign(store, { notices: [notice, ...store.notices] });
  }
}

/** A file whose first page is gone is no longer known as ours by its header, but still by what it holds. */
function isDamage(error: unknown, path: string): boolean {
  if (!(error instanceof HubError) || !existsSync(path)) return false;
  if (error.code === 'data.corrupt') return true;
  if (error.code !== 'data.notOurs') return false;
  try {
    const { rows } = provenRowsOf(path);
    return rows.sessions.size + rows.chunks.size + rows.entries.size + rows.athletes.size > 0;
  } catch {
    // What cannot even be read is left as it is.
    return false;
  }
}

function moveAside(path: string, wallNowMs: number): string {
  const at = new Date(wallNowMs).toISOString().slice(0, 19).replaceAll(/[-:]/g, '').replace('T', '-');
  const aside = `${path}.damaged-${at}`;
  try {
    // The log first: a database without its log could be taken for whole.
    for (const ending of ['-wal', '-shm', ''])
      if (existsSync(`${path}${ending}`)) renameSync(`${path}${ending}`, `${aside}${ending}`);
  } catch (cause) {
    throw databaseFault(cause, path);
  }
  return aside;
}

function beginFresh(aside: string, directory: string): Said {
  try {
    const { athleteCount, documentCount } = salvage(aside, directory, 'small');
    return said('recorder.putAside', { aside, directory, athletes: athleteCount, documents: documentCount });
  } catch (error) {
    if (error instanceof HubError) throw error;
    return said('recorder.putAside', { aside, directory, athletes: 0, documents: 0 });
  }
}
