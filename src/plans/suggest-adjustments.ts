// Between holds: what the measurements of this run suggest, with the reason and the data. Nothing here is applied
// by itself, and nothing here ever suggests a longer or harder hold. All rules: common practice, no source,
// unless a source stands beside them.

import type { PlanChange } from '../../shared/plan-run.ts';
import { clockText } from './clock-text.ts';
import type { Lane, PlanRunState, StepRecord } from './plan-run-state.ts';

export interface Suggestion {
  /** Stable while its basis is: the same suggestion is not offered twice for the same holds. */
  readonly suggestionId: string;
  readonly athleteId: string;
  readonly kind: 'stop' | 'lengthenInterval' | 'moreRecovery' | 'lowerCeiling';
  readonly text: string;
  readonly reason: string;
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
  return state.lanes.filter((lane) => lane.phase !== 'ended').flatMap((lane) => suggestForLane(state, lane));
}

function suggestForLane(state: PlanRunState, lane: Lane): readonly Suggestion[] {
  const done = lane.records.filter(finished);
  const last = done.at(-1);
  const make = (
    kind: Suggestion['kind'],
    text: string,
    reason: string,
    change: PlanChange | null,
    basis = done.length,
  ): Suggestion => ({
    suggestionId: `${lane.athleteId}:${kind}:${basis}`,
    athleteId: lane.athleteId,
    kind,
    text,
    reason,
    change,
  });

  if (lane.abortedAtMs !== null)
    return [
      make(
        'stop',
        'Stop here for today.',
        'A hold was called off. Rest, talk it over, and do not hold again before everyone is satisfied that all is well.',
        null,
        lane.abortedAtMs,
      ),
    ];
  const suggestions: Suggestion[] = [];
  if (last?.comfort !== null && last?.comfort !== undefined && last.comfort <= 2)
    suggestions.push(
      make(
        'stop',
        'Stop here, or rest as long as you like.',
        `The last hold was marked ${last.comfort} of 5 for comfort.`,
        null,
      ),
    );
  const moved = lane.records.filter((record) =>
    record.waitedFor.some((why) => why === 'saturation' || why === 'heartRate'),
  );
  const waitsNow = lane.waitedFor.some((why) => why === 'saturation' || why === 'heartRate');
  if (waitsNow || (moved.length > 0 && moved.at(-1) === lane.records.at(-1)))
    suggestions.push(
      make(
        'moreRecovery',
        'Plan 30 s more recovery.',
        'Saturation or heart rate was not back near rest when the next start came.',
        { change: 'moreRecovery', extraMs: recoveryStepMs },
      ),
    );
  if (
    last !== undefined &&
    last.lowestSpo2Percent !== null &&
    last.startedAtMs !== null &&
    last.endedAtMs !== null
  ) {
    const floor = lane.floorSpo2Percent;
    const heldMs = last.endedAtMs - last.startedAtMs;
    const ceilingMs = Math.max(5_000, Math.floor((heldMs * 0.8) / 5_000) * 5_000);
    const now = lane.ceilingMs ?? Number.POSITIVE_INFINITY;
    if (floor !== null && last.lowestSpo2Percent <= floor + nearFloorPercent && ceilingMs < now)
      suggestions.push(
        make(
          'lowerCeiling',
          `Plan the next holds up to ${clockText(ceilingMs)}, or stop here.`,
          `The lowest reading of the last hold was ${last.lowestSpo2Percent} %, with the floor at ${floor} %. Saturation in the body may have been lower than a finger shows (Lindholm 2007, Aviat Space Environ Med 78:770-773).`,
          { change: 'ceiling', ceilingMs },
        ),
      );
  }
  if (state.plan.kind === 'intervalSeries' && lane.nextIndex < lane.steps.length) {
    const everyMs = lane.everyMs ?? state.plan.everySeconds * 1_000;
    const left = done
      .filter((record) => record.stepIndex !== null)
      .map((record) => everyMs - ((record.endedAtMs ?? 0) - (record.cuedAtMs ?? record.startedAtMs ?? 0)));
    const short = left.filter((leftMs) => leftMs <= aboutAMinuteMs);
    if (left.length >= 3 && short.length * 2 > left.length && everyMs + intervalStepMs <= 1_800_000)
      suggestions.push(
        make(
          'lengthenInterval',
          `Make the interval ${clockText(everyMs + intervalStepMs)}.`,
          `${short.length} of ${left.length} holds left about a minute or less of recovery.`,
          { change: 'interval', everyMs: everyMs + intervalStepMs },
        ),
      );
  }
  return suggestions;
}
