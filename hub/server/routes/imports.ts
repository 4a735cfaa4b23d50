// /api/import: a recording made elsewhere, first looked at, then taken in as a session of an athlete.

import { type ImportedBody, importPlanSchema } from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import { createPipeline } from '../../../src/pipeline.ts';
import type { Refusal } from '../../base/refusal.ts';
import { refusals } from '../../live/refusals.ts';
import { openImportFile } from '../../recordings/import/read-import-file.ts';
import { saveImported } from '../../recordings/import/save-imported.ts';
import { checkBody, type RouteModule, sendRefusal } from '../route.ts';

/** A night of a 100 Hz wave as text is near this; a larger file is most likely not a recording. */
const mostImportBytes = 64 * 2 ** 20;

interface ImportQuery {
  readonly fileName?: string;
  readonly plan?: string;
}

const badRequest = (what: Said | string): Refusal => ({
  code: 'badRequest',
  said: typeof what === 'string' ? said('refusal.asTold', { text: what }) : what,
});

export const importRoutes: RouteModule = (app, { hub, store, makeId }) => {
  app.addContentTypeParser(
    'application/octet-stream',
    { parseAs: 'buffer', bodyLimit: mostImportBytes },
    (_request, body, done) => done(null, body),
  );

  /** Reading a long file keeps the hub from everything else: never while alarms depend on it. */
  const refusedNow = (): Refusal | undefined =>
    hub.session !== null
      ? {
          code: 'sessionRunning',
          said: said('refusal.importBetweenSessions'),
        }
      : undefined;

  function open(query: ImportQuery, body: unknown) {
    const fileName = (query.fileName ?? 'The file').replaceAll(/\p{C}/gu, '?').slice(0, 80);
    if (!Buffer.isBuffer(body))
      return { ok: false, reason: 'Send the file itself, as application/octet-stream.' } as const;
    return openImportFile(fileName, body);
  }

  const options = { bodyLimit: mostImportBytes };

  app.post<{ Querystring: ImportQuery }>('/api/import/preview', options, async (request, reply) => {
    const refusal = refusedNow();
    if (refusal !== undefined) return sendRefusal(reply, refusal);
    const file = open(request.query, request.body);
    return file.ok ? file.value.preview : sendRefusal(reply, badRequest(file.reason));
  });

  app.post<{ Querystring: ImportQuery }>('/api/import', options, async (request, reply) => {
    const refusal = refusedNow();
    if (refusal !== undefined) return sendRefusal(reply, refusal);
    const planJson = parsed(request.query.plan ?? '{}');
    const plan = checkBody(importPlanSchema, planJson);
    if (!plan.ok) return sendRefusal(reply, plan.refusal);
    const { athleteId, newAthleteName, title, columns, time } = plan.value;
    if ((athleteId === undefined) === (newAthleteName === undefined))
      return sendRefusal(reply, badRequest(said('refusal.importForWhom')));
    const file = open(request.query, request.body);
    if (!file.ok) return sendRefusal(reply, badRequest(file.reason));
    const read = file.value.read({
      ...(columns !== undefined && { columns }),
      ...(time !== undefined && { time }),
    });
    if (!read.ok) return sendRefusal(reply, badRequest(read.reason));
    const recording = read.value;
    const startedWallAtMs = plan.value.startedWallAtMs ?? recording.startedWallAtMs;
    if (startedWallAtMs === null) return sendRefusal(reply, badRequest(said('refusal.importWhen')));
    const known = hub.athletes.find((athlete) => athlete.athleteId === athleteId);
    if (athleteId !== undefined && known === undefined) return sendRefusal(reply, refusals.unknownAthlete);
    if (known !== undefined && !known.simulated && recording.simulated)
      return sendRefusal(reply, badRequest(said('refusal.importSimulated')));
    const added =
      newAthleteName === undefined ? undefined : hub.addAthlete(newAthleteName, recording.simulated);
    if (added?.ok === false) return sendRefusal(reply, added.reason);
    const athlete = known ?? added!.value;
    const sessionId = makeId();
    try {
      const notices = saveImported(
        store,
        recording,
        { sessionId, athlete, title: title ?? '', startedWallAtMs },
        makeId,
        createPipeline,
      );
      const body: ImportedBody = {
        sessionId,
        athleteId: athlete.athleteId,
        notices: [...recording.notices, ...notices],
      };
      return reply.code(201).send(body);
    } catch (error) {
      if (added !== undefined) hub.removeAthlete(athlete.athleteId);
      throw error;
    }
  });
};

function parsed(json: string): unknown {
  try {
    return JSON.parse(json);
  } catch {
    // Not JSON: refused by the schema like any other wrong plan.
    return undefined;
  }
}
