// The part of a plan run that a page may see, while it runs and afterwards. An athlete's page gets its own athlete's run; where
// turns are taken one at a time it also needs when others hold, and gets that without names, readings or how it felt.

import type { CurrentPlanRunBody, PlanRunBody, PlanRunEvent, StoredPlanRun } from '../../shared/plan-run.ts';
import { maySee, type PageAccess } from './access.ts';

type RunHead = Omit<StoredPlanRun, 'events'>;

/** True where the page may see every athlete of the run. */
export const maySeeWholeRun = (access: PageAccess, run: RunHead): boolean =>
  run.options.athletes.every(({ athleteId }) => maySee(access, athleteId));

/** The running plan from event number `since` on, as this page counts them; no run where none of its own is in it. */
export function visiblePlanRun(
  access: PageAccess,
  whole: CurrentPlanRunBody,
  since: number,
): CurrentPlanRunBody {
  const { run } = whole;
  if (run === null) return whole;
  if (maySeeWholeRun(access, run)) return from(whole, run, whole.events, since);
  const part = partOfRun(access, run, whole.events);
  if (part === undefined) return { ...whole, run: null, since: 0, events: [] };
  const { shownAthleteIds } = part;
  return { ...from(whole, part.run, part.events, since), shownAthleteIds };
}

/** A run as it was kept; undefined where none of the page's own is in it. */
export function visibleStoredRun(access: PageAccess, run: StoredPlanRun): PlanRunBody | undefined {
  if (maySeeWholeRun(access, run)) return run;
  const { events, ...head } = run;
  const part = partOfRun(access, head, events);
  return part && { ...part.run, events: part.events, shownAthleteIds: part.shownAthleteIds };
}

/** What a list says of it: who of its own was in it, and nobody else; undefined where none was. */
export function visibleRunHead(access: PageAccess, run: RunHead): RunHead | undefined {
  const athletes = run.options.athletes.filter(({ athleteId }) => maySee(access, athleteId));
  return athletes.length === 0 ? undefined : { ...run, options: { ...run.options, athletes } };
}

interface PartOfRun {
  readonly run: RunHead;
  readonly events: PlanRunEvent[];
  readonly shownAthleteIds: string[];
}

function partOfRun(
  access: PageAccess,
  run: RunHead,
  allEvents: readonly PlanRunEvent[],
): PartOfRun | undefined {
  const shownAthleteIds = run.options.athletes
    .map(({ athleteId }) => athleteId)
    .filter((athleteId) => maySee(access, athleteId));
  if (shownAthleteIds.length === 0) return undefined;
  const nameless = new Map(
    run.options.athletes
      .filter(({ athleteId }) => !maySee(access, athleteId))
      .map(({ athleteId }, index) => [athleteId, `other-${index + 1}`]),
  );
  const { oneAtATime } = run.options;
  const athletes = run.options.athletes.flatMap((athlete) => {
    const other = nameless.get(athlete.athleteId);
    if (other === undefined) return [athlete];
    return oneAtATime ? [{ ...athlete, athleteId: other }] : [];
  });
  const events = allEvents.flatMap((event): PlanRunEvent[] => {
    if (!('athleteId' in event) || event.athleteId === null) return [event];
    const other = nameless.get(event.athleteId);
    if (other === undefined) return [event];
    if (!oneAtATime || event.type === 'comfort') return [];
    return event.type === 'holdEnded'
      ? [{ ...event, athleteId: other, lowestSpo2Percent: null, floorSpo2Percent: null }]
      : [{ ...event, athleteId: other }];
  });
  return { run: { ...run, options: { ...run.options, athletes } }, events, shownAthleteIds };
}

function from(
  whole: CurrentPlanRunBody,
  run: RunHead,
  events: PlanRunEvent[],
  since: number,
): CurrentPlanRunBody {
  const first = since >= 0 && since <= events.length ? since : 0;
  return { ...whole, run, since: first, events: events.slice(first) };
}
