// Between holds: what the measurements of this run suggest, with the reason and the data. Nothing here is applied
// by itself, and nothing here ever suggests a longer or harder hold. All rules: common practice, no source,
// unless a source stands beside them.

import type { PlanChange } from '../../shared/plan-run.ts';
import { type Said, said } from '../../shared/said.ts';
import type { AthleteRun, PlanRunState, StepRecord } from './plan-run-state.ts';

export interface Suggestion {
  /** Stable while its basis is: the same suggestion is not offered twice for the same holds. */
  readonly suggestionId: string;
  readonly athleteId: string;
  readonly kind: 'stop' | 'lengthenInterval' | 'moreRecovery' | 'lowerCeiling';
  readonly text: Said;
  readonly reason: Said;
  /** What accepting it sends; null where the answer is to end the run. */
  readonly change: PlanChange | null;
}

/** A recovery of "about a minute": up to a quarter more. */
const aboutAMinuteMs = 75_000;
const intervalStepMs = 60_000;
const recoveryStepMs = 30_000;
/** A lowest reading this near the floor is a reason for a shorter hold. */
const nearFloorPercent = 2;

const finished = (record: StepRecord): boolean =>
  record.startedAtMs !== null && record.endedAtMs !== null && record.outcome !== 'withdrawn';

/** What is suggested now, most careful first. */
export function suggestAdjustments(state: PlanRunState): readonly Suggestion[] {
  return state.athleteRuns
    .filter((athleteRun) => athleteRun.phase !== 'ended')
    .flatMap((athleteRun) => suggestForAthleteRun(state, athleteRun));
}

function suggestForAthleteRun(state: PlanRunState, athleteRun: AthleteRun): readonly Suggestion[] {
  const done = athleteRun.records.filter(finished);
  const last = done.at(-1);
  const make = (
    kind: Suggestion['kind'],
    text: Said,
    reason: Said,
    change: PlanChange | null,
    basis = done.length,
  ): Suggestion => ({
    suggestionId: `${athleteRun.athleteId}:${kind}:${basis}`,
    athleteId: athleteRun.athleteId,
    kind,
    text,
    reason,
    change,
  });

  if (athleteRun.abortedAtMs !== null)
    return [
      make(
        'stop',
        said('plan.suggest.stopToday'),
        said('plan.suggest.calledOff'),
        null,
        athleteRun.abortedAtMs,
      ),
    ];
  const suggestions: Suggestion[] = [];
  if (last?.comfort !== null && last?.comfort !== undefined && last.comfort <= 2)
    suggestions.push(
      make(
        'stop',
        said('plan.suggest.stopOrRest'),
        said('plan.suggest.comfortWas', { comfort: last.comfort }),
        null,
      ),
    );
  const moved = athleteRun.records.filter((record) =>
    record.waitedFor.some((why) => why === 'saturation' || why === 'heartRate'),
  );
  const waitsNow = athleteRun.waitedFor.some((why) => why === 'saturation' || why === 'heartRate');
  if (waitsNow || (moved.length > 0 && moved.at(-1) === athleteRun.records.at(-1)))
    suggestions.push(
      make(
        'moreRecovery',
        said('plan.suggest.moreRecovery', { seconds: recoveryStepMs / 1_000 }),
        said('plan.suggest.notBack'),
        { change: 'moreRecovery', extraMs: recoveryStepMs },
      ),
    );
  if (
    last !== undefined &&
    last.lowestSpo2Percent !== null &&
    last.startedAtMs !== null &&
    last.endedAtMs !== null
  ) {
    const floor = athleteRun.floorSpo2Percent;
    const heldMs = last.endedAtMs - last.startedAtMs;
    const ceilingMs = Math.max(5_000, Math.floor((heldMs * 0.8) / 5_000) * 5_000);
    const now = athleteRun.ceilingMs ?? Number.POSITIVE_INFINITY;
    if (floor !== null && last.lowestSpo2Percent <= floor + nearFloorPercent && ceilingMs < now)
      suggestions.push(
        make(
          'lowerCeiling',
          said('plan.suggest.lowerCeiling', { ceilingMs }),
          said('plan.suggest.nearFloor', {
            lowestPercent: last.lowestSpo2Percent,
            floorPercent: floor,
          }),
          { change: 'ceiling', ceilingMs },
        ),
      );
  }
  if (state.plan.kind === 'intervalSeries' && athleteRun.nextIndex < athleteRun.steps.length) {
    const everyMs = athleteRun.everyMs ?? state.plan.everySeconds * 1_000;
    const left = done
      .filter((record) => record.stepIndex !== null)
      .map((record) => everyMs - ((record.endedAtMs ?? 0) - (record.cuedAtMs ?? record.startedAtMs ?? 0)));
    const short = left.filter((leftMs) => leftMs <= aboutAMinuteMs);
    if (left.length >= 3 && short.length * 2 > left.length && everyMs + intervalStepMs <= 1_800_000)
      suggestions.push(
        make(
          'lengthenInterval',
          said('plan.suggest.lengthenInterval', { everyMs: everyMs + intervalStepMs }),
          said('plan.suggest.shortRecoveries', { short: short.length, all: left.length }),
          { change: 'interval', everyMs: everyMs + intervalStepMs },
        ),
      );
  }
  return suggestions;
}
