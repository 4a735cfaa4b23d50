// /api/athletes: list, add, rename, remove. Settings change over the socket, where the rules of the floor stand.

import { athleteRequestSchema } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import { refusals } from '../../live/refusals.ts';
import { storedPriorOf } from '../../recorder/stored-prior.ts';
import { belongingsOf } from '../../recordings/athlete-belongings.ts';
import { maySee } from '../access.ts';
import { auditEntry } from '../audit.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

export const athleteRoutes: RouteModule = (app, { hub, recordings, store, devices, audit, clock }) => {
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

  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/belongings',
    { config: { access: 'coach' } },
    async (request, reply) => {
      const { athleteId } = request.params;
      if (hub.session !== null) return sendRefusal(reply, refusals.eraseBetweenSessions);
      const isKnown =
        hub.athletes.some((athlete) => athlete.athleteId === athleteId) ||
        (await store.listSessions()).some(({ session }) => session.athleteIds.includes(athleteId));
      if (!isKnown) return sendRefusal(reply, refusals.unknownAthlete);
      const theirDevices = devices.devices().filter((device) => device.athleteId === athleteId);
      return belongingsOf(store, athleteId, theirDevices.length);
    },
  );

  app.delete<{ Params: { athleteId: string }; Querystring: { recordings?: string } }>(
    '/api/athletes/:athleteId',
    { config: { access: 'coach' } },
    async (request, reply) => {
      const { athleteId } = request.params;
      const { recordings: which } = request.query;
      if (which !== undefined && which !== 'all')
        return sendRefusal(reply, {
          code: 'badRequest',
          said: said('refusal.eraseAllOnly'),
        });
      if (which === undefined) {
        const removed = hub.removeAthlete(athleteId);
        if (!removed.ok) return sendRefusal(reply, removed.reason);
        audit.append(auditEntry(request.access, 'athleteRemoved', clock, { athleteId }));
        const forgotten = devices.forgetAthlete(athleteId);
        return forgotten.ok ? reply.code(204).send() : sendRefusal(reply, forgotten.reason);
      }
      const listed = await store.listSessions();
      const theirs = listed
        .filter(({ session }) => session.athleteIds.includes(athleteId))
        .map(({ session }) => session.sessionId);
      const erased = await hub.eraseAthlete(athleteId);
      if (!erased.ok) return sendRefusal(reply, erased.reason);
      for (const sessionId of theirs) recordings.forget(sessionId);
      await audit.forgetAthlete(athleteId);
      audit.append(auditEntry(request.access, 'athleteErased', clock, { athleteId: 'erased' }));
      const forgotten = devices.forgetAthlete(athleteId);
      return forgotten.ok ? reply.code(204).send() : sendRefusal(reply, forgotten.reason);
    },
  );
};
