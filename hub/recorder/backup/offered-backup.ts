// A backup file that is offered to be restored: unlocked where it is locked, taken apart, opened in a thread of its own so that
// nothing waits for it, and counted. Nothing of the present recordings is touched.

import { mkdir, mkdtemp, rename, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { databaseFileName } from '../data-directory.ts';
import { openThreadedStore } from '../thread/threaded-store.ts';
import { extractBackup } from './backup-file.ts';
import { isLockedFile, unlockFile } from './locked-file.ts';

export interface OfferedBackup {
  readonly sessionCount: number;
  readonly athleteCount: number;
  /** When the newest session in it began, Unix ms; null without any. */
  readonly newestWallAtMs: number | null;
}

/**
 * Throws `input.malformed` for what is no whole backup, and for a locked one without its passphrase. A locked one is unlocked
 * in its place: afterwards `path` is the plain backup.
 */
export async function lookAtBackup(
  path: string,
  passphrase: string | null,
  { clock, warn }: { readonly clock: Clock; readonly warn: (message: string, error?: unknown) => void },
): Promise<OfferedBackup> {
  const scratch = await mkdtemp(join(dirname(path), 'looking-'));
  try {
    if (await isLockedFile(path)) {
      if (passphrase === null) throw new HubError('input.malformed', said('backup.notUnlocked'));
      const plain = join(scratch, 'plain');
      await unlockFile(path, plain, passphrase);
      await rename(plain, path);
    }
    const directory = join(scratch, 'data');
    await mkdir(directory, { mode: 0o700 });
    await extractBackup(path, join(directory, databaseFileName));
    const store = await openThreadedStore({ directory, clock, warn }).catch((cause: unknown) => {
      const isNewer = cause instanceof HubError && cause.code === 'data.newerVersion';
      throw new HubError(
        'input.malformed',
        said(isNewer ? 'backup.newerVersion' : 'backup.cannotOpen', { path: 'backup' }),
        cause,
      );
    });
    try {
      // A damaged one is put aside and a fresh one begun: that is no backup to go back to.
      if (store.notices.some(({ code }) => code === 'recorder.putAside'))
        throw new HubError('input.malformed', said('backup.cannotOpen', { path: 'backup' }));
      const sessions = await store.listSessions();
      return {
        sessionCount: sessions.length,
        athleteCount: store.listAthletes().length,
        newestWallAtMs: sessions[0]?.session.startedWallAtMs ?? null,
      };
    } finally {
      await store.close();
    }
  } finally {
    await rm(scratch, { recursive: true, force: true });
  }
}
