// /api/import: a recording made elsewhere, first looked at, then taken in as a session of an athlete. Files are read in a
// thread of their own: a session may be recorded meanwhile.

import { Readable } from 'node:stream';
import type { FastifyReply, FastifyRequest } from 'fastify';
import {
  type ImportedBody,
  type ImportPlan,
  type ImportProgress,
  importPlanSchema,
} from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import type { Athlete } from '../../../shared/views.ts';
import type { SessionContent } from '../../../src/formats/session-file/session-content.ts';
import { hubTimeZone, isTimeZone } from '../../base/local-time.ts';
import type { Refusal } from '../../base/refusal.ts';
import { refusals } from '../../live/refusals.ts';
import { ImportRefused } from '../../recordings/import/checked-sink.ts';
import type { ImportedFile, ReadRecording } from '../../recordings/import/import-task.ts';
import { createImportThread } from '../../recordings/import/import-thread.ts';
import { beginImported, type SessionWriter } from '../../recordings/import/save-imported.ts';
import { receiveUpload, removeStaleUploads, type Upload } from '../../recordings/import/uploads.ts';
import { planRunsOfContent } from '../../recordings/session-file-shapes.ts';
import {
  checkBody,
  pageLeft,
  type RouteContext,
  type RouteModule,
  sendRefusal,
  signalOfPage,
} from '../route.ts';

/** A day of a 500 Hz wave as text. */
const mostImportBytes = 2 ** 30;
/** A file of which nothing has come for so long is not coming. */
const nothingForMs = 30_000;

interface ImportQuery {
  readonly fileName?: string;
  readonly plan?: string;
  readonly timeZone?: string;
  readonly importId?: string;
}
type ImportRequest = FastifyRequest<{ Querystring: ImportQuery }>;

const badRequest = (what: Said): Refusal => ({ code: 'badRequest', said: what });

export const importRoutes: RouteModule = (app, context) => {
  const { clock } = context;
  const thread = createImportThread({
    warn: (message, error) => context.log.warn(`${message}: ${String(error)}`),
  });
  const progress = new Map<string, ImportProgress>();
  removeStaleUploads().catch((error: unknown) =>
    context.log.warn(`old uploads could not be removed: ${String(error)}`),
  );
  app.addHook('onClose', () => thread.close());
  // The body comes as a stream, whatever its size.
  app.addContentTypeParser(
    'application/octet-stream',
    { bodyLimit: mostImportBytes },
    (_request, body, done) => done(null, body),
  );

  /** Receives the file, has it worked on, and takes it away again. */
  async function withUpload(
    request: ImportRequest,
    reply: FastifyReply,
    timeZone: string | undefined,
    work: (file: ImportedFile, waiting: Parameters<typeof thread.preview>[1]) => Promise<unknown>,
  ): Promise<unknown> {
    const { fileName = 'The file', importId = '' } = request.query;
    const name = fileName.replaceAll(/\p{C}/gu, '?').slice(0, 80);
    if (!(request.body instanceof Readable))
      return sendRefusal(reply, badRequest(said('refusal.importAsStream')));
    const zone = timeZone ?? hubTimeZone();
    if (!isTimeZone(zone))
      return sendRefusal(reply, badRequest(said('refusal.unknownTimeZone', { name: zone.slice(0, 40) })));
    const onProgress = (each: ImportProgress): void => void (importId !== '' && progress.set(importId, each));
    const signal = signalOfPage(reply);
    const total = Number(request.headers['content-length'] ?? Number.NaN);
    let upload: Upload | undefined;
    const cutOff = (): void => void request.raw.destroy();
    let stopWaiting = clock.after(nothingForMs, cutOff);
    try {
      upload = await receiveUpload(request.body, mostImportBytes, (count) => {
        stopWaiting();
        stopWaiting = clock.after(nothingForMs, cutOff);
        onProgress({ step: 'sending', share: total > 0 ? Math.min(1, count / total) : 0 });
      });
      stopWaiting();
      return await work({ path: upload.path, name, timeZone: zone }, { onProgress, signal });
    } catch (error) {
      if (error instanceof ImportRefused) return sendRefusal(reply, badRequest(error.said));
      // Nobody hears the answer any more.
      if (error === pageLeft || signal.aborted)
        return sendRefusal(reply, badRequest(said('refusal.importCancelled')));
      throw error;
    } finally {
      stopWaiting();
      progress.delete(importId);
      await upload?.remove();
    }
  }

  const options = { bodyLimit: mostImportBytes, config: { access: 'coach' } } as const;

  const previewing = { ...options, config: { ...options.config, saves: false } } as const;
  app.post<{ Querystring: ImportQuery }>('/api/import/preview', previewing, (request, reply) =>
    withUpload(request, reply, request.query.timeZone, (file, waiting) => thread.preview(file, waiting)),
  );

  const taking = { ...options, config: { ...options.config, audit: 'imported' } } as const;
  app.post<{ Querystring: ImportQuery }>('/api/import', taking, async (request, reply) => {
    const plan = checkBody(importPlanSchema, parsed(request.query.plan ?? '{}'));
    if (!plan.ok) return sendRefusal(reply, plan.refusal);
    const { columns, time, timeZone } = plan.value;
    const place = placeFor(context, plan.value);
    if ('code' in place) return sendRefusal(reply, place);
    return withUpload(request, reply, timeZone, async (file, waiting) => {
      try {
        const choice = { ...(columns !== undefined && { columns }), ...(time !== undefined && { time }) };
        const recording = await thread.store(file, choice, place, waiting);
        const body = place.body(recording);
        void context.summaries.want([body]);
        return reply.code(201).send(body);
      } catch (error) {
        await place.undo();
        throw error;
      }
    });
  });

  app.get<{ Params: { importId: string } }>(
    '/api/import/:importId/progress',
    { config: { access: 'coach' } },
    async (request) => ({
      progress: progress.get(request.params.importId) ?? null,
    }),
  );
};

/** Where a recording goes once it has been read: an athlete, new or known, and a session of theirs. */
function placeFor({ hub, store, planRuns, makeId }: RouteContext, plan: ImportPlan) {
  const { athleteId, newAthleteName, title } = plan;
  if ((athleteId === undefined) === (newAthleteName === undefined))
    return badRequest(said('refusal.importForWhom'));
  const isKnown = () => hub.athletes.find((athlete) => athlete.athleteId === athleteId);
  if (athleteId !== undefined && isKnown() === undefined) return refusals.unknownAthlete;
  const sessionId = makeId();
  let writer: SessionWriter | undefined;
  let added: Athlete | undefined;
  let owner: Athlete | undefined;
  let content: SessionContent | undefined;
  return {
    begin(recording: ReadRecording) {
      // A session file's times are one another's: its start is what it was.
      const startedWallAtMs =
        recording.kept === undefined
          ? (plan.startedWallAtMs ?? recording.startedWallAtMs)
          : recording.startedWallAtMs;
      if (startedWallAtMs === null) throw new ImportRefused(said('refusal.importWhen'));
      const known = isKnown();
      if (known !== undefined && !known.simulated && recording.simulated)
        throw new ImportRefused(said('refusal.importSimulated'));
      if (known === undefined) {
        const adding = hub.addAthlete(newAthleteName ?? '', recording.simulated);
        if (!adding.ok) throw new ImportRefused(adding.reason.said);
        added = adding.value;
      }
      owner = known ?? added!;
      const target = { sessionId, athlete: owner, title: title ?? recording.title, startedWallAtMs };
      writer = beginImported(store, recording, target, makeId);
      return { startedWallAtMs, settings: owner.settings };
    },
    async take(part: Parameters<SessionWriter['take']>[0]) {
      if (part.type === 'kept') content = part.content;
      await writer?.take(part);
      if (part.type === 'end' && content !== undefined && owner !== undefined)
        planRuns.adopt(planRunsOfContent(content, { sessionId, athleteId: owner.athleteId }, makeId));
    },
    body: (recording: ReadRecording): ImportedBody => ({
      sessionId,
      athleteId: owner!.athleteId,
      notices: [...recording.notices, ...(writer?.notices ?? [])],
    }),
    async undo() {
      await writer?.undo();
      if (added !== undefined) hub.removeAthlete(added.athleteId);
    },
  };
}

function parsed(json: string): unknown {
  try {
    return JSON.parse(json);
  } catch {
    // Not JSON: refused by the schema like any other wrong plan.
    return undefined;
  }
}
