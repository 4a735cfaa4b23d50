// /api/sessions/:sessionId/session, /csv, /measures, /edf, /fhir, /parquet, /wfdb and /extract: one athlete's recording as a
// file, whole or for other programs; and a plan at a time of the calendar.

import * as z from 'zod/mini';
import { planSchema } from '../../../shared/plan.ts';
import { said } from '../../../shared/said.ts';
import { wallMsSchema } from '../../../shared/schema-parts.ts';
import { calendarOfPlan } from '../../../src/formats/calendar/plan-calendar.ts';
import type { StoredSession } from '../../base/ports/stored-session.ts';
import { refusals } from '../../live/refusals.ts';
import { exportFileName } from '../../recordings/export/recording-files.ts';
import { fileFormats } from '../../recordings/review/review-task.ts';
import { maySee } from '../access.ts';
import { attachmentNamed } from '../attachment-name.ts';
import { readerLanguage, sayFor } from '../reader-language.ts';
import { askedBy, checkBody, type RouteModule, sendRefusal } from '../route.ts';

const kinds = {
  session: { type: 'application/zip', extension: 'session.zip' },
  measures: { type: 'text/csv; charset=utf-8', extension: 'measures.csv' },
  csv: { type: 'text/csv; charset=utf-8', extension: 'csv' },
  // No media type is registered for EDF.
  edf: { type: 'application/octet-stream', extension: 'edf' },
  fhir: { type: 'application/fhir+json; charset=utf-8', extension: 'fhir.json' },
  parquet: { type: 'application/vnd.apache.parquet', extension: 'parquet' },
  wfdb: { type: 'application/zip', extension: 'wfdb.zip' },
  extract: { type: 'application/json; charset=utf-8', extension: 'extract.json' },
} as const;

const calendarQuerySchema = z.object({ startsWallAtMs: wallMsSchema });

export const exportRoutes: RouteModule = (app, { hub, store, recordings, planRuns }) => {
  app.get<{ Params: { planId: string }; Querystring: { startsWallAtMs?: string } }>(
    '/api/plans/:planId/calendar',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { planId } = request.params;
      const query = checkBody(calendarQuerySchema, { startsWallAtMs: Number(request.query.startsWallAtMs) });
      if (!query.ok) return sendRefusal(reply, query.refusal);
      const body = store.readDocument('plan', planId)?.body as { readonly plan?: unknown } | undefined;
      const plan = planSchema.safeParse(body?.plan);
      if (!plan.success)
        return sendRefusal(reply, {
          code: 'notFound',
          said: said('refusal.unknownPlan'),
        });
      const { startsWallAtMs } = query.value;
      return reply
        .header('content-type', 'text/calendar; charset=utf-8')
        .header('content-disposition', 'attachment; filename="plan.ics"')
        .send(
          calendarOfPlan({
            uid: `${planId}-${startsWallAtMs}@slackwater.invalid`,
            plan: plan.data,
            startsWallAtMs,
            writtenWallAtMs: hub.pageClock.wallNowMs(),
            say: sayFor(readerLanguage(request)),
          }),
        );
    },
  );
  for (const name of fileFormats) {
    const { type, extension } = kinds[name];
    // An extract says nothing of the day, not even in its name.
    const fileName = (stored: StoredSession, athleteId: string): string =>
      name === 'extract' ? 'labelled-extract.json' : exportFileName(stored, athleteId, extension);
    app.get<{ Params: { sessionId: string }; Querystring: { athleteId?: string } }>(
      `/api/sessions/:sessionId/${name}`,
      { config: { access: 'athlete', audit: 'exported' } },
      async (request, reply) => {
        const stored = await store.readSession(request.params.sessionId);
        const visible = stored?.athletes.filter(({ athleteId }) => maySee(request.access, athleteId)) ?? [];
        const athleteId = request.query.athleteId ?? visible[0]?.athleteId;
        if (stored === undefined || athleteId === undefined || visible.length === 0)
          return sendRefusal(reply, {
            code: 'unknownSession',
            said: said('refusal.unknownRecording'),
          });
        const isVisible = visible.some((candidate) => candidate.athleteId === athleteId);
        const file = isVisible
          ? await recordings.file(
              stored.session.sessionId,
              athleteId,
              name,
              askedBy(reply),
              planRuns.ofSession(stored.session.sessionId),
            )
          : undefined;
        if (file === undefined) return sendRefusal(reply, refusals.notInRecording);
        return reply
          .header('content-type', type)
          .header('content-disposition', attachmentNamed(fileName(stored, athleteId)))
          .send(Buffer.from(file.buffer, file.byteOffset, file.byteLength));
      },
    );
  }
};
