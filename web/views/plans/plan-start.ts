// How a plan is started with several athletes: who, at one time, one after the other or in waves, and with which warnings
// accepted. Pure.

import type { Plan } from '../../../shared/plan.ts';
import type { PlanRunOptions } from '../../../shared/plan-run.ts';
import { planSteps } from '../../../src/plans/plan-steps.ts';

/** At one time, in waves, shared out over the interval, or never two holding at once. */
export const startModes = ['together', 'waves', 'staggered', 'oneAtATime'] as const;
export type StartMode = (typeof startModes)[number];

/** Those of the running session, who are most likely meant; else the first known. */
export const likelyAthleteIds = (
  sessionAthleteIds: readonly string[],
  knownIds: readonly string[],
): readonly string[] => (sessionAthleteIds.length > 0 ? sessionAthleteIds : knownIds.slice(0, 1));

/** With the athlete, or without where they were chosen. */
export const toggledAthleteIds = (chosenIds: readonly string[], athleteId: string): readonly string[] =>
  chosenIds.includes(athleteId) ? chosenIds.filter((id) => id !== athleteId) : [...chosenIds, athleteId];

/** How many waves, how far apart, and who was put in another than their turn in the list gives them. */
export interface WaveChoice {
  readonly count: number;
  /** `hold`: as long as the plan's first hold may last. */
  readonly apart: { readonly by: 'seconds'; readonly seconds: number } | { readonly by: 'hold' };
  readonly moved: ReadonlyMap<string, number>;
}

export const firstWaveChoice: WaveChoice = { count: 2, apart: { by: 'hold' }, moved: new Map() };

export interface PlanStart {
  readonly athleteIds: readonly string[];
  readonly mode: StartMode;
  readonly waves: WaveChoice;
  readonly assumeFromCues: boolean;
  readonly acceptedWarnings: ReadonlySet<string>;
  /** Takes the place of a first hold without a longest length. */
  readonly longestHoldMs: number;
}

/** Which wave each is in, from 0, in as many as there are people for. */
export function waveOf(
  athleteIds: readonly string[],
  { count, moved }: WaveChoice,
): ReadonlyMap<string, number> {
  const waves = Math.max(1, Math.min(count, athleteIds.length));
  const inOne = Math.ceil(athleteIds.length / waves);
  return new Map(
    athleteIds.map((id, index) => [id, Math.min(moved.get(id) ?? Math.floor(index / inOne), waves - 1)]),
  );
}

/** From the start of one wave to the next. */
export function wavesApartMs(plan: Plan, { apart }: WaveChoice, longestHoldMs: number): number {
  if (apart.by === 'seconds') return apart.seconds * 1_000;
  return planSteps(plan)[0]?.ceilingMs ?? longestHoldMs;
}

/** The latest start that a run can be given (shared/plan-run.ts). */
const latestOffsetMs = 3_600_000;

export function planRunOptions(plan: Plan, start: PlanStart): PlanRunOptions {
  const { athleteIds, mode, waves, assumeFromCues, acceptedWarnings } = start;
  const wave = waveOf(athleteIds, waves);
  const offsetMs = (athleteId: string, index: number): number => {
    if (mode === 'together') return 0;
    if (mode === 'waves') return (wave.get(athleteId) ?? 0) * wavesApartMs(plan, waves, start.longestHoldMs);
    return Math.round(startToStartMs(plan) / athleteIds.length) * index;
  };
  return {
    athletes: athleteIds.map((athleteId, index) => ({
      athleteId,
      offsetMs: Math.min(latestOffsetMs, offsetMs(athleteId, index)),
    })),
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

/** Who starts together, in order of their starts. */
export interface Wave {
  readonly offsetMs: number;
  readonly athleteIds: readonly string[];
}

/** The waves of a run; one where all start at one time. */
export function wavesOf({ athletes }: Pick<PlanRunOptions, 'athletes'>): readonly Wave[] {
  const offsets = [...new Set(athletes.map(({ offsetMs }) => offsetMs))].sort((a, b) => a - b);
  return offsets.map((offsetMs) => ({
    offsetMs,
    athleteIds: athletes.filter((each) => each.offsetMs === offsetMs).map(({ athleteId }) => athleteId),
  }));
}
