// /api/backups: the backups made by the clock, and making one of them now.

import type { BackupsBody } from '../../../shared/backups.ts';
import { said } from '../../../shared/said.ts';
import { wallMs } from '../../../shared/units.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

export const scheduledBackupRoutes: RouteModule = (app, { scheduledBackups, restoring }) => {
  const backupsBody = (): BackupsBody => ({
    scheduled:
      scheduledBackups === null
        ? null
        : {
            ...scheduledBackups.schedule,
            kept: scheduledBackups.kept.map((each) => ({
              ...each,
              madeWallAtMs: wallMs(each.madeWallAtMs),
            })),
            problem: scheduledBackups.problem,
          },
    mayRestore: restoring !== null,
  });

  app.get('/api/backups', { config: { access: 'coach' } }, async () => backupsBody());

  app.post('/api/backups', { config: { access: 'coach', audit: 'backedUp' } }, async (_request, reply) => {
    if (scheduledBackups === null)
      return sendRefusal(reply, { code: 'notFound', said: said('refusal.noSchedule') });
    await scheduledBackups.makeNow();
    return backupsBody();
  });
};
