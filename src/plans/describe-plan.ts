// A plan in words and rows, for a page, a print-out or a terminal, and the expected holds a preview is drawn from.

import type { Plan } from '../../shared/plan.ts';
import { type Said, said } from '../../shared/said.ts';
import type { HoldLungs } from '../../shared/schema-parts.ts';
import { explainMinimumRecovery } from './minimum-recovery.ts';
import { latestUnmovedEndMs, type PlanStep, planSteps, recoveryAfterMs } from './plan-steps.ts';

export interface PlanRowDescription {
  readonly stepIndex: number;
  readonly label: Said;
  /** From the plan's start, if every effort before lasts as long as expected; null once one has no known length. */
  readonly startsAtMs: number | null;
  /** "up to 1:30", "up to 20 steps", "50 m", "you decide". */
  readonly effort: Said;
  /** Expected length when everything goes to its ceiling (or to the end of the interval's minimum recovery). */
  readonly expectedMs: number | null;
  /** Recovery after it, never under the minimum; null after the last. */
  readonly recoveryMs: number | null;
  /** As the plan says; null where it does not. */
  readonly lungs: HoldLungs | null;
}

export interface PlanDescription {
  readonly title: string;
  /** One sentence about the shape. */
  readonly shape: Said;
  readonly rows: readonly PlanRowDescription[];
  /** Whole length if every effort goes to its expected length; null where that is not known. */
  readonly lengthMs: number | null;
  readonly minimumRecovery: Said;
}

/** What kind of series this is and who decides. */
export function describeShape(plan: Plan): Said {
  switch (plan.kind) {
    case 'intervalSeries':
      return said('plan.shape.intervalSeries', { starts: plan.starts, everyMs: plan.everySeconds * 1_000 });
    case 'holdTable':
      return said(
        (
          {
            carbonDioxide: 'plan.shape.carbonDioxide',
            oxygen: 'plan.shape.oxygen',
            own: 'plan.shape.own',
          } as const
        )[plan.shape],
      );
    case 'maximalAttempts':
      return said('plan.shape.maximalAttempts', { warmUps: plan.warmUps.length, attempts: plan.attempts });
    case 'apneaWalk':
      return plan.bound.by === 'time'
        ? said('plan.shape.walkTime', { rounds: plan.rounds, ceilingMs: plan.bound.ceilingSeconds * 1_000 })
        : said('plan.shape.walkSteps', { rounds: plan.rounds, steps: plan.bound.ceilingSteps });
    case 'freeSession':
      return said('plan.shape.free', { lengthMs: plan.lengthSeconds * 1_000 });
    case 'poolIntervals':
      return said('plan.shape.pool', {
        repetitions: plan.repetitions,
        distanceMeters: plan.distanceMeters,
        everyMs: plan.everySeconds * 1_000,
        onOneBreath: plan.breath === 'one',
      });
    case 'timedSwim':
      return said('plan.shape.swim', { lengthMs: plan.lengthSeconds * 1_000 });
  }
}

function effortOf(step: PlanStep): Said {
  const effort = bareEffortOf(step);
  return step.lungs === null
    ? effort
    : said('plan.effort.withLungs', { effort, lungs: said(`lungs.${step.lungs}`) });
}

function bareEffortOf(step: PlanStep): Said {
  if (step.distanceMeters !== null) return said('plan.effort.distance', { meters: step.distanceMeters });
  if (step.ceilingSteps !== null) return said('plan.effort.steps', { steps: step.ceilingSteps });
  if (step.ceilingMs === null) return said('plan.effort.open');
  if (step.effort === 'swim') return said('plan.effort.length', { lengthMs: step.ceilingMs });
  return said('plan.effort.upTo', { ceilingMs: step.ceilingMs });
}

/**
 * Describes a plan in which every effort goes to its ceiling. Where there is none, `longestHoldMs` stands in, and in
 * an interval no more than leaves the minimum recovery; rows after an effort of unknown length have no known start.
 */
export function describePlan(plan: Plan, longestHoldMs: number | null = null): PlanDescription {
  const steps = planSteps(plan);
  let atMs: number | null = plan.leadInSeconds * 1_000;
  let lengthMs: number | null = atMs;
  const rows = steps.map((step, stepIndex): PlanRowDescription => {
    const latestMs = latestUnmovedEndMs(plan, step);
    const expectedMs =
      step.ceilingMs !== null
        ? step.ceilingMs
        : latestMs !== null && longestHoldMs !== null
          ? Math.min(latestMs, longestHoldMs)
          : (latestMs ?? longestHoldMs);
    const last = stepIndex === steps.length - 1;
    const startsAtMs = atMs;
    const recoveryMs = last ? null : expectedMs === null ? null : recoveryAfterMs(plan, step, expectedMs);
    lengthMs = atMs !== null && expectedMs !== null ? atMs + expectedMs : null;
    atMs = lengthMs !== null && recoveryMs !== null ? lengthMs + recoveryMs : null;
    const effort = effortOf(step);
    const { label, lungs } = step;
    return { stepIndex, label, startsAtMs, effort, expectedMs, recoveryMs, lungs };
  });
  return {
    title: plan.title,
    shape: describeShape(plan),
    rows,
    lengthMs: plan.kind === 'freeSession' ? (plan.leadInSeconds + plan.lengthSeconds) * 1_000 : lengthMs,
    minimumRecovery: explainMinimumRecovery(plan),
  };
}

/** Holds of the plan as times from its start, each going to its expected length: what a preview simulates. */
export const expectedEfforts = (
  plan: Plan,
  longestHoldMs: number | null,
): readonly {
  readonly stepIndex: number;
  readonly startsAtMs: number;
  readonly lengthMs: number;
  readonly lungs: HoldLungs | null;
}[] =>
  describePlan(plan, longestHoldMs).rows.flatMap((row) =>
    row.startsAtMs === null || row.expectedMs === null
      ? []
      : [
          {
            stepIndex: row.stepIndex,
            startsAtMs: row.startsAtMs,
            lengthMs: row.expectedMs,
            lungs: row.lungs,
          },
        ],
  );
