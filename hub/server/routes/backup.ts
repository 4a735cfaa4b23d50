// /api/backup: all recordings of this hub as one file, for `slackwater restore`. A session being recorded goes on.

import { createReadStream, mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { said } from '../../../shared/said.ts';
import { backupFileName, writeBackupFile } from '../../recorder/backup/backup-file.ts';
import type { RouteModule } from '../route.ts';
import { sendRefusal } from '../route.ts';

export const backupRoutes: RouteModule = (app, { store, clock }) => {
  let underWay = false;
  app.get('/api/backup', { config: { access: 'coach' } }, async (_request, reply) => {
    // Each takes as much disk as the recordings themselves.
    if (underWay)
      return sendRefusal(reply, {
        code: 'tooManyRequests',
        said: said('refusal.backupGoesOn'),
      });
    underWay = true;
    const scratch = mkdtempSync(join(tmpdir(), 'slackwater-backup-'));
    const done = (): void => {
      underWay = false;
      rmSync(scratch, { recursive: true, force: true });
    };
    try {
      const path = join(scratch, 'backup');
      await writeBackupFile(store, path);
      const stream = createReadStream(path);
      stream.once('close', done);
      return await reply
        .header('content-type', 'application/octet-stream')
        .header('content-length', statSync(path).size)
        .header('content-disposition', `attachment; filename="${backupFileName(clock.wallNowMs())}"`)
        .send(stream);
    } catch (error) {
      done();
      throw error;
    }
  });
};
