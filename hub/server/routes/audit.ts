// /api/audit: who did what, for coaches to read and to take away.

import type { RouteModule } from '../route.ts';

/** A page shows no more than can be read through. */
const mostShown = 200;

export const auditRoutes: RouteModule = (app, { audit }) => {
  app.get('/api/audit', { config: { access: 'coach' } }, async () => ({
    entries: await audit.newest(mostShown),
  }));
  app.get(
    '/api/audit/file',
    { config: { access: 'coach', audit: 'auditExported' } },
    async (_request, reply) =>
      reply
        .header('content-type', 'application/jsonl; charset=utf-8')
        .header('content-disposition', 'attachment; filename="slackwater-audit.jsonl"')
        .send(await audit.wholeText()),
  );
};
