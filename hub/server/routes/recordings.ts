// /api/sessions: the list of recordings, one recording with holds and measures, and its traces.

import type { SessionsBody } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import type { HoldFigures, StoredHold, StoredSessionSummary } from '../../base/ports/stored-session.ts';
import { refusals } from '../../live/refusals.ts';
import type { PlanRuns } from '../../plans/plan-runs.ts';
import { allDetails } from '../../recordings/session-details.ts';
import { maySee, type PageAccess } from '../access.ts';
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

function figuresOfHolds(holds: readonly StoredHold[]): HoldFigures {
  const longest = holds.flatMap(({ hold }) => (hold.end === null ? [] : hold.end.atMs - hold.start.atMs));
  const lowest = holds.flatMap(({ hold }) => hold.lowestSpo2?.value ?? []);
  return {
    holdCount: holds.length,
    longestHoldMs: longest.length === 0 ? null : Math.max(...longest),
    lowestSpo2Percent: lowest.length === 0 ? null : Math.min(...lowest),
  };
}

/** Titles of the plans run in each session, of runs that somebody visible was in. */
function planTitles(planRuns: PlanRuns, access: PageAccess): ReadonlyMap<string, string[]> {
  const titles = new Map<string, string[]>();
  for (const { sessionId, plan, options } of planRuns.list()) {
    if (sessionId === null || !options.athletes.some(({ athleteId }) => maySee(access, athleteId))) continue;
    const known = titles.get(sessionId) ?? [];
    if (!known.includes(plan.title)) titles.set(sessionId, [plan.title, ...known]);
  }
  return titles;
}

/** A recording's line in the list with only the visible athletes, their names and holds; undefined without any. */
async function visibleSummary(
  store: HubStore,
  access: PageAccess,
  summary: StoredSessionSummary,
): Promise<StoredSessionSummary | undefined> {
  const session = visibleSession(access, summary.session);
  if (session === null) return undefined;
  if (session.athleteIds.length === summary.session.athleteIds.length) return summary;
  const stored = await store.readSession(session.sessionId);
  const isOwn = ({ athleteId }: { readonly athleteId: string }): boolean => maySee(access, athleteId);
  return {
    session,
    athleteNames: stored?.athletes.filter(isOwn).map(({ name }) => name) ?? [],
    ...figuresOfHolds(stored?.holds.filter((hold) => isOwn(hold) && !hold.withdrawn) ?? []),
    durationMs: summary.durationMs,
  };
}

export const recordingRoutes: RouteModule = (app, { store, recordings, planRuns }) => {
  app.get('/api/sessions', { config: { access: 'athlete' } }, async ({ access }) => {
    recordings.warm();
    const details = allDetails(store);
    const plans = planTitles(planRuns, access);
    const sessions: SessionsBody['sessions'] = [];
    for (const summary of await store.listSessions()) {
      const visible = await visibleSummary(store, access, summary);
      if (visible === undefined) continue;
      const { sessionId, athleteIds } = visible.session;
      const own = details.get(sessionId);
      sessions.push({
        ...visible,
        athleteNames: [...visible.athleteNames],
        details:
          own === undefined
            ? []
            : athleteIds.flatMap((athleteId) => {
                const noted = own.get(athleteId);
                return noted === undefined ? [] : [{ athleteId, details: noted }];
              }),
        plans: plans.get(sessionId) ?? [],
      });
    }
    const body: SessionsBody = { sessions };
    return body;
  });

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
