// /api/drills and /api/incidents: alarm drills and the incident log, each with acknowledgements by person.

import { incidentRequestSchema, seenByRequestSchema } from '../../../shared/course.ts';
import { refusals } from '../../live/refusals.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

type OfIncident = { Params: { incidentId: string } };
const ofCoach = { config: { access: 'coach' } } as const;

export const drillRoutes: RouteModule = (app, { hub }) => {
  app.get('/api/drills', ofCoach, async () => ({ drills: hub.papers.drills() }));

  app.post('/api/drills', { config: { access: 'coach', audit: 'drillStarted' } }, async (request, reply) => {
    const started = hub.drill.start(request.access.deviceName);
    return started.ok ? reply.code(201).send(started.value) : sendRefusal(reply, started.reason);
  });

  app.delete('/api/drills/current', ofCoach, async (_request, reply) =>
    hub.drill.end('ended') ? reply.code(204).send() : sendRefusal(reply, refusals.noDrill),
  );

  app.post(
    '/api/drills/current/acknowledgements',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const body = checkBody(seenByRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const seen = hub.drill.acknowledge(body.value.name, request.access.deviceName);
      return seen.ok ? reply.code(204).send() : sendRefusal(reply, seen.reason);
    },
  );

  app.get('/api/incidents', ofCoach, async () => ({ incidents: hub.papers.incidents() }));

  app.post(
    '/api/incidents',
    { config: { access: 'coach', audit: 'incidentWritten' } },
    async (request, reply) => {
      const body = checkBody(incidentRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const { athleteId } = body.value;
      if (athleteId !== null && !hub.athletes.some((athlete) => athlete.athleteId === athleteId))
        return sendRefusal(reply, refusals.unknownAthlete);
      const incident = hub.papers.writeIncident(
        body.value,
        request.access.deviceName,
        hub.session?.sessionId ?? null,
      );
      return reply.code(201).send(incident);
    },
  );

  app.post<OfIncident>('/api/incidents/:incidentId/acknowledgements', ofCoach, async (request, reply) => {
    const body = checkBody(seenByRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const { incidentId } = request.params;
    const seen = hub.papers.acknowledgeIncident(incidentId, body.value.name, request.access.deviceName);
    return seen.ok ? reply.code(204).send() : sendRefusal(reply, seen.reason);
  });
};
