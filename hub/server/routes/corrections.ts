// /api/sessions/:sessionId/athletes/:athleteId/corrections: correct holds and marks by hand, take that back, and bring it
// back again.

import type { FastifyReply } from 'fastify';
import { correctionRequestSchema } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import { refuseCorrection } from '../../../src/sessions/apply-corrections.ts';
import { isMarkCorrection, refuseMarkCorrection } from '../../../src/sessions/correct-marks.ts';
import { type CorrectionStep, lastInForce, lastUndone } from '../../../src/sessions/correction-steps.ts';
import { refusals } from '../../live/refusals.ts';
import { askedBy, checkBody, type RouteModule, sendRefusal } from '../route.ts';

interface CorrectionParams {
  readonly sessionId: string;
  readonly athleteId: string;
}

const path = '/api/sessions/:sessionId/athletes/:athleteId/corrections';
/** Far more than anyone makes by hand; keeps a page gone wrong from filling the disk. */
const mostSteps = 2_000;
const rule = { config: { access: 'athlete', audit: 'recordingCorrected' } } as const;

export const correctionRoutes: RouteModule = (app, { store, recordings, summaries, clock, makeId }) => {
  /** The recording to correct, or why it cannot be. */
  async function open({ sessionId, athleteId }: CorrectionParams, reply: FastifyReply) {
    const stored = await store.readSession(sessionId);
    if (stored === undefined)
      return {
        refusal: {
          code: 'unknownSession',
          said: said('refusal.unknownRecording'),
        },
      } as const;
    if (stored.session.status === 'recording')
      return {
        refusal: {
          code: 'sessionRunning',
          said: said('refusal.correctAfterwards'),
        },
      } as const;
    const derived = await recordings.derive(sessionId, athleteId, askedBy(reply));
    if (derived === undefined)
      return {
        refusal: refusals.notInRecording,
      } as const;
    return { stored, derived };
  }

  async function add(
    { sessionId, athleteId }: CorrectionParams,
    step: Omit<CorrectionStep, 'correctionId' | 'madeWallAtMs'>,
    reply: FastifyReply,
  ) {
    await store.addCorrection(sessionId, {
      athleteId,
      step: { correctionId: makeId(), madeWallAtMs: clock.wallNowMs(), ...step },
    });
    recordings.corrected(sessionId, athleteId);
    const corrected = await recordings.readAthlete(sessionId, athleteId, askedBy(reply));
    // Whoever goes back to the list finds what they have just seen.
    await summaries.keep({ sessionId, athleteId });
    return corrected;
  }

  app.put<{ Params: CorrectionParams }>(path, rule, async (request, reply) => {
    const body = checkBody(correctionRequestSchema, request.body);
    if (!body.ok) return sendRefusal(reply, body.refusal);
    const opened = await open(request.params, reply);
    if ('refusal' in opened) return sendRefusal(reply, opened.refusal);
    const { stored, derived } = opened;
    const correction = body.value;
    const holds = derived.holds.map(({ hold }) => hold);
    if (derived.correctionSteps.length >= mostSteps)
      return sendRefusal(reply, {
        code: 'badRequest',
        said: said('refusal.tooManyCorrections', { most: mostSteps }),
      });
    const refused = isMarkCorrection(correction)
      ? refuseMarkCorrection(derived.marks, correction, stored.durationMs)
      : refuseCorrection(holds, correction, stored.durationMs);
    if (refused !== undefined) return sendRefusal(reply, { code: 'badRequest', said: refused });
    const hold =
      'holdId' in correction ? holds.find(({ holdId }) => holdId === correction.holdId) : undefined;
    return add(
      request.params,
      {
        correction,
        estimated: hold === undefined ? null : { startMs: hold.start.atMs, endMs: hold.end?.atMs ?? null },
      },
      reply,
    );
  });

  app.delete<{ Params: CorrectionParams }>(path, rule, async (request, reply) => {
    const opened = await open(request.params, reply);
    if ('refusal' in opened) return sendRefusal(reply, opened.refusal);
    const last = lastInForce(opened.derived.correctionSteps);
    if (last === undefined)
      return sendRefusal(reply, { code: 'notFound', said: said('refusal.nothingToUndo') });
    return add(
      request.params,
      { correction: { type: 'undo', correctionId: last.correctionId }, estimated: null },
      reply,
    );
  });

  app.post<{ Params: CorrectionParams }>(path, rule, async (request, reply) => {
    const opened = await open(request.params, reply);
    if ('refusal' in opened) return sendRefusal(reply, opened.refusal);
    const undoing = lastUndone(opened.derived.correctionSteps);
    if (undoing === undefined)
      return sendRefusal(reply, { code: 'notFound', said: said('refusal.nothingToRedo') });
    return add(
      request.params,
      { correction: { type: 'undo', correctionId: undoing.correctionId }, estimated: null },
      reply,
    );
  });
};
