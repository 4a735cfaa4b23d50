// /api/sessions: giving a recording its title, and putting it, or one athlete's part of it, into the bin.

import type { DeletedBody } from '../../../shared/bin.ts';
import { type LeadersBody, leadersRequestSchema, titleRequestSchema } from '../../../shared/http.ts';
import { foldedName } from '../../../shared/name-text.ts';
import { said } from '../../../shared/said.ts';
import { refusals } from '../../live/refusals.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';
import { type AthleteParams, unknownSession } from './recordings.ts';

const recordingGoesOn = { code: 'sessionRunning', said: said('refusal.recordingGoesOn') } as const;

export const keptRecordingRoutes: RouteModule = (app, { hub, store, bin }) => {
  app.delete<{ Params: { sessionId: string } }>(
    '/api/sessions/:sessionId',
    { config: { access: 'coach', audit: 'recordingDeleted' } },
    async (request, reply) => {
      const { sessionId } = request.params;
      if (hub.session?.sessionId === sessionId) {
        return sendRefusal(reply, recordingGoesOn);
      }
      if ((await store.readSession(sessionId)) === undefined) return sendRefusal(reply, unknownSession);
      const body: DeletedBody = { binId: await bin.putRecording(sessionId, null) };
      return body;
    },
  );

  app.delete<{ Params: AthleteParams }>(
    '/api/sessions/:sessionId/athletes/:athleteId',
    { config: { access: 'coach', audit: 'recordingDeleted' } },
    async ({ params: { sessionId, athleteId } }, reply) => {
      if (hub.session?.sessionId === sessionId) return sendRefusal(reply, recordingGoesOn);
      const stored = await store.readSession(sessionId);
      if (stored === undefined) return sendRefusal(reply, unknownSession);
      if (!stored.session.athleteIds.includes(athleteId)) return sendRefusal(reply, refusals.notInRecording);
      const body: DeletedBody = { binId: await bin.putRecording(sessionId, athleteId) };
      return body;
    },
  );

  app.put<{ Params: { sessionId: string } }>(
    '/api/sessions/:sessionId',
    { config: { access: 'coach', audit: 'recordingTitled' } },
    async (request, reply) => {
      const { sessionId } = request.params;
      const body = checkBody(titleRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      if (hub.session?.sessionId === sessionId) return sendRefusal(reply, recordingGoesOn);
      const stored = await store.readSession(sessionId);
      if (stored === undefined) return sendRefusal(reply, unknownSession);
      await store.titleSession(sessionId, body.value.title);
      return { ...stored.session, title: body.value.title };
    },
  );

  app.get('/api/leaders', { config: { access: 'coach' } }, async (): Promise<LeadersBody> => {
    const leaders = new Map<string, LeadersBody['leaders'][number]>();
    for (const { session } of [...(await store.listSessions()), ...(await store.listBinned())])
      for (const { leaderId, name } of session.leaders) {
        const known = leaders.get(foldedName(name)) ?? { leaderIds: [], name, sessionCount: 0 };
        leaders.set(foldedName(name), {
          name: known.name,
          leaderIds: [...new Set([...known.leaderIds, leaderId])],
          sessionCount: known.sessionCount + 1,
        });
      }
    return { leaders: [...leaders.values()] };
  });

  app.put<{ Params: { sessionId: string } }>(
    '/api/sessions/:sessionId/leaders',
    { config: { access: 'coach', audit: 'leadersNamed' } },
    async (request, reply) => {
      const { sessionId } = request.params;
      const body = checkBody(leadersRequestSchema, request.body);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      if (hub.session?.sessionId === sessionId) return sendRefusal(reply, recordingGoesOn);
      const stored = await store.readSession(sessionId);
      if (stored === undefined) return sendRefusal(reply, unknownSession);
      const leaders = hub.leaders.named(body.value.names);
      await store.nameLeaders(sessionId, leaders);
      return { ...stored.session, leaders };
    },
  );
};
