// /api/athletes/:athleteId/history: one athlete's sessions over weeks, a few measures of each hold.

import { refusals } from '../../live/refusals.ts';
import { comfortOfSessions } from '../../plans/training-history.ts';
import { createSessionSummaries } from '../../recordings/session-summaries.ts';
import { type RouteModule, sendRefusal, signalOfPage } from '../route.ts';

/** A page asks again for the rest, and shows what there is. */
const budgetMs = 150;

export const historyRoutes: RouteModule = (
  app,
  { hub, store, recordings, planRuns, clock, log, hubVersion },
) => {
  const summaries = createSessionSummaries({
    store,
    recordings,
    clock,
    hubVersion,
    warn: (message, error) => log.error(message, error),
  });

  app.get<{ Params: { athleteId: string } }>(
    '/api/athletes/:athleteId/history',
    { config: { access: 'athlete' } },
    async (request, reply) => {
      const { athleteId } = request.params;
      const isKnown =
        hub.athletes.some((athlete) => athlete.athleteId === athleteId) ||
        (await store.listSessions()).some(({ session }) => session.athleteIds.includes(athleteId));
      if (!isKnown) return sendRefusal(reply, refusals.unknownAthlete);
      return summaries.history(
        athleteId,
        budgetMs,
        comfortOfSessions(planRuns, athleteId),
        signalOfPage(reply),
      );
    },
  );
};
