// What a person should know about a plan before it starts. Some of it needs an explicit choice; none of it can
// schedule a minimum recovery away: the run lengthens what is too short, whatever was chosen.

import type { Plan } from '../../shared/plan.ts';
import { type Foresight, foresightText } from '../oxygen/foresight.ts';
import { clockText } from './clock-text.ts';
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
  readonly message: string;
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
        message: `${step.label} up to ${clockText(effortMs)} would leave ${clockText(plannedMs)} of recovery; at least ${clockText(minimumMs)} is kept, so later starts will move.`,
        stepIndex,
        needsChoice: true,
      });
    else if (step.next.by === 'every' && step.next.everyMs < rule.leastSeconds * 1_000)
      warnings.push({
        code: 'intervalTooShort',
        message: `The interval of ${clockText(step.next.everyMs)} is shorter than the least recovery of ${clockText(rule.leastSeconds * 1_000)}; starts will move.`,
        stepIndex,
        needsChoice: true,
      });
  });
  for (const crossing of ['likely', 'possible'] as const) {
    const crossed = (preview?.steps ?? []).filter((step) => step.crossing === crossing);
    const [first] = crossed;
    if (first === undefined || preview === undefined) continue;
    const label = steps[first.stepIndex]?.label ?? 'A hold';
    const which = crossed.length === 1 ? label : `${label} and ${crossed.length - 1} more`;
    const lowest = Math.min(...crossed.map((step) => step.lowestSpo2Percent)).toFixed(0);
    warnings.push({
      code: 'previewCrossesFloor',
      message:
        crossing === 'likely'
          ? `${which} would likely go below the floor of ${preview.floorSpo2Percent}\u202f% (about ${lowest}\u202f%).`
          : `${which} could go below the floor of ${preview.floorSpo2Percent}\u202f% (about ${lowest}\u202f% expected, with at least one chance in ten of going below).`,
      stepIndex: first.stepIndex,
      needsChoice: true,
    });
  }
  for (const foresight of preview?.foresights ?? []) {
    const message = foresightText(foresight);
    if (message === undefined || foresight.breatheByS === null) continue;
    warnings.push({
      code: 'displayTooLate',
      message,
      stepIndex: null,
      needsChoice: foresight.longestMs > foresight.breatheByS * 1_000,
    });
  }
  if (plan.kind === 'maximalAttempts')
    warnings.push({
      code: 'maximalHold',
      message:
        'A maximal hold ends where comfort does. Lie down, dry, with a person beside you who watches and knows what to do if you faint. No hyperventilation. Leave it out if anything feels off.',
      stepIndex: null,
      needsChoice: true,
    });
  if (plan.kind === 'maximalAttempts' && plan.attempts > 1)
    warnings.push({
      code: 'twoMaximal',
      message: 'Two maximal holds in one session is a lot. The second can be left out at any time.',
      stepIndex: null,
      needsChoice: false,
    });
  if (plan.kind === 'apneaWalk')
    warnings.push({
      code: 'walkHazard',
      message:
        'Walking on one breath can end in a fall: level, soft ground, no edges, no water, no road, and a person beside you who watches and can catch you. Breathe at the first doubt.',
      stepIndex: null,
      needsChoice: true,
    });
  if (plan.kind === 'poolIntervals' || plan.kind === 'timedSwim')
    warnings.push({
      code: 'inWater',
      message:
        plan.kind === 'poolIntervals' && plan.breath === 'one'
          ? 'In water: only with a trained buddy who watches you and nothing else, in a supervised pool, by local rules and your instructor. This program does not watch you in water.'
          : 'In water: never alone, in a supervised pool and by local rules. This program does not watch you in water.',
      stepIndex: null,
      needsChoice: true,
    });
  return warnings.toSorted((one, other) => Number(other.needsChoice) - Number(one.needsChoice));
}
