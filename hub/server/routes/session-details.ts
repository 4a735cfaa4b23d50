// /api/sessions/.../details and .../athlete: what a person noted about one athlete's session, and whose part of it that is.
// /api/athletes/.../sharing: whether somebody agreed to be shown beside others.

import { said } from '../../../shared/said.ts';
import {
  noDetails,
  reassignRequestSchema,
  sessionDetailsRequestSchema,
  sharingSchema,
} from '../../../shared/session-details.ts';
import { refusals } from '../../live/refusals.ts';
import { detailsOf, removeDetails, saveDetails } from '../../recordings/session-details.ts';
import { hasAgreed, saveAgreement } from '../../recordings/sharing.ts';
import { auditEntry } from '../audit.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';
import { type AthleteParams, unknownSession } from './recordings.ts';

const recordingGoesOn = { code: 'sessionRunning', said: said('refusal.recordingGoesOn') } as const;
const alreadyIn = { code: 'badRequest', said: said('refusal.alreadyInRecording') } as const;

export const sessionDetailsRoutes: RouteModule = (app, { hub, store, recordings, audit, clock }) => {
  const isIn = async (sessionId: string, athleteId: string): Promise<boolean | undefined> =>
    (await store.readSession(sessionId))?.session.athleteIds.includes(athleteId);

  app.get<{ Params: AthleteParams }>(
    '/api/sessions/:sessionId/athletes/:athleteId/details',
    { config: { access: 'athlete' } },
    async ({ params: { sessionId, athleteId } }, reply) => {
      const there = await isIn(sessionId, athleteId);
      if (there !== true)
        return sendRefusal(reply, there === undefined ? unknownSession : refusals.notInRecording);
      return { details: detailsOf(store, sessionId, athleteId) ?? noDetails };
    },
  );

  app.put<{ Params: AthleteParams }>(
    '/api/sessions/:sessionId/athletes/:athleteId/details',
    { config: { access: 'athlete' } },
    async ({ params: { sessionId, athleteId }, body: given }, reply) => {
      const body = checkBody(sessionDetailsRequestSchema, given);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      const there = await isIn(sessionId, athleteId);
      if (there !== true)
        return sendRefusal(reply, there === undefined ? unknownSession : refusals.notInRecording);
      const { details } = body.value;
      const tags = [...new Map(details.tags.map((tag) => [tag.toLowerCase(), tag])).values()];
      saveDetails(store, sessionId, athleteId, { ...details, tags });
      return { details: { ...details, tags } };
    },
  );

  app.put<{ Params: AthleteParams }>(
    '/api/sessions/:sessionId/athletes/:athleteId/athlete',
    { config: { access: 'coach' } },
    async ({ access, params: { sessionId, athleteId }, body: given }, reply) => {
      const body = checkBody(reassignRequestSchema, given);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      if (hub.session !== null) return sendRefusal(reply, recordingGoesOn);
      const to = hub.athletes.find((each) => each.athleteId === body.value.athleteId);
      if (to === undefined) return sendRefusal(reply, refusals.unknownAthlete);
      const stored = await store.readSession(sessionId);
      if (stored === undefined) return sendRefusal(reply, unknownSession);
      if (!stored.session.athleteIds.includes(athleteId)) return sendRefusal(reply, refusals.notInRecording);
      if (stored.session.athleteIds.includes(to.athleteId)) return sendRefusal(reply, alreadyIn);
      const details = detailsOf(store, sessionId, athleteId);
      await store.reassignPart(sessionId, athleteId, { athleteId: to.athleteId, name: to.name });
      recordings.forget(sessionId);
      removeDetails(store, sessionId, athleteId);
      if (details !== null) saveDetails(store, sessionId, to.athleteId, details);
      // One entry for each: who looks for either finds it.
      for (const about of [athleteId, to.athleteId])
        audit.append(auditEntry(access, 'recordingReassigned', clock, { athleteId: about, sessionId }));
      return reply.code(204).send();
    },
  );

  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/sharing',
    { config: { access: 'athlete' } },
    async ({ params: { athleteId } }) => ({ agreed: hasAgreed(store, athleteId) }),
  );

  app.put<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/sharing',
    { config: { access: 'athlete', audit: 'sharingChanged' } },
    async ({ params: { athleteId }, body: given }, reply) => {
      const body = checkBody(sharingSchema, given);
      if (!body.ok) return sendRefusal(reply, body.refusal);
      if (!hub.athletes.some((each) => each.athleteId === athleteId))
        return sendRefusal(reply, refusals.unknownAthlete);
      saveAgreement(store, athleteId, body.value.agreed);
      return body.value;
    },
  );
};
