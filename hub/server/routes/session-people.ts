// /api/session/athletes: coming to the session that runs, and leaving it.

import { type RouteModule, sendRefusal } from '../route.ts';

type OfAthlete = { Params: { athleteId: string } };

/** Who is asked to leave by a device of their own leaves; a coach may send anybody home. */
export const sessionPeopleRoutes: RouteModule = (app, { hub }) => {
  app.put<OfAthlete>(
    '/api/session/athletes/:athleteId',
    { config: { access: 'athlete', audit: 'sessionJoined' } },
    async (request, reply) => {
      const joined = hub.joinSession(request.params.athleteId, request.access.deviceName);
      return joined.ok ? reply.code(204).send() : sendRefusal(reply, joined.reason);
    },
  );

  app.delete<OfAthlete>(
    '/api/session/athletes/:athleteId',
    { config: { access: 'athlete', audit: 'sessionLeft' } },
    async (request, reply) => {
      const left = hub.leaveSession(request.params.athleteId, request.access.deviceName);
      return left.ok ? reply.code(204).send() : sendRefusal(reply, left.reason);
    },
  );
};
