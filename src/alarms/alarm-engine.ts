// The alarm engine: a pure reducer from events to the alarms of one athlete and the sound they call for.
// It has no clock; time comes with events, and silence is judged by `advance`. Fail safe: no data is an alarm.

import type { AlarmKind, AlarmPriority } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { ActiveAlarm, AlarmEvent, EndedAlarm } from './alarm.ts';
import { type AlarmCondition, conditionsOf, isLatching, keyOfAlarm } from './alarm-conditions.ts';
import { alarmLimits as limits } from './alarm-limits.ts';
import {
  type AlarmMonitor,
  breachedOximeters,
  freshMonitor,
  isEndFresh,
  isVigilant,
  observe,
} from './alarm-monitor.ts';
import type { SettingsInForce } from './floor-setting.ts';

export interface AlarmOptions {
  /** Put before each alarm id, so that ids are unique in a session. */
  readonly idPrefix?: string;
  /** When monitoring begins; 0 when left out. */
  readonly startAtMs?: number;
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

/** The kinds for which one value is worse than another; others keep the value they were raised with only. */
const worseIs: Readonly<Partial<Record<AlarmKind, 'lower' | 'higher'>>> = {
  floorBreached: 'lower',
  floorForecast: 'lower',
  heartRateSuddenFall: 'lower',
  heartRateLow: 'lower',
  heartRateHigh: 'higher',
  saturationNotRecovering: 'lower',
};

/** The state at the start of monitoring. */
export function createAlarmState(settings: SettingsInForce, options: AlarmOptions = {}): AlarmState {
  return {
    alarms: [],
    audioPausedUntilMs: null,
    tracked: [],
    nextAlarmNumber: 1,
    idPrefix: options.idPrefix ?? 'alarm',
    monitor: freshMonitor(settings, options.startAtMs),
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

/**
 * True from the start of a hold to a minute after it, and after its end was said, or while the floor alarm stands: the floor
 * may not be lowered.
 */
export function isFloorLocked(state: AlarmState): boolean {
  return (
    isVigilant(state.monitor) ||
    isEndFresh(state.monitor) ||
    breachedOximeters(state.monitor).length > 0 ||
    state.alarms.some((alarm) => alarm.kind === 'floorBreached')
  );
}

/**
 * Takes in one event. `changed` is true when the alarms or the sound differ from before and must be sent; `ended` are
 * those that no longer stand, as they are to be kept.
 * Events may carry equal times; a time before the last one counts as the last one.
 * `advance` should come at least every 250 ms for the stated delays to hold.
 */
export function stepAlarms(
  state: AlarmState,
  event: AlarmEvent,
): { readonly state: AlarmState; readonly changed: boolean; readonly ended: readonly EndedAlarm[] } {
  const monitor = observe(state.monitor, event);
  const nowMs = monotonicMs(monitor.nowMs);
  if (event.type === 'sessionEnded') return endAll(state, monitor, nowMs);
  // A person's action concerns what stood before this moment, so a condition that arises now still sounds.
  const before =
    event.type === 'unwatched' && event.known !== undefined ? adopted(state, event.known) : state;
  const { state: acted, ended } = act(before, event, nowMs);
  const met = reconcile(acted, monitor, conditionsOf(monitor));
  let next = met.state;
  if (
    next.audioPausedUntilMs !== null &&
    // A pause silences only what was there: a new or worse alarm of high or medium priority ends it (cl. 6.8).
    (met.signals ||
      monitor.nowMs >= next.audioPausedUntilMs ||
      // A pause of nothing is no pause.
      next.alarms.every((alarm) => alarm.acknowledged))
  ) {
    next = { ...next, audioPausedUntilMs: null };
  }
  return {
    state: next,
    changed: met.changed || acted !== state || next.audioPausedUntilMs !== state.audioPausedUntilMs,
    ended: ended.length === 0 ? met.ended : [...ended, ...met.ended],
  };
}

/** What stood when another process watched stands still, as it was told; what was found since is found again. */
function adopted(
  state: AlarmState,
  known: NonNullable<Extract<AlarmEvent, { type: 'unwatched' }>['known']>,
): AlarmState {
  const tracked = known.alarms.map((alarm): Tracked => {
    const key = keyOfAlarm(alarm);
    // How deep it had got is known only where it was found again; else a deeper one sounds anew.
    const level = state.tracked.find((entry) => entry.key === key)?.level ?? 0;
    return { key, level, latching: isLatching(alarm.kind), alarm };
  });
  return {
    ...state,
    tracked,
    alarms: sortedAlarms(tracked),
    audioPausedUntilMs: null,
    idPrefix: known.alarmIdPrefix,
    nextAlarmNumber: 1,
  };
}

/** Whatever stands ends with the monitoring; a condition that was present is not said to have passed. */
function endAll(state: AlarmState, monitor: AlarmMonitor, nowMs: MonotonicMs): ReturnType<typeof stepAlarms> {
  return {
    state: { ...state, monitor, tracked: [], alarms: [], audioPausedUntilMs: null },
    changed: state.alarms.length > 0 || state.audioPausedUntilMs !== null,
    ended: state.alarms.map((alarm) => ({ ...alarm, endedAtMs: nowMs })),
  };
}

interface Acted {
  readonly state: AlarmState;
  readonly ended: readonly EndedAlarm[];
}
const nothingEnded: readonly never[] = [];

/** What a person did: acknowledge what is present, pause the sound, or end the pause. */
function act(state: AlarmState, event: AlarmEvent, nowMs: MonotonicMs): Acted {
  if (event.type === 'acknowledge') return acknowledge(state, event, nowMs);
  if (event.type !== 'pauseAudio') return { state, ended: nothingEnded };
  if (!event.paused)
    return {
      state: state.audioPausedUntilMs === null ? state : { ...state, audioPausedUntilMs: null },
      ended: nothingEnded,
    };
  // Pressing again does not lengthen a pause, and there is no pausing ahead of an alarm.
  if (soundOf(state).priority === null) return { state, ended: nothingEnded };
  return {
    state: { ...state, audioPausedUntilMs: monotonicMs(nowMs + limits.audioPauseMs) },
    ended: nothingEnded,
  };
}

function acknowledge(
  state: AlarmState,
  { alarmIds, by }: Extract<AlarmEvent, { type: 'acknowledge' }>,
  nowMs: MonotonicMs,
): Acted {
  const tracked: Tracked[] = [];
  const ended: EndedAlarm[] = [];
  let meant = false;
  for (const entry of state.tracked) {
    const { alarm } = entry;
    if (alarm.acknowledged || alarmIds?.includes(alarm.alarmId) === false) {
      tracked.push(entry);
      continue;
    }
    meant = true;
    const seen = {
      ...alarm,
      acknowledged: true,
      acknowledgedAtMs: nowMs,
      ...(by !== undefined && { acknowledgedBy: by }),
    };
    // A latched alarm whose condition has gone needs nothing but this.
    if (alarm.conditionPresent) tracked.push({ ...entry, alarm: seen });
    else ended.push({ ...seen, endedAtMs: nowMs });
  }
  // A pause is for what stands unacknowledged; `stepAlarms` ends it when nothing does.
  return { state: meant ? { ...state, tracked, alarms: sortedAlarms(tracked) } : state, ended };
}

function reconcile(
  state: AlarmState,
  monitor: AlarmMonitor,
  present: readonly AlarmCondition[],
): {
  readonly state: AlarmState;
  readonly changed: boolean;
  readonly signals: boolean;
  readonly ended: readonly EndedAlarm[];
} {
  if (state.tracked.length === 0 && present.length === 0)
    return {
      state: withTracked(state, monitor, state.alarms, state.tracked, state.nextAlarmNumber),
      changed: false,
      signals: false,
      ended: nothingEnded,
    };
  const holdNear = isVigilant(monitor);
  const nowMs = monotonicMs(monitor.nowMs);
  const tracked: Tracked[] = [];
  const ended: EndedAlarm[] = [];
  let changed = false;
  let signals = false;
  let { nextAlarmNumber } = state;

  for (let i = 0; i < state.tracked.length; i++) {
    const entry = state.tracked[i]!;
    const condition = withKey(present, entry.key);
    if (condition === undefined) {
      const passed = passedEntry(entry, nowMs);
      changed ||= passed !== entry;
      if (entry.latching && !entry.alarm.acknowledged) tracked.push(passed);
      else ended.push({ ...passed.alarm, endedAtMs: nowMs });
      continue;
    }
    const followed = followedEntry(entry, condition, holdNear, nowMs);
    changed ||= followed.entry !== entry;
    signals ||= followed.signals;
    tracked.push(followed.entry);
  }
  for (let i = 0; i < present.length; i++) {
    const condition = present[i]!;
    if (withKey(state.tracked, condition.key) !== undefined) continue;
    changed = true;
    if (condition.priority !== 'low') signals = true;
    tracked.push(raisedEntry(condition, `${state.idPrefix}-${nextAlarmNumber++}`, holdNear, nowMs));
  }
  const next = changed
    ? withTracked(state, monitor, sortedAlarms(tracked), tracked, nextAlarmNumber)
    : withTracked(state, monitor, state.alarms, state.tracked, state.nextAlarmNumber);
  return { state: next, changed, signals, ended };
}

/** By hand, because it is asked at every step and a function made for each asking costs more than the looking. */
function withKey<Keyed extends { readonly key: string }>(
  all: readonly Keyed[],
  key: string,
): Keyed | undefined {
  for (let i = 0; i < all.length; i++) if (all[i]!.key === key) return all[i];
  return undefined;
}

/** Field by field, because a spread of the whole state at each step costs much of its time. */
const withTracked = (
  { audioPausedUntilMs, idPrefix }: AlarmState,
  monitor: AlarmMonitor,
  alarms: readonly ActiveAlarm[],
  tracked: readonly Tracked[],
  nextAlarmNumber: number,
): AlarmState => ({ alarms, audioPausedUntilMs, monitor, tracked, nextAlarmNumber, idPrefix });

/** What of a condition is about the moment, not about how it was raised. */
function factsOf({ kind, limit, likely, subject, sensorId, detail }: AlarmCondition) {
  return {
    kind,
    ...(limit !== undefined && { limit }),
    ...(likely !== undefined && { likely }),
    ...(subject !== undefined && { subject }),
    ...(sensorId !== undefined && { sensorId }),
    ...(detail !== undefined && { detail }),
  };
}

function raisedEntry(
  condition: AlarmCondition,
  alarmId: string,
  holdNear: boolean,
  nowMs: MonotonicMs,
): Tracked {
  const { key, priority, value } = condition;
  return {
    key,
    level: condition.level ?? 0,
    latching: condition.latching ?? false,
    alarm: {
      alarmId,
      ...factsOf(condition),
      priority,
      highestPriority: priority,
      raisedAtMs: nowMs,
      conditionPresent: true,
      timesPresent: 1,
      acknowledged: false,
      ...(value !== undefined && { value }),
      ...worstOf(undefined, condition, nowMs),
      holdNear,
    },
  };
}

/** The condition is still there, or there again: the same entry when nothing about it is new. */
function followedEntry(
  entry: Tracked,
  condition: AlarmCondition,
  holdNear: boolean,
  nowMs: MonotonicMs,
): { readonly entry: Tracked; readonly signals: boolean } {
  const { alarm } = entry;
  const level = Math.max(entry.level, condition.level ?? 0);
  const worse = level > entry.level || priorityRank[condition.priority] < priorityRank[alarm.priority];
  const again = !alarm.conditionPresent;
  const otherKind = condition.kind !== alarm.kind;
  const worst = worstOf(otherKind ? undefined : alarm, condition, nowMs);
  const same =
    !worse &&
    !again &&
    !otherKind &&
    condition.priority === alarm.priority &&
    condition.detail === alarm.detail &&
    condition.limit === alarm.limit &&
    holdNear === alarm.holdNear &&
    worst.worstValue === alarm.worstValue;
  if (same) return { entry, signals: false };
  const { alarmId, raisedAtMs, acknowledgedAtMs, acknowledgedBy, value } = alarm;
  // Of another kind it is measured in another unit: then the value it has now is the one it came with.
  const raisedWith = otherKind ? condition.value : value;
  return {
    signals: (worse || again) && condition.priority !== 'low',
    entry: {
      ...entry,
      level,
      alarm: {
        alarmId,
        raisedAtMs,
        ...(acknowledgedAtMs !== undefined && { acknowledgedAtMs }),
        ...(acknowledgedBy !== undefined && { acknowledgedBy }),
        ...factsOf(condition),
        ...(!otherKind && alarm.likely !== undefined && { likely: alarm.likely }),
        priority: condition.priority,
        highestPriority:
          priorityRank[condition.priority] < priorityRank[alarm.highestPriority]
            ? condition.priority
            : alarm.highestPriority,
        conditionPresent: true,
        timesPresent: alarm.timesPresent + (again ? 1 : 0),
        acknowledged: alarm.acknowledged && !worse && !again,
        ...(raisedWith !== undefined && { value: raisedWith }),
        ...worst,
        holdNear,
      },
    },
  };
}

/** The condition is no longer there. */
function passedEntry(entry: Tracked, nowMs: MonotonicMs): Tracked {
  return entry.alarm.conditionPresent
    ? { ...entry, alarm: { ...entry.alarm, conditionPresent: false, passedAtMs: nowMs } }
    : entry;
}

function worstOf(
  alarm: ActiveAlarm | undefined,
  { kind, value }: AlarmCondition,
  nowMs: MonotonicMs,
): Pick<ActiveAlarm, 'worstValue' | 'worstAtMs'> {
  const direction = worseIs[kind];
  if (direction === undefined) return {};
  const before = alarm?.worstValue;
  if (value !== undefined) {
    const worse = before === undefined || (direction === 'lower' ? value < before : value > before);
    if (worse) return { worstValue: value, worstAtMs: nowMs };
  }
  return before === undefined
    ? {}
    : { worstValue: before, ...(alarm?.worstAtMs !== undefined && { worstAtMs: alarm.worstAtMs }) };
}

function sortedAlarms(tracked: readonly Tracked[]): readonly ActiveAlarm[] {
  return tracked
    .map((entry) => entry.alarm)
    .sort(
      (one, other) =>
        priorityRank[one.priority] - priorityRank[other.priority] || one.raisedAtMs - other.raisedAtMs,
    );
}
