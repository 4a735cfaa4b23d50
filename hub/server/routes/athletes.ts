// /api/athletes: list, add, change, remove.

import { athleteRequestSchema } from '../../../shared/http.ts';
import { maySee } from '../access.ts';
import { checkBody, type RouteModule, sendRefusal } from '../http-server.ts';

export const athleteRoutes: RouteModule = (app, { hub }) => {
  app.get('/api/athletes', { config: { access: 'joined' } }, async ({ access }) => ({
    athletes: hub.athletes.filter(({ athleteId }) => maySee(access, athleteId)),
  }));

  app.post('/api/athletes', async (request, reply) => {
    const body = checkBody(athleteRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const added = hub.addAthlete(body.value.name, body.value.settings);
    return added.ok ? reply.code(201).send(added.value) : sendRefusal(reply, added.reason);
  });

  app.put<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const body = checkBody(athleteRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const changed = hub.renameAthlete(request.params.athleteId, body.value.name, body.value.settings);
      return changed.ok ? changed.value : sendRefusal(reply, changed.reason);
    },
  );

  app.delete<{ Params: { athleteId: string } }>('/api/athletes/:athleteId', async (request, reply) => {
    const removed = hub.removeAthlete(request.params.athleteId);
    return removed.ok ? reply.code(204).send() : sendRefusal(reply, removed.reason);
  });
};
