// /api/sessions/:sessionId/athletes/:athleteId/holds: the traces round each hold, to lay them over one another.

import type { HoldWindowsBody } from '../../../shared/history.ts';
import { said } from '../../../shared/said.ts';
import { windowOfHold } from '../../../src/sessions/hold-window.ts';
import { refusals } from '../../live/refusals.ts';
import { toKeptHold } from '../../recorder/to-stored.ts';
import { askedBy, type RouteModule, sendRefusal } from '../route.ts';
import { visibleSession } from '../visible-part.ts';

/** A hold of ten minutes at one sample a second, with what is shown round it. */
const mostPoints = 800;

export const holdRoutes: RouteModule = (app, { store, recordings }) => {
  app.get<{ Params: { sessionId: string; athleteId: string } }>(
    '/api/sessions/:sessionId/athletes/:athleteId/holds',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { sessionId, athleteId } = request.params;
      const summary = (await store.listSessions()).find(({ session }) => session.sessionId === sessionId);
      const session = summary === undefined ? null : visibleSession(request.access, summary.session);
      if (summary === undefined || session === null)
        return sendRefusal(reply, {
          code: 'unknownSession',
          said: said('refusal.unknownRecording'),
        });
      const derived = await recordings.derive(sessionId, athleteId, askedBy(reply));
      if (derived === undefined) return sendRefusal(reply, refusals.notInRecording);
      const heartRate = derived.cleaned.has('heartRateBpm') ? 'heartRateBpm' : 'pulseRateBpm';
      const body: HoldWindowsBody = {
        session,
        holds: derived.holds.map(({ hold, lowestSpo2 }, index) => {
          const { fromMs, toMs } = windowOfHold(
            {
              startAtMs: hold.start.atMs,
              endAtMs: hold.end?.atMs ?? null,
              firstContractionAtMs: hold.contractionsAtMs[0] ?? null,
            },
            derived.holds[index - 1]?.hold.end?.atMs ?? null,
            derived.holds[index + 1]?.hold.start.atMs ?? null,
            summary.durationMs,
          );
          return {
            number: index + 1,
            hold: toKeptHold(hold, lowestSpo2),
            fromMs,
            toMs,
            traces: (['spo2Percent', heartRate] as const).flatMap((channel) => {
              const columns = derived.cleaned.get(channel);
              if (columns === undefined) return [];
              const { atMs, value, quality } = columns.decimate(fromMs, toMs, mostPoints);
              return [{ channel, atMs, value, quality }];
            }),
          };
        }),
      };
      return body;
    },
  );
};
