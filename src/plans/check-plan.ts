// What a person should know about a plan before it starts. Some of it needs an explicit choice; none of it can
// schedule a minimum recovery away: the run lengthens what is too short, whatever was chosen.

import type { Plan } from '../../shared/plan.ts';
import { type Said, said } from '../../shared/said.ts';
import { type Foresight, sayForesight } from '../oxygen/foresight.ts';
import { minimumRecoveryMs, minimumRecoveryOf } from './minimum-recovery.ts';
import { planSteps } from './plan-steps.ts';

export type PlanWarningCode =
  | 'recoveryTooShort'
  | 'intervalTooShort'
  | 'previewCrossesFloor'
  | 'displayTooLate'
  | 'maximalHold'
  | 'twoMaximal'
  | 'walkHazard'
  | 'inWater';

export interface PlanWarning {
  readonly code: PlanWarningCode;
  readonly said: Said;
  /** Index into the plan's steps, or null where it is about the whole plan. */
  readonly stepIndex: number | null;
  /** The plan does not start until a person has chosen to start it with this warning. */
  readonly needsChoice: boolean;
}

/** What the oxygen model expects of each step, where it could say; null where it could not. */
export interface PreviewedLowest {
  readonly floorSpo2Percent: number;
  readonly steps: readonly {
    readonly stepIndex: number;
    readonly lowestSpo2Percent: number;
    readonly crossing: 'likely' | 'possible' | 'unlikely';
  }[];
  /** For each state of the lungs that the plan names: what can be said beforehand, and its longest hold. */
  readonly foresights?: readonly (Foresight & { readonly longestMs: number })[];
}

/** Warnings of a plan, those that need a choice first. Without `preview` nothing is said about saturation. */
export function checkPlan(plan: Plan, preview?: PreviewedLowest): readonly PlanWarning[] {
  const rule = minimumRecoveryOf(plan);
  const steps = planSteps(plan);
  const warnings: PlanWarning[] = [];
  steps.slice(0, -1).forEach((step, stepIndex) => {
    const effortMs = step.ceilingMs ?? 0;
    const minimumMs = minimumRecoveryMs(rule, effortMs);
    const plannedMs = step.next.by === 'every' ? step.next.everyMs - effortMs : step.next.recoveryMs;
    if (plannedMs < minimumMs && (step.next.by === 'recovery' || step.ceilingMs !== null))
      warnings.push({
        code: step.next.by === 'every' ? 'intervalTooShort' : 'recoveryTooShort',
        said: said('plan.warning.recoveryShort', { label: step.label, effortMs, plannedMs, minimumMs }),
        stepIndex,
        needsChoice: true,
      });
    else if (step.next.by === 'every' && step.next.everyMs < rule.leastSeconds * 1_000)
      warnings.push({
        code: 'intervalTooShort',
        said: said('plan.warning.intervalShort', {
          everyMs: step.next.everyMs,
          leastMs: rule.leastSeconds * 1_000,
        }),
        stepIndex,
        needsChoice: true,
      });
  });
  for (const crossing of ['likely', 'possible'] as const) {
    const crossed = (preview?.steps ?? []).filter((step) => step.crossing === crossing);
    const [first] = crossed;
    if (first === undefined || preview === undefined) continue;
    const label = steps[first.stepIndex]?.label;
    if (label === undefined) continue;
    const code = crossing === 'likely' ? 'plan.warning.floorLikely' : 'plan.warning.floorPossible';
    warnings.push({
      code: 'previewCrossesFloor',
      said: said(code, {
        label,
        moreCount: crossed.length - 1,
        floorPercent: preview.floorSpo2Percent,
        lowestPercent: Math.min(...crossed.map((step) => step.lowestSpo2Percent)),
      }),
      stepIndex: first.stepIndex,
      needsChoice: true,
    });
  }
  for (const foresight of preview?.foresights ?? []) {
    const warning = sayForesight(foresight);
    if (warning === undefined || foresight.breatheByS === null) continue;
    warnings.push({
      code: 'displayTooLate',
      said: warning,
      stepIndex: null,
      needsChoice: foresight.longestMs > foresight.breatheByS * 1_000,
    });
  }
  if (plan.kind === 'maximalAttempts')
    warnings.push({
      code: 'maximalHold',
      said: said('plan.warning.maximalHold'),
      stepIndex: null,
      needsChoice: true,
    });
  if (plan.kind === 'maximalAttempts' && plan.attempts > 1)
    warnings.push({
      code: 'twoMaximal',
      said: said('plan.warning.twoMaximal'),
      stepIndex: null,
      needsChoice: false,
    });
  if (plan.kind === 'apneaWalk')
    warnings.push({
      code: 'walkHazard',
      said: said('plan.warning.walk'),
      stepIndex: null,
      needsChoice: true,
    });
  if (plan.kind === 'poolIntervals' || plan.kind === 'timedSwim')
    warnings.push({
      code: 'inWater',
      said:
        plan.kind === 'poolIntervals' && plan.breath === 'one'
          ? said('plan.warning.inWaterOneBreath')
          : said('plan.warning.inWater'),
      stepIndex: null,
      needsChoice: true,
    });
  return warnings.toSorted((one, other) => Number(other.needsChoice) - Number(one.needsChoice));
}
