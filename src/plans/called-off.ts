// Which hold of a plan's run was called off, when and why; or that the plan was ended before its last hold. A signal that was
// lost or poor only makes a start wait: that is no reason here.

import type { PlanRunEvent } from '../../shared/plan-run.ts';
import type { AlarmKind } from '../../shared/schema-parts.ts';
import type { AthleteRun } from './plan-run-state.ts';
import { planRunRules } from './run-draft.ts';
import { abortingAlarms } from './run-starts.ts';

export interface CalledOff {
  /** Counted from one; 0 where the plan was ended before its first. */
  readonly holdNumber: number;
  /** Null in a free session. */
  readonly plannedCount: number | null;
  /** In run time. */
  readonly atMs: number;
  /** `endedEarly`: nobody called a hold off; a person ended the plan with holds left. */
  readonly why: 'person' | 'endedEarly' | AlarmKind;
}

/** The last of one athlete's run; null where it went to its end. `events` are all of the run's. */
export function calledOffOf(athleteRun: AthleteRun, events: readonly PlanRunEvent[]): CalledOff | null {
  const { records, steps } = athleteRun;
  const plannedCount = steps.length === 0 ? null : steps.length;
  const index = records.findLastIndex(({ outcome }) => outcome === 'aborted');
  const record = records[index];
  if (record !== undefined) {
    const cause = causeOf(record, athleteRun.athleteId, events);
    return {
      holdNumber: (record.stepIndex ?? index) + 1,
      plannedCount,
      atMs: cause?.atMs ?? record.endedAtMs ?? record.startedAtMs ?? 0,
      why: cause?.why ?? 'person',
    };
  }
  if (athleteRun.endReason !== 'endedByPerson' || athleteRun.nextIndex >= steps.length) return null;
  const end = events.findLast(
    (event) => event.type === 'end' && (event.athleteId === null || event.athleteId === athleteRun.athleteId),
  );
  return {
    holdNumber: records.filter(({ startedAtMs }) => startedAtMs !== null).length,
    plannedCount,
    atMs: end?.atMs ?? 0,
    why: 'endedEarly',
  };
}

/** What was said first, from the hold's start to the end of the watching after it. */
function causeOf(
  { startedAtMs, cuedAtMs, endedAtMs }: AthleteRun['records'][number],
  athleteId: string,
  events: readonly PlanRunEvent[],
): Pick<CalledOff, 'atMs' | 'why'> | undefined {
  const fromMs = startedAtMs ?? cuedAtMs ?? 0;
  const toMs = (endedAtMs ?? Number.POSITIVE_INFINITY) + planRunRules.watchMs;
  for (const event of events) {
    if (event.atMs < fromMs || event.atMs > toMs) continue;
    if (event.type === 'abort' && event.athleteId === athleteId) return { atMs: event.atMs, why: 'person' };
    if (event.type !== 'alarms' || event.athleteId !== athleteId) continue;
    const kind = abortingAlarms.find((each) => event.present.includes(each));
    if (kind !== undefined) return { atMs: event.atMs, why: kind };
  }
  return undefined;
}
