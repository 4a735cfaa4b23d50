// /api/bin: what was deleted and can still come back, bringing it back, and deleting it for good.

import type { BinnedItem } from '../../../shared/bin.ts';
import { said } from '../../../shared/said.ts';
import { maySee, type PageAccess } from '../access.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

/** An athlete's device answers for what is of its athlete alone. */
const isTheirs = (access: PageAccess, { athletes }: BinnedItem): boolean =>
  access.role === 'coach' ||
  (athletes.length > 0 && athletes.every(({ athleteId }) => maySee(access, athleteId)));

export const binRoutes: RouteModule = (app, { bin }) => {
  app.get('/api/bin', { config: { access: 'athlete' } }, async ({ access }) => ({
    items: (await bin.list()).filter((item) => isTheirs(access, item)),
  }));

  app.post<{ Params: { binId: string } }>(
    '/api/bin/:binId/restore',
    { config: { access: 'athlete', audit: 'restoredFromBin' } },
    async (request, reply) => {
      const { access, params } = request;
      const item = (await bin.list()).find(({ binId }) => binId === params.binId);
      if (item === undefined || !isTheirs(access, item))
        return sendRefusal(reply, { code: 'notFound', said: said('refusal.notInBin') });
      request.auditedAthleteId = item.athletes.length === 1 ? (item.athletes[0]?.athleteId ?? null) : null;
      const restored = await bin.restore(params.binId);
      return restored.ok ? reply.code(204).send() : sendRefusal(reply, restored.reason);
    },
  );

  app.delete<{ Params: { binId: string } }>(
    '/api/bin/:binId',
    { config: { access: 'coach', audit: 'deletedForGood' } },
    async (request, reply) => {
      const removed = await bin.remove(request.params.binId);
      return removed.ok ? reply.code(204).send() : sendRefusal(reply, removed.reason);
    },
  );
};
