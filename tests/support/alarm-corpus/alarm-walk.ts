// Walks through the alarm engine's states by every sequence of a small alphabet of events, and judges each state by what
// is true: no state may have a condition that is true and no alarm of it, nor an alarm without its signal. The judge
// knows readings, links, holds and presses; it shares no rule with the engine.

import { monotonicMs, percent } from '../../../shared/units.ts';
import type { AlarmEvent } from '../../../src/alarms/alarm.ts';
import { type AlarmState, createAlarmState, soundOf, stepAlarms } from '../../../src/alarms/alarm-engine.ts';
import { settingsInForce } from '../../../src/alarms/floor-setting.ts';

const floorPercent = 88;
const maxHoldDurationMs = 12_000;
const settings = settingsInForce({
  floorSpo2Percent: percent(floorPercent),
  thresholdsPercent: [],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs,
  forecastAlarm: 'high',
});

export const symbols = [
  'a low',
  'a lower by a jump, doubted',
  'a high',
  'a invalid',
  'b low',
  'b high',
  'wait 4 s',
  'hold starts',
  'hold ends',
  'acknowledge',
  'pause',
  'a unlinked',
  'a linked',
] as const;
export type WalkSymbol = (typeof symbols)[number];

interface SensorTruth {
  readonly seen: boolean;
  readonly linked: boolean;
  readonly lastUsableMs: number;
  readonly lowSinceMs: number | null;
  readonly lastLowMs: number;
}

export interface WalkState {
  readonly engine: AlarmState;
  readonly nowMs: number;
  readonly holds: number;
  readonly holdStartedMs: number | null;
  readonly a: SensorTruth;
  readonly b: SensorTruth;
}

const unseen: SensorTruth = { seen: false, linked: true, lastUsableMs: 0, lowSinceMs: null, lastLowMs: 0 };

export const freshWalk = (): WalkState => ({
  engine: createAlarmState(settings),
  nowMs: 0,
  holds: 0,
  holdStartedMs: null,
  a: unseen,
  b: unseen,
});

function withReading(truth: SensorTruth, nowMs: number, value: number): SensorTruth {
  const low = value < floorPercent;
  return {
    ...truth,
    seen: true,
    lastUsableMs: nowMs,
    lowSinceMs: low ? (truth.lowSinceMs ?? nowMs) : null,
    lastLowMs: low ? nowMs : truth.lastLowMs,
  };
}

/** One symbol: a second passes (four for a wait), then it happens, then time is told. */
export function walk(state: WalkState, symbol: WalkSymbol): WalkState {
  const nowMs = state.nowMs + (symbol === 'wait 4 s' ? 4_000 : 1_000);
  const atMs = monotonicMs(nowMs);
  let next: WalkState = { ...state, nowMs };
  let { engine } = state;
  const push = (event: AlarmEvent): void => {
    engine = stepAlarms(engine, event).state;
  };
  for (let ms = state.nowMs + 250; ms < nowMs; ms += 250) push({ type: 'advance', atMs: monotonicMs(ms) });
  const read = (sensor: 'a' | 'b', value: number, doubted = false): void => {
    push({
      type: 'spo2',
      atMs,
      spo2Percent: value,
      quality: doubted ? 'suspect' : 'good',
      reasons: doubted ? ['poorSignal'] : [],
      sensorId: sensor,
    });
    next = { ...next, [sensor]: withReading(next[sensor], nowMs, value) };
  };
  const hold = (): { holdId: string; start: { atMs: ReturnType<typeof monotonicMs> } } => ({
    holdId: `h${next.holds}`,
    start: { atMs: monotonicMs(next.holdStartedMs ?? nowMs) },
  });
  switch (symbol) {
    case 'a low':
      read('a', 87);
      break;
    case 'a lower by a jump, doubted':
      read('a', 70, true);
      break;
    case 'a high':
      read('a', 97);
      break;
    case 'a invalid':
      push({ type: 'spo2', atMs, spo2Percent: 60, quality: 'bad', reasons: ['poorSignal'], sensorId: 'a' });
      next = {
        ...next,
        a: { ...next.a, seen: true, lastUsableMs: next.a.seen ? next.a.lastUsableMs : nowMs },
      };
      break;
    case 'b low':
      read('b', 86);
      break;
    case 'b high':
      read('b', 98);
      break;
    case 'hold starts':
      next = { ...next, holds: next.holds + 1, holdStartedMs: nowMs };
      push({ type: 'hold', atMs, change: 'started', hold: hold() });
      break;
    case 'hold ends':
      if (next.holdStartedMs === null) break;
      push({ type: 'hold', atMs, change: 'ended', hold: { ...hold(), end: { atMs } } });
      next = { ...next, holdStartedMs: null };
      break;
    case 'acknowledge':
      push({ type: 'acknowledge', atMs });
      break;
    case 'pause':
      push({ type: 'pauseAudio', atMs, paused: true });
      break;
    case 'a unlinked':
    case 'a linked': {
      const connected = symbol === 'a linked';
      push({ type: 'link', atMs, sensorId: 'a', measures: ['oximeter'], connected });
      // One that has just linked has until its first notification.
      const first = connected && !next.a.seen;
      const seen = next.a.seen || connected;
      next = {
        ...next,
        a: { ...next.a, seen, linked: connected, ...(first && { lastUsableMs: nowMs }) },
      };
      break;
    }
    case 'wait 4 s':
      break;
  }
  push({ type: 'advance', atMs });
  return { ...next, engine };
}

const rank = { high: 3, medium: 2, low: 1 } as const;

/** What is wrong with a state, or null. */
export function brokenPromise(state: WalkState): string | null {
  const { engine, nowMs, holdStartedMs } = state;
  const present = (kinds: readonly string[], least: keyof typeof rank) =>
    engine.alarms.filter(
      (alarm) => kinds.includes(alarm.kind) && alarm.conditionPresent && rank[alarm.priority] >= rank[least],
    );
  for (const [name, truth] of [
    ['a', state.a],
    ['b', state.b],
  ] as const)
    if (truth.lowSinceMs !== null && truth.lastLowMs - truth.lowSinceMs >= 3_000)
      if (present(['floorBreached'], 'high').length === 0)
        return `${name} is below the floor and no alarm stands`;
  if (holdStartedMs !== null) {
    const heldMs = nowMs - holdStartedMs;
    if (heldMs >= maxHoldDurationMs && present(['maxDuration'], 'medium').length === 0)
      return 'the hold is too long and no alarm stands';
    const blind = [state.a, state.b].every(
      ({ seen, linked, lastUsableMs }) => !seen || !linked || nowMs - lastUsableMs >= 10_000,
    );
    const anySeen = state.a.seen || state.b.seen;
    if (blind && anySeen && present(['sensorLost', 'signalPoor', 'readingsImplausible'], 'high').length === 0)
      return 'nothing watches saturation in a hold and no high alarm stands';
    if (!anySeen && heldMs >= 5_000 && present(['sensorLost'], 'medium').length === 0)
      return 'a hold without any oximeter and no alarm';
  }
  const { priority, audioPausedUntilMs } = soundOf(engine);
  if (audioPausedUntilMs !== null && audioPausedUntilMs <= nowMs) return 'a pause that is over goes on';
  for (const alarm of engine.alarms) {
    if (alarm.acknowledged) {
      if (alarm.acknowledgedAtMs === undefined) return 'acknowledged by nobody';
      continue;
    }
    if (audioPausedUntilMs === null && (priority === null || rank[priority] < rank[alarm.priority]))
      return `${alarm.kind} stands without its signal`;
  }
  return null;
}

/** Where the walks begin: nothing known, a hold with good readings, a breach, the minute after a hold, a lost sensor. */
export const beginnings: readonly (readonly WalkSymbol[])[] = [
  [],
  ['a linked', 'a high', 'b high', 'a high', 'hold starts', 'a high'],
  ['a linked', 'a high', 'hold starts', 'a low', 'a low', 'a low', 'a low', 'acknowledge'],
  ['a linked', 'a high', 'hold starts', 'a high', 'a high', 'hold ends', 'a high'],
  ['a linked', 'a high', 'b high', 'hold starts', 'a unlinked', 'wait 4 s', 'acknowledge'],
];

/** Every sequence of so many symbols from a beginning. Answers how many steps were taken; throws at a broken promise. */
export function walkAll(beginning: readonly WalkSymbol[], depth: number): number {
  let steps = 0;
  const path: WalkSymbol[] = [];
  const take = (state: WalkState, symbol: WalkSymbol): WalkState => {
    const next = walk(state, symbol);
    steps += 1;
    path.push(symbol);
    const broken = brokenPromise(next);
    if (broken !== null) throw new Error(`${broken} after: ${path.join(', ')}`);
    return next;
  };
  const start = beginning.reduce(take, freshWalk());
  const descend = (state: WalkState, left: number): void => {
    if (left === 0) return;
    for (const symbol of symbols) {
      descend(take(state, symbol), left - 1);
      path.pop();
    }
  };
  descend(start, depth);
  return steps;
}
