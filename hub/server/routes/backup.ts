// /api/backup: all recordings of this hub as one file, for `slackwater restore`. A session being recorded goes on.
// POST makes it, which no other site can; GET fetches what was made, once.

import { createReadStream, mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { NewBackupBody } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import { isRunning } from '../../base/is-running.ts';
import { backupFileName, writeBackupFile } from '../../recorder/backup/backup-file.ts';
import type { RouteModule } from '../route.ts';
import { sendRefusal } from '../route.ts';

const prefix = 'slackwater-backup-';
/** A page fetches it at once; of one that has gone nothing is left lying about. */
const keptForMs = 60_000;

interface Made {
  readonly backupId: string;
  readonly folder: string;
  readonly path: string;
  readonly stopWaiting: () => void;
}

export const backupRoutes: RouteModule = (app, { store, clock, makeId, log }) => {
  let underWay = false;
  let made: Made | undefined;
  const folders = new Set<string>();
  const remove = (folder: string): void => {
    folders.delete(folder);
    rmSync(folder, { recursive: true, force: true });
  };
  const forget = (): void => {
    made?.stopWaiting();
    if (made !== undefined) remove(made.folder);
    made = undefined;
  };
  app.addHook('onClose', async () => {
    forget();
    for (const folder of folders) remove(folder);
  });
  try {
    removeLeftovers();
  } catch (error) {
    log.warn(`old backups could not be removed: ${String(error)}`);
  }

  app.post('/api/backup', { config: { access: 'coach', saves: false } }, async (_request, reply) => {
    // Each takes as much disk as the recordings themselves.
    if (underWay) return sendRefusal(reply, { code: 'tooManyRequests', said: said('refusal.backupGoesOn') });
    underWay = true;
    forget();
    const folder = mkdtempSync(join(tmpdir(), `${prefix}${process.pid}-`));
    folders.add(folder);
    try {
      const path = join(folder, 'backup');
      await writeBackupFile(store, path);
      made = { backupId: makeId(), folder, path, stopWaiting: clock.after(keptForMs, forget) };
      const body: NewBackupBody = { backupId: made.backupId };
      return reply.code(201).send(body);
    } catch (error) {
      remove(folder);
      throw error;
    } finally {
      underWay = false;
    }
  });

  app.get<{ Params: { backupId: string } }>(
    '/api/backup/:backupId',
    { config: { access: 'coach', audit: 'backedUp' } },
    async (request, reply) => {
      if (made === undefined || made.backupId !== request.params.backupId)
        return sendRefusal(reply, { code: 'notFound', said: said('refusal.backupGone') });
      const { path, folder, stopWaiting } = made;
      made = undefined;
      stopWaiting();
      const stream = createReadStream(path);
      stream.once('close', () => remove(folder));
      return reply
        .header('content-type', 'application/octet-stream')
        .header('content-length', statSync(path).size)
        .header('content-disposition', `attachment; filename="${backupFileName(clock.wallNowMs())}"`)
        .send(stream);
    },
  );
};

/** Takes away what a hub left behind that was stopped meanwhile. */
function removeLeftovers(): void {
  for (const name of readdirSync(tmpdir())) {
    const pid = new RegExp(`^${prefix}(\\d+)-`).exec(name)?.[1];
    if (pid !== undefined && Number(pid) !== process.pid && !isRunning(Number(pid)))
      rmSync(join(tmpdir(), name), { recursive: true, force: true });
  }
}
