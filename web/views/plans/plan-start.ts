// How a plan is started with several athletes: who, at one time or one after the other, and with which warnings accepted. Pure.

import type { Plan } from '../../../shared/plan.ts';
import type { PlanRunOptions } from '../../../shared/plan-run.ts';
import { planSteps } from '../../../src/plans/plan-steps.ts';

/** At one time, shared out over the interval, or never two holding at once. */
export const startModes = ['together', 'staggered', 'oneAtATime'] as const;
export type StartMode = (typeof startModes)[number];

/** As many as the hub takes in one session. */
const mostAthletes = 8;

/** Those of the running session, who are most likely meant; else the first known. */
export const likelyAthleteIds = (
  sessionAthleteIds: readonly string[],
  knownIds: readonly string[],
): readonly string[] =>
  (sessionAthleteIds.length > 0 ? sessionAthleteIds : knownIds.slice(0, 1)).slice(0, mostAthletes);

/** With the athlete, or without where they were chosen. */
export const toggledAthleteIds = (chosenIds: readonly string[], athleteId: string): readonly string[] =>
  chosenIds.includes(athleteId)
    ? chosenIds.filter((id) => id !== athleteId)
    : [...chosenIds, athleteId].slice(0, mostAthletes);

export interface PlanStart {
  readonly athleteIds: readonly string[];
  readonly mode: StartMode;
  readonly assumeFromCues: boolean;
  readonly acceptedWarnings: ReadonlySet<string>;
}

export function planRunOptions(plan: Plan, start: PlanStart): PlanRunOptions {
  const { athleteIds, mode, assumeFromCues, acceptedWarnings } = start;
  const apartMs = mode === 'together' ? 0 : Math.round(startToStartMs(plan) / athleteIds.length);
  return {
    athletes: athleteIds.map((athleteId, index) => ({ athleteId, offsetMs: apartMs * index })),
    oneAtATime: athleteIds.length > 1 && mode === 'oneAtATime',
    assumeFromCues,
    acceptedWarnings: [...acceptedWarnings],
  };
}

/** From one start to the next of the same athlete: what is shared out among several. */
function startToStartMs(plan: Plan): number {
  const first = planSteps(plan)[0];
  if (first === undefined) return 0;
  return first.next.by === 'every' ? first.next.everyMs : (first.ceilingMs ?? 0) + first.next.recoveryMs;
}
