// The list of recordings as a page may see it, with figures as they were worked out, what was noted and which plans were run; a
// line is made anew only where something of it has changed.

import type { SessionsBody } from '../../shared/http.ts';
import type { HubStore } from '../base/ports/hub-store.ts';
import type { ListedPart, StoredSessionSummary } from '../base/ports/stored-session.ts';
import type { PlanRuns } from '../plans/plan-runs.ts';
import { figuresTogether } from '../recorder/hold-figures.ts';
import { allDetails } from '../recordings/session-details.ts';
import type { PartOfSession } from '../recordings/summary-work.ts';
import { maySee, type PageAccess } from './access.ts';
import { visibleSession } from './visible-part.ts';

type Listed = SessionsBody['sessions'][number];

export interface RecordingList {
  listed(access: PageAccess): Promise<readonly Listed[]>;
  /** What of a line of `listed` is not worked out by the rules of this hub; nothing while it is being recorded. */
  missing(line: Listed): readonly PartOfSession[];
}

/** `madeBy` names the rules by which this hub makes summaries. */
export function createRecordingList(store: HubStore, planRuns: PlanRuns, madeBy: string): RecordingList {
  /** Of whole summaries, as long as the store has the same. */
  const whole = new WeakMap<object, { readonly basis: string; readonly listed: Listed }>();
  const partsOf = new WeakMap<Listed, readonly ListedPart[]>();
  async function listed(access: PageAccess): Promise<readonly Listed[]> {
    const details = allDetails(store);
    const plans = planTitles(planRuns, access);
    const all: Listed[] = [];
    for (const summary of await store.listSessions()) {
      const visible = visibleSummary(access, summary);
      if (visible === undefined) continue;
      const { session, athleteNames, parts, durationMs } = visible;
      const { sessionId, athleteIds } = session;
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
      const line: Listed = {
        session,
        athleteNames: [...athleteNames],
        ...figuresOfParts(parts, madeBy),
        durationMs,
        details: noted,
        plans: titles,
      };
      partsOf.set(line, parts);
      if (visible === summary) whole.set(visible, { basis, listed: line });
      all.push(line);
    }
    return all;
  }
  return {
    listed,
    missing: (line) => {
      const { sessionId, status } = line.session;
      if (status === 'recording' || line.figuresBy === 'analysis') return [];
      return (partsOf.get(line) ?? [])
        .filter(({ workedOut }) => workedOut?.madeBy !== madeBy)
        .map(({ athleteId }) => ({ sessionId, athleteId }));
    },
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

/** A recording's line with only the visible athletes and their names; undefined without any. */
function visibleSummary(
  access: PageAccess,
  summary: StoredSessionSummary,
): Pick<StoredSessionSummary, 'session' | 'athleteNames' | 'parts' | 'durationMs'> | undefined {
  const { session, athleteNames, parts, durationMs } = summary;
  const visible = visibleSession(access, session);
  if (visible === null) return undefined;
  if (visible.athleteIds.length === session.athleteIds.length) return summary;
  const isOwn = (athleteId: string): boolean => maySee(access, athleteId);
  return {
    session: visible,
    athleteNames: athleteNames.filter((_name, index) => isOwn(session.athleteIds[index]!)),
    parts: parts.filter(({ athleteId }) => isOwn(athleteId)),
    durationMs,
  };
}

/** Of a part as it was worked out, else as it was told live; and by the least that any part of the row rests on. */
function figuresOfParts(
  parts: readonly ListedPart[],
  madeBy: string,
): Pick<Listed, 'holdCount' | 'longestHoldMs' | 'lowestSpo2Percent' | 'figuresBy'> {
  const isOfLive = parts.some(({ workedOut }) => workedOut === null);
  const isOfBefore = parts.some(({ workedOut }) => workedOut !== null && workedOut.madeBy !== madeBy);
  return {
    ...figuresTogether(parts.map(({ toldLive, workedOut }) => workedOut?.figures ?? toldLive)),
    figuresBy: isOfLive ? 'live' : isOfBefore ? 'earlierVersion' : 'analysis',
  };
}
