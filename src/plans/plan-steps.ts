// From a plan of any kind to the one list of steps that is described, checked, previewed and run.

import type { Plan } from '../../shared/plan.ts';
import { type Said, said } from '../../shared/said.ts';
import type { HoldLungs } from '../../shared/schema-parts.ts';
import { lengthsOfPool } from '../../shared/words/lengths.ts';
import { minimumRecoveryMs, minimumRecoveryOf } from './minimum-recovery.ts';

/** `hold`, `walk` and `oneBreathSwim` are on one breath; `swim` is with breathing. */
export type Effort = 'hold' | 'walk' | 'oneBreathSwim' | 'swim';

/** One start of a plan. All lengths are ceilings. */
export interface PlanStep {
  readonly effort: Effort;
  /** "Warm-up 1", "Hold 3", "Round 2": neutral, says only where in the plan. */
  readonly label: Said;
  readonly purpose: 'ordinary' | 'warmUp' | 'maximal';
  /** Longest the effort may be by the plan; null where the plan has no limit of its own. */
  readonly ceilingMs: number | null;
  /** A walk bounded by steps. */
  readonly ceilingSteps: number | null;
  /** Still part of a walk, before the first step. */
  readonly stillMs: number;
  /** A pool repetition ends at this lap; null where laps only count. */
  readonly lapsToEnd: number | null;
  readonly distanceMeters: number | null;
  readonly poolLengthMeters: number | null;
  /** How full the lungs are at the start of a hold; null where the plan does not say. */
  readonly lungs: HoldLungs | null;
  /** When the next start comes: `every` counts from this start, `recovery` from this effort's end. */
  readonly next:
    | { readonly by: 'every'; readonly everyMs: number }
    | { readonly by: 'recovery'; readonly recoveryMs: number };
}

const ordinary = {
  purpose: 'ordinary',
  ceilingMs: null,
  ceilingSteps: null,
  stillMs: 0,
  lapsToEnd: null,
  distanceMeters: null,
  poolLengthMeters: null,
  lungs: null,
} as const;

const times = <Value>(count: number, make: (index: number) => Value): Value[] =>
  Array.from({ length: count }, (_, index) => make(index));

const fromSeconds = (seconds: number | null): number | null => (seconds === null ? null : seconds * 1_000);

/** The steps of a plan in order. A free session has none: its holds come when the athlete likes. */
export function planSteps(plan: Plan): readonly PlanStep[] {
  switch (plan.kind) {
    case 'intervalSeries':
      return times(plan.starts, (index) => ({
        ...ordinary,
        effort: 'hold',
        label: said('plan.step.hold', { number: index + 1 }),
        ceilingMs: fromSeconds(plan.ceilingSeconds),
        lungs: plan.lungs ?? null,
        next: { by: 'every', everyMs: plan.everySeconds * 1_000 },
      }));
    case 'holdTable':
      return plan.rows.map((row, index) => ({
        ...ordinary,
        effort: 'hold',
        label: said('plan.step.hold', { number: index + 1 }),
        ceilingMs: row.ceilingSeconds * 1_000,
        lungs: row.lungs ?? null,
        next: { by: 'recovery', recoveryMs: row.recoverySeconds * 1_000 },
      }));
    case 'maximalAttempts':
      return [
        ...plan.warmUps.map(
          (row, index): PlanStep => ({
            ...ordinary,
            effort: 'hold',
            label: said('plan.step.warmUp', { number: index + 1 }),
            purpose: 'warmUp',
            ceilingMs: row.ceilingSeconds * 1_000,
            lungs: row.lungs ?? null,
            next: { by: 'recovery', recoveryMs: row.recoverySeconds * 1_000 },
          }),
        ),
        ...times(
          plan.attempts,
          (index): PlanStep => ({
            ...ordinary,
            effort: 'hold',
            label: said('plan.step.maximal', { number: index + 1 }),
            purpose: 'maximal',
            lungs: plan.lungs ?? null,
            next: { by: 'recovery', recoveryMs: plan.betweenAttemptsSeconds * 1_000 },
          }),
        ),
      ];
    case 'apneaWalk':
      return times(plan.rounds, (index) => ({
        ...ordinary,
        effort: 'walk',
        label: said('plan.step.round', { number: index + 1 }),
        stillMs: plan.stillSeconds * 1_000,
        ceilingSteps: plan.bound.by === 'steps' ? plan.bound.ceilingSteps : null,
        ceilingMs: walkCeilingMs(plan),
        next: { by: 'recovery', recoveryMs: plan.recoverySeconds * 1_000 },
      }));
    case 'freeSession':
      return [];
    case 'poolIntervals':
      return times(plan.repetitions, (index) => ({
        ...ordinary,
        effort: plan.breath === 'one' ? 'oneBreathSwim' : 'swim',
        label: said('plan.step.repetition', { number: index + 1 }),
        ceilingMs: fromSeconds(plan.ceilingSeconds),
        lapsToEnd: lengthsOfPool(plan.distanceMeters, plan.poolLengthMeters),
        distanceMeters: plan.distanceMeters,
        poolLengthMeters: plan.poolLengthMeters,
        next: { by: 'every', everyMs: plan.everySeconds * 1_000 },
      }));
    case 'timedSwim':
      return [
        {
          ...ordinary,
          effort: 'swim',
          label: said('plan.step.swim'),
          ceilingMs: plan.lengthSeconds * 1_000,
          poolLengthMeters: plan.poolLengthMeters,
          next: { by: 'recovery', recoveryMs: 0 },
        },
      ];
  }
}

/** Longest a walk may last on its breath: standing still, then the time of walking or of the steps. */
function walkCeilingMs(plan: Extract<Plan, { kind: 'apneaWalk' }>): number {
  const movingMs =
    plan.bound.by === 'time'
      ? plan.bound.ceilingSeconds * 1_000
      : Math.round((plan.bound.ceilingSteps / plan.bound.paceStepsPerMinute) * 60_000);
  return plan.stillSeconds * 1_000 + movingMs;
}

/**
 * Longest effort from which the next start need not move: for an interval, the effort after which the rest of
 * the interval is just its minimum recovery (3 min of a 4 min interval with the dry default). null where the
 * step has neither a ceiling nor an interval.
 */
export function latestUnmovedEndMs(plan: Plan, step: PlanStep): number | null {
  if (step.next.by !== 'every') return step.ceilingMs;
  const rule = minimumRecoveryOf(plan);
  const { everyMs } = step.next;
  const latest = Math.max(
    0,
    Math.floor(Math.min(everyMs - rule.leastSeconds * 1_000, everyMs / (1 + rule.timesPreviousEffort))),
  );
  return step.ceilingMs === null ? latest : Math.min(step.ceilingMs, latest);
}

/** Recovery after `step` when its effort lasted `effortMs`: as planned, and never under the minimum. */
export function recoveryAfterMs(plan: Plan, step: PlanStep, effortMs: number): number {
  const planned = step.next.by === 'every' ? step.next.everyMs - effortMs : step.next.recoveryMs;
  return Math.max(planned, minimumRecoveryMs(minimumRecoveryOf(plan), effortMs));
}
