// /api/athletes: taking somebody off the list, with a way back, and erasing them with everything of theirs, without one.

import type { DeletedBody } from '../../../shared/bin.ts';
import { said } from '../../../shared/said.ts';
import { refusals } from '../../live/refusals.ts';
import { belongingsOf } from '../../recordings/athlete-belongings.ts';
import { auditEntry } from '../audit.ts';
import { erasePerson } from '../erase-person.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

export const leavingAthleteRoutes: RouteModule = (app, context) => {
  const { hub, store, devices, audit, clock, bin } = context;
  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/belongings',
    { config: { access: 'coach' } },
    async (request, reply) => {
      const { athleteId } = request.params;
      if (hub.session !== null) return sendRefusal(reply, refusals.eraseBetweenSessions);
      const isKnown = (await hub.athletesOnRecord()).has(athleteId);
      if (!isKnown) return sendRefusal(reply, refusals.unknownAthlete);
      const theirDevices = devices.devices().filter((device) => device.athleteId === athleteId);
      return belongingsOf(store, await bin.list(), athleteId, theirDevices.length);
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
        const athlete = hub.athletes.find((each) => each.athleteId === athleteId);
        const assigned = [...store.sensorAssignments()].filter(([, wearer]) => wearer === athleteId);
        const removed = hub.removeAthlete(athleteId);
        if (!removed.ok) return sendRefusal(reply, removed.reason);
        audit.append(auditEntry(request.access, 'athleteRemoved', clock, { athleteId }));
        const forgotten = await devices.forgetAthlete(athleteId);
        if (!forgotten.ok) return sendRefusal(reply, forgotten.reason);
        if (athlete === undefined) return reply.code(204).send();
        const body: DeletedBody = {
          binId: bin.putAthlete(
            athlete,
            assigned.map(([sensorId]) => sensorId),
          ),
        };
        return body;
      }
      const erased = await erasePerson(context, athleteId, request.access);
      return erased.ok ? reply.code(204).send() : sendRefusal(reply, erased.reason);
    },
  );
};
