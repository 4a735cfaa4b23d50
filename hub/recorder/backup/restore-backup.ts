// Puts a backup in the place of a hub's recordings. The backup is opened and checked before anything is moved, and what
// was there before is moved aside, never deleted.

import { existsSync, mkdtempSync, renameSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import { databaseFileName, prepareDataDirectory } from '../data-directory.ts';
import { databaseFault } from '../database-fault.ts';
import { openSqliteStore } from '../sqlite-store.ts';
import { extractBackup } from './backup-file.ts';

export interface RestoreOptions {
  readonly backupPath: string;
  readonly directory: string;
  /** Without it, a folder that holds recordings already is refused. */
  readonly replace: boolean;
  readonly wallNowMs: number;
}

export interface Restored {
  readonly sessionCount: number;
  readonly athleteCount: number;
  /** Where the recordings that were there before are now, or null. */
  readonly movedAsideTo: string | null;
}

/** Throws HubError with one sentence; then the recordings that were there are as they were. */
export async function restoreBackup(options: RestoreOptions): Promise<Restored> {
  const { backupPath, directory, replace, wallNowMs } = options;
  prepareDataDirectory(directory);
  const place = join(directory, databaseFileName);
  const isTaken = existsSync(place) || existsSync(`${place}-wal`);
  if (isTaken && !replace)
    throw new HubError('config.badValue', said('backup.recordingsThere', { directory }));
  const scratch = mkdtempSync(join(directory, `${databaseFileName}.restoring-`));
  try {
    await extractBackup(backupPath, join(scratch, databaseFileName));
    const counts = openedCounts(scratch, backupPath);
    if (isTaken) refuseWhileInUse(directory);
    try {
      const aside = isTaken ? moveAside(place, wallNowMs) : null;
      renameSync(join(scratch, databaseFileName), place);
      return { ...counts, movedAsideTo: aside };
    } catch (cause) {
      throw databaseFault(cause, place);
    }
  } finally {
    rmSync(scratch, { recursive: true, force: true });
  }
}

/** Opening checks everything, brings an older version up to date, and leaves one file when it is closed again. */
function openedCounts(scratch: string, backupPath: string): { sessionCount: number; athleteCount: number } {
  try {
    const store = openSqliteStore({ directory: scratch });
    const counts = { sessionCount: store.listSessions().length, athleteCount: store.listAthletes().length };
    store.close();
    return counts;
  } catch (cause) {
    if (cause instanceof HubError && cause.code === 'data.newerVersion')
      throw new HubError('input.malformed', said('backup.newerVersion', { path: backupPath }), cause);
    throw new HubError('input.malformed', said('backup.cannotOpen', { path: backupPath }), cause);
  }
}

/** Damaged recordings may be replaced, that is what a backup is for; those of a running hub may not. */
function refuseWhileInUse(directory: string): void {
  try {
    openSqliteStore({ directory, lockWaitMs: 0 }).close();
  } catch (cause) {
    if (cause instanceof HubError && cause.code === 'data.locked')
      throw new HubError('data.locked', said('backup.hubRunning', { directory }), cause);
  }
}

function moveAside(place: string, wallNowMs: number): string {
  const stamp = new Date(wallNowMs).toISOString().slice(0, 19).replaceAll(/[-:]/g, '').replace('T', '-');
  let aside = `${place}.before-${stamp}`;
  for (let n = 2; existsSync(aside); n += 1) aside = `${place}.before-${stamp}-${n}`;
  for (const ending of ['', '-wal', '-shm'])
    if (existsSync(`${place}${ending}`)) renameSync(`${place}${ending}`, `${aside}${ending}`);
  return aside;
}
