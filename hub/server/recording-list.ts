// The list of recordings as a page may see it, with what was noted and which plans were run; a line is made anew only where
// something of it has changed.

import type { SessionsBody } from '../../shared/http.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { HoldFigures, StoredHold, StoredSessionSummary } from '../base/ports/stored-session.ts';
import type { PlanRuns } from '../plans/plan-runs.ts';
import { allDetails } from '../recordings/session-details.ts';
import { maySee, type PageAccess } from './access.ts';
import { visibleSession } from './visible-part.ts';

type Listed = SessionsBody['sessions'][number];

export function createRecordingList(
  store: HubStore,
  planRuns: PlanRuns,
): (access: PageAccess) => Promise<readonly Listed[]> {
  /** Of whole summaries, as long as the store has the same. */
  const whole = new WeakMap<StoredSessionSummary, { readonly basis: string; readonly listed: Listed }>();
  return async (access) => {
    const details = allDetails(store);
    const plans = planTitles(planRuns, access);
    const all: Listed[] = [];
    for (const summary of await store.listSessions()) {
      const visible = await visibleSummary(store, access, summary);
      if (visible === undefined) continue;
      const { sessionId, athleteIds } = visible.session;
      const own = details.get(sessionId);
      const noted: Listed['details'] =
        own === undefined
          ? []
          : athleteIds.flatMap((athleteId) => {
              const known = own.get(athleteId);
              return known === undefined ? [] : [{ athleteId, details: known }];
            });
      const titles = plans.get(sessionId) ?? [];
      const basis = noted.length + titles.length === 0 ? '' : JSON.stringify([noted, titles]);
      const known = whole.get(visible);
      if (known?.basis === basis) {
        all.push(known.listed);
        continue;
      }
      const listed: Listed = {
        ...visible,
        athleteNames: [...visible.athleteNames],
        details: noted,
        plans: titles,
      };
      if (visible === summary) whole.set(visible, { basis, listed });
      all.push(listed);
    }
    return all;
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

function figuresOfHolds(holds: readonly StoredHold[]): HoldFigures {
  const longest = holds.flatMap(({ hold }) => (hold.end === null ? [] : hold.end.atMs - hold.start.atMs));
  const lowest = holds.flatMap(({ hold }) => hold.lowestSpo2?.value ?? []);
  return {
    holdCount: holds.length,
    longestHoldMs: longest.length === 0 ? null : Math.max(...longest),
    lowestSpo2Percent: lowest.length === 0 ? null : Math.min(...lowest),
  };
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
