// What an athlete's run of a plan says: its phase, what comes next, the time until then. Pure.

import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import type { Said } from '../../../shared/said.ts';
import type { AlarmView } from '../../../shared/views.ts';
import { clockText } from '../../../shared/words/formats.ts';
import type { AthleteRun, PlanRunState } from '../../../src/plans/plan-run-state.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatLength } from '../../state/format.ts';

export const athleteRunOf = (state: PlanRunState | null, athleteId: string): AthleteRun | undefined =>
  state?.athleteRuns.find((athleteRun) => athleteRun.athleteId === athleteId);

export function phaseText(athleteRun: AthleteRun | undefined, words: Messages['plans']): string {
  if (athleteRun === undefined) return words.loading;
  if (athleteRun.pausedAtMs !== null && athleteRun.current === null) return words.phases.paused;
  const step = athleteRun.records.at(-1)?.stepIndex;
  const effort = step === null || step === undefined ? 'hold' : athleteRun.steps[step]?.effort;
  switch (athleteRun.phase) {
    case 'waiting':
      if (athleteRun.plannedStartAtMs === null) return words.phases.waitingForReady;
      return athleteRun.lastEndAtMs === null ? words.phases.waitingFirst : words.phases.waiting;
    case 'open':
      return words.phases.open;
    case 'holding':
      return effort === 'swim' ? words.phases.swimming : words.phases.holding;
    default:
      return words.phases[athleteRun.phase];
  }
}

/** A plan's words never speak against an alarm that asks to stop. Undefined where none stands. */
export function alarmedText(
  phase: AthleteRun['phase'] | undefined,
  alarms: readonly Pick<AlarmView, 'kind' | 'priority' | 'conditionPresent'>[],
  words: Pick<Messages['plans'], 'phases'>,
): string | undefined {
  const asksToStop = alarms.some(
    ({ kind, priority, conditionPresent }) =>
      conditionPresent && (priority === 'high' || kind === 'floorForecast'),
  );
  if (!asksToStop) return undefined;
  if (phase === 'holding') return words.phases.breatheNow;
  return phase === 'open' || phase === 'free' ? words.phases.alarmFirst : undefined;
}

/** The step of what the athlete did or does last; undefined before the first and for a hold outside the plan. */
function lastStepOf(athleteRun: AthleteRun): AthleteRun['steps'][number] | undefined {
  const stepIndex = athleteRun.records.at(-1)?.stepIndex;
  return stepIndex === null || stepIndex === undefined ? undefined : athleteRun.steps[stepIndex];
}

/** What is under way, or what comes next and why it waits. */
export function nextText(
  athleteRun: AthleteRun,
  words: Messages['plans'],
  say: (said: Said) => string,
): string {
  if (athleteRun.phase === 'ended')
    return athleteRun.endReason === null ? '' : words.endReason[athleteRun.endReason];
  if (athleteRun.phase === 'holding') {
    const record = athleteRun.records.at(-1);
    const step = lastStepOf(athleteRun);
    const parts = step === undefined ? [] : [say(step.label)];
    if (record?.startSource === 'assumed') parts.push(words.assumedNow);
    if (step !== undefined && step.poolLengthMeters !== null) {
      const laps = record?.lapsAtMs.length ?? 0;
      parts.push(words.lapCount(laps, formatLength(laps * step.poolLengthMeters)));
    }
    return parts.join(' \u00b7 ');
  }
  if (athleteRun.phase !== 'waiting') return '';
  const step = athleteRun.steps[athleteRun.nextIndex];
  const label = step === undefined ? '' : say(step.label);
  return athleteRun.plannedStartAtMs === null
    ? words.nextStartWaits(label, athleteRun.waitedFor.map((why) => words.wait[why]).join(', '))
    : words.nextStart(label);
}

/** Time until the next planned start; empty where there is none. */
export function countdownText(athleteRun: AthleteRun, nowMs: number): string {
  if (
    athleteRun.phase !== 'waiting' ||
    athleteRun.plannedStartAtMs === null ||
    athleteRun.pausedAtMs !== null
  )
    return '';
  return clockText(Math.ceil((athleteRun.plannedStartAtMs - nowMs) / 1_000) * 1_000);
}

/** Which buttons an athlete's run needs. */
export interface AthleteRunChoices {
  readonly phase: AthleteRun['phase'];
  readonly notReady: boolean;
  readonly laps: boolean;
  readonly comfort: boolean;
  readonly more: boolean;
}

export function athleteRunChoices(athleteRun: AthleteRun): AthleteRunChoices {
  const record = athleteRun.records.at(-1);
  const step = lastStepOf(athleteRun);
  return {
    phase: athleteRun.phase,
    notReady: athleteRun.notReady,
    laps: athleteRun.current !== null && step !== undefined && step.poolLengthMeters !== null,
    comfort:
      athleteRun.current === null &&
      record !== undefined &&
      record.endedAtMs !== null &&
      record.comfort === null,
    more: athleteRun.nextIndex < athleteRun.steps.length,
  };
}

type WithoutPlaceAndTime<Event> = Event extends unknown ? Omit<Event, 'atMs' | 'athleteId'> : never;
type OfAthlete = Exclude<PlanRunEvent, { readonly type: 'time' | 'away' }>;

/** What a person can say of one athlete's run; the hub gives it its time. */
export type AthleteRunEvent = WithoutPlaceAndTime<OfAthlete>;
