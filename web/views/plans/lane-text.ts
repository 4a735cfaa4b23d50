// What a lane of a running plan says: its phase, what comes next, the time until then. Pure.

import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import type { Said } from '../../../shared/said.ts';
import type { AlarmView } from '../../../shared/views.ts';
import { clockText } from '../../../shared/words/formats.ts';
import type { Lane, PlanRunState } from '../../../src/plans/plan-run-state.ts';
import type { Messages } from '../../i18n/en.ts';

export const laneOf = (state: PlanRunState | null, athleteId: string): Lane | undefined =>
  state?.lanes.find((lane) => lane.athleteId === athleteId);

export function phaseText(lane: Lane | undefined, words: Messages['plans']): string {
  if (lane === undefined) return words.loading;
  if (lane.pausedAtMs !== null && lane.current === null) return words.phases.paused;
  const step = lane.records.at(-1)?.stepIndex;
  const effort = step === null || step === undefined ? 'hold' : lane.steps[step]?.effort;
  switch (lane.phase) {
    case 'waiting':
      if (lane.plannedStartAtMs === null) return words.phases.waitingForReady;
      return lane.lastEndAtMs === null ? words.phases.waitingFirst : words.phases.waiting;
    case 'open':
      return words.phases.open;
    case 'holding':
      return effort === 'swim' ? words.phases.swimming : words.phases.holding;
    default:
      return words.phases[lane.phase];
  }
}

/** A plan's words never speak against an alarm that asks to stop. Undefined where none stands. */
export function alarmedText(
  phase: Lane['phase'] | undefined,
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

/** The step of what the lane did or does last; undefined before the first and for a hold outside the plan. */
function lastStepOf(lane: Lane): Lane['steps'][number] | undefined {
  const stepIndex = lane.records.at(-1)?.stepIndex;
  return stepIndex === null || stepIndex === undefined ? undefined : lane.steps[stepIndex];
}

/** What is under way, or what comes next and why it waits. */
export function nextText(lane: Lane, words: Messages['plans'], say: (said: Said) => string): string {
  if (lane.phase === 'ended') return lane.endReason === null ? '' : words.endReason[lane.endReason];
  if (lane.phase === 'holding') {
    const record = lane.records.at(-1);
    const step = lastStepOf(lane);
    const parts = step === undefined ? [] : [say(step.label)];
    if (record?.startSource === 'assumed') parts.push(words.assumedNow);
    if (step !== undefined && step.poolLengthMeters !== null) {
      const laps = record?.lapsAtMs.length ?? 0;
      parts.push(words.lapCount(laps, `${laps * step.poolLengthMeters}\u202fm`));
    }
    return parts.join(' \u00b7 ');
  }
  if (lane.phase !== 'waiting') return '';
  const step = lane.steps[lane.nextIndex];
  const label = step === undefined ? '' : say(step.label);
  return lane.plannedStartAtMs === null
    ? words.nextStartWaits(label, lane.waitedFor.map((why) => words.wait[why]).join(', '))
    : words.nextStart(label);
}

/** Time until the next planned start; empty where there is none. */
export function countdownText(lane: Lane, nowMs: number): string {
  if (lane.phase !== 'waiting' || lane.plannedStartAtMs === null || lane.pausedAtMs !== null) return '';
  return clockText(Math.ceil((lane.plannedStartAtMs - nowMs) / 1_000) * 1_000);
}

/** Which buttons a lane needs. */
export interface LaneChoices {
  readonly phase: Lane['phase'];
  readonly notReady: boolean;
  readonly laps: boolean;
  readonly comfort: boolean;
  readonly more: boolean;
}

export function laneChoices(lane: Lane): LaneChoices {
  const record = lane.records.at(-1);
  const step = lastStepOf(lane);
  return {
    phase: lane.phase,
    notReady: lane.notReady,
    laps: lane.current !== null && step !== undefined && step.poolLengthMeters !== null,
    comfort:
      lane.current === null && record !== undefined && record.endedAtMs !== null && record.comfort === null,
    more: lane.nextIndex < lane.steps.length,
  };
}

type WithoutPlaceAndTime<Event> = Event extends unknown ? Omit<Event, 'atMs' | 'athleteId'> : never;
type OfAthlete = Exclude<PlanRunEvent, { readonly type: 'time' | 'away' }>;

/** What a person can say of one lane; the hub gives it its time. */
export type LaneEvent = WithoutPlaceAndTime<OfAthlete>;
