// What a course keeps: statements of consent and fitness, the emergency card, and all of it as files.

import {
  coachWordsRequestSchema,
  emergencyCardRequestSchema,
  type Participant,
  statementRequestSchema,
} from '../../../shared/course.ts';
import type { Athlete } from '../../../shared/views.ts';
import { refusals } from '../../live/refusals.ts';
import { maySee } from '../access.ts';
import { courseTables } from '../course-files.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

type OfAthlete = { Params: { athleteId: string } };

export const courseRoutes: RouteModule = (app, { hub }) => {
  const participantOf = ({ athleteId, name }: Athlete): Participant => ({
    athleteId,
    name,
    statements: [...hub.papers.statementsOf(athleteId)],
  });

  app.get('/api/participants', { config: { access: 'athlete' } }, async ({ access }) => ({
    participants: hub.athletes.filter(({ athleteId }) => maySee(access, athleteId)).map(participantOf),
  }));

  app.post<OfAthlete>(
    '/api/participants/:athleteId/statements',
    { config: { access: 'athlete', audit: 'statementWritten' } },
    async (request, reply) => {
      const body = checkBody(statementRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const athlete = hub.athletes.find(({ athleteId }) => athleteId === request.params.athleteId);
      if (athlete === undefined) return sendRefusal(reply, refusals.unknownAthlete);
      hub.papers.addStatement(athlete.athleteId, { ...body.value, by: request.access.deviceName });
      return reply.code(201).send(participantOf(athlete));
    },
  );

  app.post<OfAthlete>(
    '/api/athletes/:athleteId/words',
    { config: { access: 'coach', audit: 'wordsSent' } },
    async (request, reply) => {
      const body = checkBody(coachWordsRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const { athleteId } = request.params;
      if (!hub.athletes.some((athlete) => athlete.athleteId === athleteId))
        return sendRefusal(reply, refusals.unknownAthlete);
      const { text, insists } = body.value;
      return reply.code(201).send(hub.mail.send(athleteId, text, insists, request.access.deviceName));
    },
  );

  app.post<{ Params: { athleteId: string; wordsId: string } }>(
    '/api/athletes/:athleteId/words/:wordsId/seen',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { athleteId, wordsId } = request.params;
      const seen = hub.mail.seen(athleteId, wordsId);
      return seen.ok ? reply.code(204).send() : sendRefusal(reply, seen.reason);
    },
  );

  app.get('/api/emergency-card', { config: { access: 'joined' } }, async () => ({
    card: hub.papers.emergencyCard,
  }));

  app.put(
    '/api/emergency-card',
    { config: { access: 'coach', audit: 'emergencyCardWritten' } },
    async (request, reply) => {
      const body = checkBody(emergencyCardRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      hub.writeEmergencyCard(body.value, request.access.deviceName);
      return reply.code(204).send();
    },
  );

  const exported = { config: { access: 'coach', audit: 'courseExported' } } as const;
  const all = () => ({
    participants: hub.athletes.map(participantOf),
    emergencyCard: hub.papers.emergencyCard,
    drills: hub.papers.drills(),
    incidents: hub.papers.incidents(),
  });

  app.get('/api/course/file', exported, async (_request, reply) =>
    reply
      .header('content-disposition', 'attachment; filename="slackwater-course.json"')
      .type('application/json; charset=utf-8')
      .send(`${JSON.stringify({ simulated: hub.simulated, ...all() }, null, 1)}\n`),
  );

  app.get<{ Params: { list: string } }>('/api/course/file/:list', exported, async (request, reply) => {
    const table = courseTables(all(), hub.athletes, hub.simulated)[request.params.list];
    if (table === undefined) return sendRefusal(reply, refusals.nothingHere);
    return reply
      .header('content-disposition', `attachment; filename="slackwater-${request.params.list}.csv"`)
      .type('text/csv; charset=utf-8')
      .send(table());
  });
};
