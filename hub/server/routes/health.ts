// GET /api/health: is the hub alive and recording. GET /api/saved: is what was changed on the disk. POST /api/notices/read: a
// person has read the notices.

import { protocolVersion } from '../../../shared/protocol-version.ts';
import { readerLanguage, sayFor } from '../reader-language.ts';
import type { RouteModule } from '../route.ts';

export const healthRoutes: RouteModule = (app, { hub, clock, hubVersion, hubRunId }) => {
  app.get('/api/health', { config: { access: 'joined' } }, async (request) => ({
    ok: true,
    hubVersion,
    protocolVersion,
    wallNowMs: clock.wallNowMs(),
    recording: hub.session !== null,
    notices: hub.notices.list.map(sayFor(readerLanguage(request))),
  }));
  app.get('/api/saved', { config: { access: 'joined' } }, async () => ({
    hubRunId,
    saved: (await hub.whenSaved())?.ok ?? true,
  }));
  app.post('/api/notices/read', { config: { access: 'coach', saves: false } }, async (_request, reply) => {
    hub.notices.dismiss();
    return reply.code(204).send();
  });
};
