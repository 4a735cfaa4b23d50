// /api/athletes/:athleteId/history: one athlete's sessions over weeks, a few measures of each hold; and those of two who both
// agreed to it, side by side.

import type { BesideBody, HistoryBody } from '../../../shared/history.ts';
import { said } from '../../../shared/said.ts';
import { refusals } from '../../live/refusals.ts';
import { runsOfAthlete } from '../../plans/athlete-runs.ts';
import { type PlannedSession, plannedSessions, planRowOf } from '../../plans/planned-sessions.ts';
import { detailsOf } from '../../recordings/session-details.ts';
import { type SummarisedSession, summariesOf } from '../../recordings/session-summaries.ts';
import { hasAgreed } from '../../recordings/sharing.ts';
import { maySee, maySeeSession, type PageAccess } from '../access.ts';
import { type RouteModule, sendRefusal } from '../route.ts';

export const historyRoutes: RouteModule = (app, { hub, store, summaries, planRuns }) => {
  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/history',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { athleteId } = request.params;
      return (await isKnown(athleteId))
        ? historyOf(athleteId, request.access)
        : sendRefusal(reply, refusals.unknownAthlete);
    },
  );

  app.get<{ Params: { athleteId: string; otherAthleteId: string } }>(
    '/api/athletes/:athleteId/beside/:otherAthleteId',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { athleteId, otherAthleteId } = request.params;
      if (!maySee(request.access, otherAthleteId)) return sendRefusal(reply, refusals.ownAthleteOnly);
      const both = [athleteId, otherAthleteId];
      for (const each of both) if (!(await isKnown(each))) return sendRefusal(reply, refusals.unknownAthlete);
      const silent = both.filter((each) => !hasAgreed(store, each));
      if (silent.length > 0)
        return sendRefusal(reply, {
          code: 'notAllowed',
          said: said('refusal.notAgreedToBeside', { names: silent.map(nameOf).join(', ') }),
        });
      const body: BesideBody = {
        one: await historyOf(athleteId, request.access),
        other: await historyOf(otherAthleteId, request.access),
      };
      return body;
    },
  );

  const nameOf = (athleteId: string): string =>
    hub.athletes.find((athlete) => athlete.athleteId === athleteId)?.name ?? athleteId;

  const isKnown = async (athleteId: string): Promise<boolean> =>
    hub.athletes.some((athlete) => athlete.athleteId === athleteId) ||
    (await store.listSessions()).some(({ session }) => session.athleteIds.includes(athleteId));

  async function historyOf(athleteId: string, access: PageAccess): Promise<HistoryBody> {
    const seen: Parameters<typeof summariesOf>[0] = {
      listSessions: async () =>
        (await store.listSessions()).filter(({ session }) => maySeeSession(access, session.sessionId)),
      listSummaries: (...asked) => store.listSummaries(...asked),
      listOtherSummaries: (...asked) => store.listOtherSummaries(...asked),
    };
    const { sessions, missingCount, allCount } = await summariesOf(seen, summaries, athleteId);
    const starts = new Map(
      sessions.map(({ listed: { session } }) => [session.sessionId, session.startedWallAtMs]),
    );
    const planned = plannedSessions(runsOfAthlete(planRuns, athleteId), (sessionId) => starts.get(sessionId));
    const body: HistoryBody = {
      sessions: sessions.map((each) => {
        const { sessionId } = each.listed.session;
        return {
          ...sessionOf(each, planned.get(sessionId)),
          details: detailsOf(store, sessionId, athleteId),
        };
      }),
      missingCount,
      allCount,
      waitsForSession: missingCount > 0 && !summaries.mayWork,
    };
    return body;
  }
};

function sessionOf(
  { listed: { session, durationMs }, summary }: SummarisedSession,
  planned: PlannedSession | undefined,
): Omit<HistoryBody['sessions'][number], 'details'> {
  const { sessionId, title, startedWallAtMs, simulated } = session;
  const felt = (summary?.comfort ?? []).filter((comfort) => comfort !== null);
  const feltMean = felt.length === 0 ? null : felt.reduce((sum, each) => sum + each, 0) / felt.length;
  const planRows = (summary?.startAtMs ?? []).map((fromMs, index) => {
    const durationS = summary?.measures['durationS']?.[index] ?? 0;
    return planRowOf({ fromMs, toMs: fromMs + durationS * 1_000 }, planned?.holds ?? []);
  });
  return {
    sessionId,
    title,
    startedWallAtMs,
    simulated,
    durationMs,
    comfort: planned?.comfort ?? feltMean,
    plans: [...(planned?.plans ?? [])],
    planRows,
    summary,
  };
}
