// What a plan is expected to do to saturation: the oxygen model's preview laid on the plan's steps.

import type { Plan } from '../../shared/plan.ts';
import { foresee } from '../oxygen/foresight.ts';
import { holdLungs } from '../oxygen/lung-states.ts';
import { type AthleteOxygen, populationOxygen } from '../oxygen/oxygen-parameters.ts';
import {
  type PlanPreview,
  type PreviewHold,
  type PreviewSegment,
  previewPlan,
} from '../oxygen/plan-preview.ts';
import type { PreviewedLowest } from './check-plan.ts';
import { expectedEfforts } from './describe-plan.ts';

export interface PlanEffect {
  readonly preview: PlanPreview;
  /** The previewed holds by the plan's step. */
  readonly steps: readonly { readonly stepIndex: number; readonly hold: PreviewHold }[];
  /** For `checkPlan`. */
  readonly lowest: PreviewedLowest;
}

/** Why there is no preview. */
export type NoPlanEffect = 'moving' | 'free' | 'lengthUnknown';

/**
 * Previews a plan in which every hold goes to its ceiling, or where it has none to `longestHoldMs`, and no
 * longer than leaves the minimum recovery of an interval. The model is of holds at rest: plans that move have
 * no preview. Times are from the plan's start.
 */
export function previewPlanEffect(
  plan: Plan,
  athlete: AthleteOxygen,
  floorSpo2Percent: number,
  longestHoldMs: number | null,
): PlanEffect | NoPlanEffect {
  if (plan.kind === 'freeSession') return 'free';
  if (plan.kind === 'apneaWalk' || plan.kind === 'poolIntervals' || plan.kind === 'timedSwim')
    return 'moving';
  const efforts = expectedEfforts(plan, longestHoldMs);
  if (efforts.length === 0) return 'lengthUnknown';
  const segments: PreviewSegment[] = [];
  const stepOfSegment = new Map<number, number>();
  let atMs = 0;
  for (const effort of efforts) {
    segments.push({ kind: 'recovery', durationMs: effort.startsAtMs - atMs });
    stepOfSegment.set(segments.length, effort.stepIndex);
    segments.push({
      kind: 'hold',
      durationMs: effort.lengthMs,
      ...(effort.lungs !== null && { lungs: effort.lungs }),
    });
    atMs = effort.startsAtMs + effort.lengthMs;
  }
  const preview = previewPlan(segments, athlete, floorSpo2Percent);
  const steps = preview.holds.map((hold) => ({ stepIndex: stepOfSegment.get(hold.segmentIndex) ?? 0, hold }));
  return {
    preview,
    steps,
    lowest: {
      floorSpo2Percent,
      steps: steps.map(({ stepIndex, hold }) => ({
        stepIndex,
        lowestSpo2Percent: hold.lowestReadingPercent.middle,
        crossing: hold.crossing,
      })),
      foresights: holdLungs
        .filter((state) => efforts.some(({ lungs }) => lungs === state))
        .map((state) => ({
          ...foresee(athlete.prior, state, floorSpo2Percent),
          longestMs: Math.max(
            ...efforts.filter(({ lungs }) => lungs === state).map(({ lengthMs }) => lengthMs),
          ),
        })),
    },
  };
}

/**
 * The preview of a plan for several athletes: that of the one in whom it is expected to go lowest. Nobody known: the
 * population. `ofIndex` says whose it is.
 */
export function previewForAthletes(
  plan: Plan,
  athletes: readonly AthleteOxygen[],
  floorSpo2Percent: number,
  longestHoldMs: number | null,
): { readonly effect: PlanEffect | NoPlanEffect; readonly ofIndex: number } {
  const effects = (athletes.length === 0 ? [populationOxygen] : athletes).map((athlete) =>
    previewPlanEffect(plan, athlete, floorSpo2Percent, longestHoldMs),
  );
  const lowestOf = (effect: PlanEffect | NoPlanEffect): number =>
    typeof effect === 'string'
      ? Number.POSITIVE_INFINITY
      : Math.min(...effect.steps.map(({ hold }) => hold.lowestReadingPercent.low));
  let ofIndex = 0;
  effects.forEach((effect, index) => {
    if (lowestOf(effect) < lowestOf(effects[ofIndex]!)) ofIndex = index;
  });
  return { effect: effects[ofIndex]!, ofIndex };
}

/** The same as a sentence. */
export const noEffectText: Readonly<Record<NoPlanEffect, string>> = {
  moving: 'There is no preview of saturation for walking or swimming: the model is of holds at rest.',
  free: 'There is no preview for a free session: its holds are not known beforehand.',
  lengthUnknown: 'There is no preview without the length of the longest hold.',
};
