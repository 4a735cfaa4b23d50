// /api/athletes: list, add, rename. Settings change over the socket, where the rules of the floor stand.

import { athleteRequestSchema } from '../../../shared/http.ts';
import { refusals } from '../../live/refusals.ts';
import { storedPriorOf } from '../../recorder/stored-prior.ts';
import { maySee } from '../access.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

export const athleteRoutes: RouteModule = (app, { hub, store }) => {
  app.get('/api/athletes', { config: { access: 'joined' } }, async ({ access }) => ({
    athletes: hub.athletes.filter(({ athleteId }) => maySee(access, athleteId)),
  }));

  app.post(
    '/api/athletes',
    { config: { access: 'coach', audit: 'athleteAdded' } },
    async (request, reply) => {
      const body = checkBody(athleteRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const added = hub.addAthlete(body.value.name);
      return added.ok ? reply.code(201).send(added.value) : sendRefusal(reply, added.reason);
    },
  );

  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/oxygen',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { athleteId } = request.params;
      const isKnown = hub.athletes.some((athlete) => athlete.athleteId === athleteId);
      if (!isKnown || !maySee(request.access, athleteId)) return sendRefusal(reply, refusals.unknownAthlete);
      return { prior: storedPriorOf(store, athleteId) ?? null };
    },
  );

  app.put<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId',
    { config: { access: 'athlete', audit: 'athleteRenamed' } },
    async (request, reply) => {
      const body = checkBody(athleteRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const changed = hub.renameAthlete(request.params.athleteId, body.value.name);
      return changed.ok ? changed.value : sendRefusal(reply, changed.reason);
    },
  );
};
