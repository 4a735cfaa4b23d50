// /api/sessions: the list of recordings, one recording with holds and measures, and its traces.

import type { FoundRecordingsBody, SessionsBody } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import {
  foundRecordings,
  pageOf,
  type RecordingFilter,
  recordingChoices,
  recordingConditions,
  recordingKinds,
} from '../../../src/sessions/found-recordings.ts';
import { refusals } from '../../live/refusals.ts';
import type { PartOfSession, SummaryWork } from '../../recordings/summary-work.ts';
import { maySee } from '../access.ts';
import { createRecordingList } from '../recording-list.ts';
import { askedBy, type RouteModule, sendRefusal } from '../route.ts';
import { visibleSensors, visibleSession } from '../visible-part.ts';

export const unknownSession = {
  code: 'unknownSession',
  said: said('refusal.unknownRecording'),
} as const;
/** More spans than the widest screen has pixels. */
const mostPoints = 8_000;

interface TraceQuery {
  fromMs?: string;
  toMs?: string;
  points?: string;
  /** `raw`: as the sensors sent them, without the pipeline's screening. */
  signals?: string;
  /** Names of channels with commas; all of them, when left out. */
  channels?: string;
}

export interface AthleteParams {
  readonly sessionId: string;
  readonly athleteId: string;
}

/** A query number within bounds, or the fallback when it is missing or not a number. */
function queryNumber(text: string | undefined, fallback: number, least: number, most: number): number {
  const value = text === undefined || text.trim() === '' ? Number.NaN : Number(text);
  return Number.isFinite(value) ? Math.min(most, Math.max(least, value)) : fallback;
}

/** What cannot be read of a query is as not asked for. */
function filterOf(query: Readonly<Record<string, string | undefined>>): RecordingFilter {
  const text = (name: string): string => query[name] ?? '';
  const time = (name: string): number | null => {
    const atMs = queryNumber(query[name], Number.NaN, -8.64e15, 8.64e15);
    return Number.isNaN(atMs) ? null : atMs;
  };
  return {
    search: text('search').slice(0, 200),
    athleteId: text('athleteId'),
    leader: text('leader').slice(0, 200),
    room: text('room'),
    kind: recordingKinds.find((kind) => kind === query['kind']) ?? '',
    plan: text('plan'),
    tag: text('tag'),
    place: text('place'),
    condition: recordingConditions.find((condition) => condition === query['condition']) ?? '',
    fromMs: time('fromMs'),
    untilMs: time('untilMs'),
  };
}

/** Answers whether it is under way. Nobody waits: the page shows what is there, and asks again. */
function workOut(summaries: SummaryWork, parts: readonly PartOfSession[]): boolean {
  const wanted = parts.filter(({ sessionId, athleteId }) => !summaries.isUnreadable(sessionId, athleteId));
  if (wanted.length === 0) return false;
  void summaries.want(wanted);
  return summaries.mayWork;
}

export const recordingRoutes: RouteModule = (app, { store, recordings, summaries, planRuns }) => {
  const { listed, missing } = createRecordingList(store, planRuns, summaries.madeBy);

  app.get('/api/sessions', { config: { access: 'athlete' } }, async ({ access }) => {
    recordings.warm();
    const body: SessionsBody = { sessions: [...(await listed(access))] };
    return body;
  });

  app.get<{ Querystring: Record<string, string | undefined> }>(
    '/api/recordings',
    { config: { access: 'athlete' } },
    async ({ access, query }) => {
      recordings.warm();
      const all = await listed(access);
      const found = foundRecordings(all, filterOf(query), query['untitled'] ?? '');
      const { page, pages, items } = pageOf(found, Math.floor(queryNumber(query['page'], 0, 0, 1e6)));
      const body: FoundRecordingsBody = {
        recordings: [...items],
        isWorkingOut: workOut(summaries, items.flatMap(missing)),
        page,
        pages,
        foundCount: found.length,
        wholeCount: all.length,
        choices: recordingChoices(all),
      };
      return body;
    },
  );

  app.get<{ Params: { sessionId: string }; Querystring: { outline?: string } }>(
    '/api/sessions/:sessionId',
    { config: { access: 'athlete' } },
    async ({ access, params, query }, reply) => {
      const include = (athleteId: string): boolean => maySee(access, athleteId);
      const body =
        query.outline === undefined
          ? await recordings.read(params.sessionId, askedBy(reply), include)
          : await recordings.outline(params.sessionId, include);
      const session = body === undefined ? null : visibleSession(access, body.session);
      if (body === undefined || session === null) return sendRefusal(reply, unknownSession);
      return { ...body, session, sensors: visibleSensors(access, body.sensors) };
    },
  );

  app.get<{ Params: AthleteParams }>(
    '/api/sessions/:sessionId/athletes/:athleteId',
    { config: { access: 'athlete' } },
    async ({ params: { sessionId, athleteId } }, reply) => {
      const athlete = await recordings.readAthlete(sessionId, athleteId, askedBy(reply));
      if (athlete !== undefined) return athlete;
      return sendRefusal(
        reply,
        (await store.readSession(sessionId)) === undefined ? unknownSession : refusals.notInRecording,
      );
    },
  );

  app.get<{ Params: AthleteParams }>(
    '/api/sessions/:sessionId/athletes/:athleteId/progress',
    { config: { access: 'athlete' } },
    async ({ params: { sessionId, athleteId } }) => ({ share: recordings.progress(sessionId, athleteId) }),
  );

  app.get<{ Params: AthleteParams; Querystring: TraceQuery }>(
    '/api/sessions/:sessionId/athletes/:athleteId/trace',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { sessionId, athleteId } = request.params;
      const stored = await store.readSession(sessionId);
      if (stored === undefined) return sendRefusal(reply, unknownSession);
      const signals = request.query.signals === 'raw' ? 'raw' : 'cleaned';
      const traces = await recordings.traces(sessionId, athleteId, signals, askedBy(reply));
      if (traces === undefined) return sendRefusal(reply, refusals.notInRecording);
      const fromMs = queryNumber(request.query.fromMs, 0, 0, stored.durationMs);
      const toMs = queryNumber(request.query.toMs, stored.durationMs, fromMs, stored.durationMs);
      const points = Math.round(queryNumber(request.query.points, 2_000, 10, mostPoints));
      const channels = request.query.channels?.split(',');
      const shown = [...traces.columns].filter(([channel]) => channels?.includes(channel) ?? true);
      const decimated = shown.map(([channel, columns]) => ({
        channel,
        ...columns.decimate(fromMs, toMs, points),
      }));
      return {
        fromMs,
        toMs,
        traces: decimated.map(({ channel, atMs, value, quality }) => ({ channel, atMs, value, quality })),
        decimated: decimated.some((column) => column.decimated),
        cleaned: traces.cleaned,
      };
    },
  );
};
