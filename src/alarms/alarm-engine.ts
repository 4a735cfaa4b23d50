// The alarm engine: a pure reducer from events to the alarms of one athlete and the sound they call for.
// It has no clock; time comes with events, and silence is judged by `advance`. Fail safe: no data is an alarm.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { AthleteSettings } from '../../shared/views.ts';
import type { ActiveAlarm, AlarmEvent } from './alarm.ts';
import { type AlarmCondition, conditionsOf } from './alarm-conditions.ts';
import { alarmLimits as limits } from './alarm-limits.ts';
import { type AlarmMonitor, freshMonitor, isVigilant, observe } from './alarm-monitor.ts';
import { alarmText } from './alarm-texts.ts';

export interface AlarmOptions {
  /** Put before each alarm id, so that ids are unique in a session. */
  readonly idPrefix?: string;
}

/** What the page and the hub should be sounding. `priority` is null while nothing sounds, paused or not. */
export interface AlarmSound {
  readonly priority: AlarmPriority | null;
  readonly audioPausedUntilMs: MonotonicMs | null;
}

/** An alarm with what the engine needs to follow it. */
interface Tracked {
  readonly key: string;
  /** Rises as a condition gets worse; each rise sounds again. */
  readonly level: number;
  readonly latching: boolean;
  readonly alarm: ActiveAlarm;
}

/** The engine's whole state: a plain value, never changed in place. */
export interface AlarmState {
  /** Sorted by priority, then oldest first. */
  readonly alarms: readonly ActiveAlarm[];
  readonly audioPausedUntilMs: MonotonicMs | null;
  readonly monitor: AlarmMonitor;
  readonly tracked: readonly Tracked[];
  readonly nextAlarmNumber: number;
  readonly idPrefix: string;
}

const priorityRank: Readonly<Record<AlarmPriority, number>> = { high: 0, medium: 1, low: 2 };

/** The state at the start of monitoring. A floor outside the allowed range is brought into it. */
export function createAlarmState(settings: AthleteSettings, options: AlarmOptions = {}): AlarmState {
  return {
    alarms: [],
    audioPausedUntilMs: null,
    tracked: [],
    nextAlarmNumber: 1,
    idPrefix: options.idPrefix ?? 'alarm',
    monitor: freshMonitor(settings),
  };
}

/** What should sound now: the highest priority not acknowledged, unless a person paused the sound. */
export function soundOf(state: AlarmState): AlarmSound {
  if (state.audioPausedUntilMs !== null)
    return { priority: null, audioPausedUntilMs: state.audioPausedUntilMs };
  // `alarms` is sorted by priority, so the first one not acknowledged is the highest.
  const sounding = state.alarms.find((alarm) => !alarm.acknowledged);
  return { priority: sounding?.priority ?? null, audioPausedUntilMs: null };
}

/** True from the start of a hold to a minute after it, or while the floor alarm stands: the floor may not be lowered. */
export function isFloorLocked(state: AlarmState): boolean {
  return (
    isVigilant(state.monitor) ||
    state.monitor.floor.breached ||
    state.alarms.some((alarm) => alarm.kind === 'floorBreached')
  );
}

/**
 * Takes in one event. `changed` is true when the alarms or the sound differ from before and must be sent.
 * Events may carry equal times; a time before the last one counts as the last one.
 * `advance` should come at least every 250 ms for the stated delays to hold.
 */
export function stepAlarms(
  state: AlarmState,
  event: AlarmEvent,
): { readonly state: AlarmState; readonly changed: boolean } {
  const monitor = observe(state.monitor, event, isFloorLocked(state));
  // A person's action concerns what stood before this moment, so a condition that arises now still sounds.
  const acted = act(state, event, monitor.nowMs);
  const { state: met, changed, signals } = reconcile(acted, monitor, conditionsOf(monitor));
  let next = met;
  if (
    next.audioPausedUntilMs !== null &&
    // A pause silences only what was there: a new or worse alarm of high or medium priority ends it (cl. 6.8).
    (signals ||
      monitor.nowMs >= next.audioPausedUntilMs ||
      // A pause of nothing is no pause.
      next.alarms.every((alarm) => alarm.acknowledged))
  ) {
    next = { ...next, audioPausedUntilMs: null };
  }
  return {
    state: next,
    changed: changed || acted !== state || next.audioPausedUntilMs !== state.audioPausedUntilMs,
  };
}

/** What a person did: acknowledge what is present, pause the sound, or end the pause. */
function act(state: AlarmState, event: AlarmEvent, nowMs: number): AlarmState {
  if (event.type === 'acknowledge') {
    const { alarmIds } = event;
    const isMeant = ({ alarm }: Tracked): boolean =>
      !alarm.acknowledged && (alarmIds === undefined || alarmIds.includes(alarm.alarmId));
    if (!state.tracked.some(isMeant)) return state;
    const tracked = state.tracked
      // A latched alarm whose condition has gone needs nothing but this.
      .filter((entry) => entry.alarm.conditionPresent || !isMeant(entry))
      .map((entry) => (isMeant(entry) ? { ...entry, alarm: { ...entry.alarm, acknowledged: true } } : entry));
    // A pause is for what stands unacknowledged; `stepAlarms` ends it when nothing does.
    return { ...state, tracked, alarms: sortedAlarms(tracked) };
  }
  if (event.type !== 'pauseAudio') return state;
  if (!event.paused)
    return state.audioPausedUntilMs === null ? state : { ...state, audioPausedUntilMs: null };
  // Pressing again does not lengthen a pause, and there is no pausing ahead of an alarm.
  if (soundOf(state).priority === null) return state;
  return { ...state, audioPausedUntilMs: monotonicMs(nowMs + limits.audioPauseMs) };
}

function reconcile(
  state: AlarmState,
  monitor: AlarmMonitor,
  present: readonly AlarmCondition[],
): { readonly state: AlarmState; readonly changed: boolean; readonly signals: boolean } {
  const holdNear = isVigilant(monitor);
  const nowMs = monotonicMs(monitor.nowMs);
  const tracked: Tracked[] = [];
  let changed = false;
  let signals = false;
  let nextAlarmNumber = state.nextAlarmNumber;

  for (const entry of state.tracked) {
    const condition = present.find((candidate) => candidate.key === entry.key);
    if (condition === undefined) {
      if (!entry.latching || entry.alarm.acknowledged) {
        changed = true;
        continue;
      }
      if (entry.alarm.conditionPresent) {
        changed = true;
        tracked.push({ ...entry, alarm: { ...entry.alarm, conditionPresent: false } });
      } else tracked.push(entry);
      continue;
    }
    const level = Math.max(entry.level, condition.level ?? 0);
    const worse =
      level > entry.level || priorityRank[condition.priority] < priorityRank[entry.alarm.priority];
    const again = !entry.alarm.conditionPresent;
    const same =
      !worse && !again && condition.kind === entry.alarm.kind && condition.priority === entry.alarm.priority;
    if (same) {
      tracked.push(entry);
      continue;
    }
    changed = true;
    if ((worse || again) && condition.priority !== 'low') signals = true;
    tracked.push({
      ...entry,
      level,
      alarm: {
        ...entry.alarm,
        kind: condition.kind,
        priority: condition.priority,
        conditionPresent: true,
        acknowledged: entry.alarm.acknowledged && !worse && !again,
        ...(condition.value === undefined ? {} : { value: condition.value }),
        ...alarmText({ ...condition, holdNear }),
      },
    });
  }

  for (const condition of present) {
    if (state.tracked.some((entry) => entry.key === condition.key)) continue;
    changed = true;
    if (condition.priority !== 'low') signals = true;
    tracked.push({
      key: condition.key,
      level: condition.level ?? 0,
      latching: condition.latching ?? false,
      alarm: {
        alarmId: `${state.idPrefix}-${nextAlarmNumber++}`,
        kind: condition.kind,
        priority: condition.priority,
        raisedAtMs: nowMs,
        conditionPresent: true,
        acknowledged: false,
        ...(condition.value === undefined ? {} : { value: condition.value }),
        ...alarmText({ ...condition, holdNear }),
      },
    });
  }

  return changed
    ? {
        state: { ...state, monitor, tracked, alarms: sortedAlarms(tracked), nextAlarmNumber },
        changed,
        signals,
      }
    : {
        state: {
          alarms: state.alarms,
          audioPausedUntilMs: state.audioPausedUntilMs,
          monitor,
          tracked: state.tracked,
          nextAlarmNumber: state.nextAlarmNumber,
          idPrefix: state.idPrefix,
        },
        changed,
        signals,
      };
}

function sortedAlarms(tracked: readonly Tracked[]): readonly ActiveAlarm[] {
  return tracked
    .map((entry) => entry.alarm)
    .sort(
      (one, other) =>
        priorityRank[one.priority] - priorityRank[other.priority] || one.raisedAtMs - other.raisedAtMs,
    );
}
