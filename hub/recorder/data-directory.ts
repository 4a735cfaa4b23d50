// The folder the recordings live in: made if missing, kept private to its user, refused where it cannot be.

import { chmodSync, mkdirSync, readdirSync, type Stats, statfsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { type Said, said } from '../../shared/said.ts';
import { HubError } from '../base/hub-error.ts';
import { databaseFault } from './database-fault.ts';

export const databaseFileName = 'recordings.sqlite';

/** Files that are ours: a folder with nothing else in it may be made private without asking. */
const ourFiles =
  /^(recordings\.sqlite|own-person\.key$|devices\.json$|lan-certificate\.pem$|audit(\.1)?\.jsonl$)/;
const privateDirectory = 0o700;
const privateFile = 0o600;
/** About 100 hours of 20 athletes with waves; less is worth a word before a session, not a refusal. */
const comfortableFreeBytes = 200 * 2 ** 20;

/**
 * Makes or checks the folder and answers with what a person should know.
 * Throws `data.unwritable` for a file in its place, a folder that others can read and that also holds other
 * things, or one that cannot be made.
 */
export function prepareDataDirectory(directory: string): Said[] {
  const notices: Said[] = [];
  try {
    mkdirSync(directory, { recursive: true, mode: privateDirectory });
  } catch (cause) {
    const code = (cause as NodeJS.ErrnoException).code;
    if (code === 'EEXIST' || code === 'ENOTDIR')
      throw new HubError('data.unwritable', said('data.notAFolder', { directory }), cause);
    if (code === 'ENOENT' || code === 'ENAMETOOLONG')
      throw new HubError('data.unwritable', said('data.cannotMake', { directory }), cause);
    throw databaseFault(cause, directory);
  }
  try {
    if (isOpenToOthers(statSync(directory))) {
      const others = readdirSync(directory).filter((name) => !ourFiles.test(name));
      if (others.length > 0) throw new HubError('data.unwritable', said('data.notPrivate', { directory }));
      chmodSync(directory, privateDirectory);
      notices.push(said('data.madePrivate', { path: directory }));
    }
    for (const name of readdirSync(directory)) {
      const path = join(directory, name);
      if (!ourFiles.test(name) || !isOpenToOthers(statSync(path))) continue;
      chmodSync(path, privateFile);
      notices.push(said('data.madePrivate', { path }));
    }
  } catch (cause) {
    throw databaseFault(cause, directory);
  }
  const freeBytes = freeBytesOf(directory);
  if (freeBytes !== undefined && freeBytes < comfortableFreeBytes)
    notices.push(said('data.littleRoom', { megabytes: Math.floor(freeBytes / 2 ** 20), directory }));
  return notices;
}

function isOpenToOthers(stats: Stats): boolean {
  // Windows has no such bits; its user folders are private by inheritance.
  return process.platform !== 'win32' && (stats.mode & 0o077) !== 0;
}

function freeBytesOf(directory: string): number | undefined {
  try {
    const disk = statfsSync(directory);
    return disk.bavail * disk.bsize;
  } catch {
    return undefined;
  }
}
