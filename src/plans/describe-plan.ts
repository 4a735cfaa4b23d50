// A plan in words and rows, for a page, a print-out or a terminal, and the expected holds a preview is drawn from.

import type { Plan } from '../../shared/plan.ts';
import type { HoldLungs } from '../../shared/schema-parts.ts';
import { lungsWords } from '../oxygen/foresight.ts';
import { clockText } from './clock-text.ts';
import { explainMinimumRecovery } from './minimum-recovery.ts';
import { latestUnmovedEndMs, planSteps, recoveryAfterMs } from './plan-steps.ts';

export interface PlanRowDescription {
  readonly stepIndex: number;
  readonly label: string;
  /** From the plan's start, if every effort before lasts as long as expected; null once one has no known length. */
  readonly startsAtMs: number | null;
  /** "up to 1:30", "up to 20 steps", "50 m", "you decide". */
  readonly effort: string;
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
  readonly shape: string;
  readonly rows: readonly PlanRowDescription[];
  /** Whole length if every effort goes to its expected length; null where that is not known. */
  readonly lengthMs: number | null;
  readonly minimumRecovery: string;
}

/** One sentence that says what kind of series this is and who decides. */
export function describeShape(plan: Plan): string {
  switch (plan.kind) {
    case 'intervalSeries':
      return `${plan.starts} starts, one every ${clockText(plan.everySeconds * 1_000)}. You decide when each hold ends; the rest of the interval is recovery.`;
    case 'holdTable':
      return {
        carbonDioxide: 'Carbon-dioxide table: holds of one length, recoveries that shrink.',
        oxygen: 'Oxygen table: recoveries of one length, holds that grow.',
        own: 'A table of holds and recoveries.',
      }[plan.shape].concat(' Every length is the most a hold may be; stop whenever you like.');
    case 'maximalAttempts':
      return `${plan.warmUps.length} warm-up ${plan.warmUps.length === 1 ? 'hold' : 'holds'}, then ${plan.attempts === 1 ? 'one maximal hold' : 'two maximal holds'}. You decide when each ends.`;
    case 'apneaWalk':
      return plan.bound.by === 'time'
        ? `${plan.rounds} walks on one breath, up to ${clockText(plan.bound.ceilingSeconds * 1_000)} each.`
        : `${plan.rounds} walks on one breath, up to ${plan.bound.ceilingSteps} steps each.`;
    case 'freeSession':
      return `Holds whenever you like for ${clockText(plan.lengthSeconds * 1_000)}.`;
    case 'poolIntervals':
      return `${plan.repetitions} times ${plan.distanceMeters} m, one every ${clockText(plan.everySeconds * 1_000)}, ${plan.breath === 'one' ? 'each on one breath' : 'breathing freely'}.`;
    case 'timedSwim':
      return `Swim for ${clockText(plan.lengthSeconds * 1_000)}, breathing freely, and count laps.`;
  }
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
    const effort =
      step.distanceMeters !== null
        ? `${step.distanceMeters} m`
        : step.ceilingSteps !== null
          ? `up to ${step.ceilingSteps} steps`
          : step.ceilingMs === null
            ? 'you decide'
            : step.effort === 'swim'
              ? clockText(step.ceilingMs)
              : `up to ${clockText(step.ceilingMs)}`;
    return {
      stepIndex,
      label: step.label,
      startsAtMs,
      effort: step.lungs === null ? effort : `${effort}, ${lungsWords[step.lungs]}`,
      expectedMs,
      recoveryMs,
      lungs: step.lungs,
    };
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
