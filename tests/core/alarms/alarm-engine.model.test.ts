// Model check of the alarm engine: long random stories, and after every step the promises that keep people safe.
// The checker knows only the events, the alarms and the sound; it shares no rule with the engine.

import * as fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs, percent } from '../../../shared/units.ts';
import { alarmTextInEnglish } from '../../../shared/words/en-alarms.ts';
import type { AlarmEvent } from '../../../src/alarms/alarm.ts';
import { type AlarmState, createAlarmState, soundOf, stepAlarms } from '../../../src/alarms/alarm-engine.ts';
import { settingsInForce } from '../../../src/alarms/floor-setting.ts';

const settings = settingsInForce({
  floorSpo2Percent: percent(88),
  thresholdsPercent: [],
  heartRateLowBpm: 40,
  heartRateHighBpm: 150,
  maxHoldDurationMs: 120_000,
  forecastAlarm: 'high',
});
const pauseLimitMs = 60_000;
const rank = { high: 0, medium: 1, low: 2 } as const;

/** Mulberry32: a small public-domain generator, so that a million steps are the same on every machine. */
function seeded(seed: number): () => number {
  let a = seed >>> 0;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** Makes the next event of a random but lifelike life: saturation wanders so that floors are crossed often. */
function lifeOf(random: () => number): () => AlarmEvent {
  let nowMs = 0;
  let spo2 = 97;
  let heartRate = 70;
  let holds = 0;
  const ago = (ms: number) => ({ atMs: monotonicMs(Math.max(0, nowMs - ms)) });
  const pick = <Item>(items: readonly Item[]): Item => items[Math.floor(random() * items.length)]!;
  return () => {
    nowMs += pick([0, 10, 250, 250, 250, 1_000, 1_000, random() < 0.02 ? 15_000 : 500]);
    const atMs = monotonicMs(nowMs);
    const roll = random();
    if (roll < 0.3) {
      spo2 = Math.min(100, Math.max(60, spo2 + (random() - 0.5) * 3 + (random() < 0.01 ? 20 : 0)));
      const spike = random() < 0.02 ? pick([0, 50, 127, -5, Number.NaN, Number.POSITIVE_INFINITY]) : spo2;
      const quality = pick(['good', 'good', 'good', 'suspect', 'bad'] as const);
      return { type: 'spo2', atMs, spo2Percent: spike, quality, reasons: [], sensorId: 'ox' };
    }
    if (roll < 0.5) {
      heartRate = Math.min(200, Math.max(25, heartRate + (random() - 0.5) * 12));
      return {
        type: 'heartRate',
        atMs,
        heartRateBpm: heartRate,
        quality: pick(['good', 'suspect', 'bad'] as const),
        sensorId: 'hr',
      };
    }
    if (roll < 0.65) return { type: 'advance', atMs };
    if (roll < 0.7) return { type: 'pulseRate', atMs, pulseRateBpm: 40 + random() * 60, sensorId: 'ox' };
    if (roll < 0.74)
      return {
        type: 'noValue',
        atMs,
        sensorId: pick(['ox', 'hr']),
        reasons: pick([['noContact'], ['poorSignal'], []] as const),
      };
    if (roll < 0.78) {
      const seconds = random() * 40;
      return {
        type: 'forecast',
        atMs,
        forecast:
          random() < 0.3
            ? { known: false, reason: 'flat' }
            : {
                known: true,
                lowestIfStoppedNow: {
                  percent: spo2 - 3,
                  lowPercent: spo2 - 6,
                  highPercent: spo2,
                  central: { lowPercent: spo2 - 4, highPercent: spo2 - 1 },
                },
                secondsToStop: { seconds, lowSeconds: seconds / 2, highSeconds: seconds * 2 },
                stopAdvised: seconds < 4,
                onlyIfEmptied: random() < 0.5,
              },
      };
    }
    if (roll < 0.8)
      return {
        type: 'phase',
        atMs,
        phase: pick(['unknown', 'resting', 'readying', 'holding', 'recovering'] as const),
      };
    if (roll < 0.82)
      return { type: 'hold', atMs, change: 'started', hold: { holdId: `h${++holds}`, start: ago(3_000) } };
    if (roll < 0.825)
      return {
        type: 'hold',
        atMs,
        change: 'revised',
        hold: {
          holdId: `h${holds - (random() < 0.2 ? 1 : 0)}`,
          start: ago(random() * 60_000),
          ...(random() < 0.4 && { probableEnd: ago(random() * 30_000) }),
        },
      };
    if (roll < 0.84)
      return {
        type: 'hold',
        atMs,
        change: 'ended',
        hold: { holdId: `h${holds}`, start: ago(60_000), end: ago(5_000) },
      };
    if (roll < 0.845) return { type: 'holdWithdrawn', atMs, holdId: `h${holds - (random() < 0.2 ? 1 : 0)}` };
    if (roll < 0.85) return { type: 'breathingSeen', atMs };
    if (roll < 0.855) return { type: 'answered', atMs };
    if (roll < 0.88) {
      const sensor = pick([
        ['ox', 'oximeter'],
        ['hr', 'heartRate'],
      ] as const);
      return { type: 'link', atMs, sensorId: sensor[0], measures: [sensor[1]], connected: random() < 0.7 };
    }
    if (roll < 0.885)
      return { type: 'battery', atMs, sensorId: pick(['ox', 'hr']), batteryPercent: random() * 100 };
    if (roll < 0.9)
      return { type: 'outputs', atMs, livingPageCount: pick([0, 1, 2]), soundReadyCount: pick([0, 1]) };
    if (roll < 0.91) {
      const changed = {
        ...settings,
        floorSpo2Percent: percent(70 + random() * 25),
        forecastAlarm: pick(['high', 'medium', 'off'] as const),
      };
      return { type: 'settings', atMs, settings: settingsInForce(changed) };
    }
    if (roll < 0.93) return { type: 'acknowledge', atMs };
    if (roll < 0.95)
      return {
        type: 'acknowledge',
        atMs,
        alarmIds: [1, 2, 3].map(() => `alarm-${1 + Math.floor(random() * 60)}`),
      };
    return { type: 'pauseAudio', atMs, paused: random() < 0.8 };
  };
}

/** Follows one story and says which promise is broken, or null. */
class Checker {
  state: AlarmState = createAlarmState(settings);
  pausedByPersonAtMs: number | null = null;
  seen = { high: 0, paused: 0, latched: 0, rearmed: 0 };

  take(event: AlarmEvent): string | null {
    const before = this.state;
    const soundBefore = soundOf(before);
    const { state, changed } = stepAlarms(before, event);
    this.state = state;
    const sound = soundOf(state);
    const alarms = state.alarms;
    const unacknowledged = alarms.filter((alarm) => !alarm.acknowledged);

    // A pause is begun by a person only, on that very event, and is never longer than its limit.
    if (sound.audioPausedUntilMs === null) this.pausedByPersonAtMs = null;
    else {
      this.seen.paused++;
      if (soundBefore.audioPausedUntilMs === null) {
        if (event.type !== 'pauseAudio' || !event.paused) return 'a pause that no person began';
        this.pausedByPersonAtMs = event.atMs;
      }
      if (this.pausedByPersonAtMs === null) return 'a pause without beginning';
      if (event.atMs - this.pausedByPersonAtMs >= pauseLimitMs) return 'a pause outlasts its limit';
      if (sound.audioPausedUntilMs > this.pausedByPersonAtMs + pauseLimitMs) return 'a pause was lengthened';
    }
    // An alarm not acknowledged sounds at its priority unless that pause runs.
    if (unacknowledged.length > 0 && sound.audioPausedUntilMs === null) {
      const highest = Math.min(...unacknowledged.map((alarm) => rank[alarm.priority]));
      if (sound.priority === null || rank[sound.priority] !== highest) return 'an alarm without its sound';
    }
    if (unacknowledged.length === 0 && sound.priority !== null) return 'a sound without an alarm';
    // Only a person acknowledges, and only what stood before the press.
    for (const alarm of alarms) {
      const old = before.alarms.find((candidate) => candidate.alarmId === alarm.alarmId);
      if (alarm.acknowledged && old?.acknowledged !== true) {
        if (event.type !== 'acknowledge') return 'acknowledged by nobody';
        if (old === undefined) return 'acknowledged before it sounded';
        if (event.alarmIds?.includes(alarm.alarmId) === false) return 'acknowledged though another was meant';
      }
      if (alarm.priority === 'high' && !alarm.acknowledged) {
        this.seen.high++;
        // A new, re-raised or worsened high alarm is heard at once, whatever was paused.
        const isNews =
          old === undefined ||
          old.acknowledged ||
          old.priority !== 'high' ||
          (!old.conditionPresent && alarm.conditionPresent);
        if (isNews && old !== undefined) this.seen.rearmed++;
        if (isNews && sound.priority !== 'high') return 'a new high alarm is not heard';
      }
      // An alarm that is the same object as before has the words it had.
      if (alarm === old) continue;
      const { message, instruction } = alarmTextInEnglish(alarm);
      if (message === '' || instruction === '') return 'an alarm without words';
    }
    // A latched alarm goes only by acknowledgement.
    for (const old of before.alarms) {
      if (alarms.some((alarm) => alarm.alarmId === old.alarmId)) continue;
      if (old.kind !== 'floorBreached' && old.kind !== 'heartRateSuddenFall') continue;
      this.seen.latched++;
      if (!old.acknowledged && event.type !== 'acknowledge') return 'a latched alarm went by itself';
      if (
        !old.acknowledged &&
        event.type === 'acknowledge' &&
        event.alarmIds?.includes(old.alarmId) === false
      )
        return 'a latched alarm went though another was meant';
      if (old.conditionPresent && !old.acknowledged) return 'a present alarm was removed by acknowledging';
    }
    for (let index = 1; index < alarms.length; index++) {
      const [one, other] = [alarms[index - 1]!, alarms[index]!];
      const order = rank[one.priority] - rank[other.priority] || one.raisedAtMs - other.raisedAtMs;
      if (order > 0) return 'alarms out of order';
    }
    if (new Set(alarms.map((alarm) => alarm.alarmId)).size !== alarms.length) return 'an id used twice';
    if (!changed && (alarms !== before.alarms || sound.priority !== soundBefore.priority))
      return 'a change not told';
    return null;
  }
}

describe('promises over random stories', () => {
  test('a million steps in 200 lives', () => {
    const totals = { high: 0, paused: 0, latched: 0, rearmed: 0 };
    for (let seed = 1; seed <= 200; seed++) {
      const checker = new Checker();
      const next = lifeOf(seeded(seed));
      for (let step = 0; step < 5_000; step++) {
        const event = next();
        const broken = checker.take(event);
        if (broken !== null) expect.fail(`seed ${seed} step ${step}: ${broken} at ${JSON.stringify(event)}`);
      }
      for (const key of ['high', 'paused', 'latched', 'rearmed'] as const) totals[key] += checker.seen[key];
    }
    // The stories must reach what they are about, or the check shows nothing.
    for (const count of Object.values(totals)) expect(count).toBeGreaterThan(1_000);
  }, 240_000);

  test('fast-check finds no short story that breaks a promise', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 2 ** 31 }), fc.integer({ min: 1, max: 400 }), (seed, length) => {
        const checker = new Checker();
        const next = lifeOf(seeded(seed));
        for (let step = 0; step < length; step++) {
          const broken = checker.take(next());
          if (broken !== null) throw new Error(broken);
        }
      }),
      { numRuns: 150 },
    );
  });

  test('the same events give the same alarms', () => {
    const run = (): string => {
      const next = lifeOf(seeded(7));
      let state = createAlarmState(settings);
      const seen: string[] = [];
      for (let step = 0; step < 3_000; step++) {
        const result = stepAlarms(state, next());
        if (result.changed) seen.push(JSON.stringify(result.state.alarms));
        state = result.state;
      }
      return seen.join('\n');
    };
    expect(run()).toBe(run());
  });

  test('a state is never changed in place', () => {
    const next = lifeOf(seeded(11));
    let state = createAlarmState(settings);
    for (let step = 0; step < 2_000; step++) {
      const copy = JSON.stringify(state);
      const result = stepAlarms(state, next());
      expect(JSON.stringify(state)).toBe(copy);
      state = result.state;
    }
  });
});

describe('floor breached, every pattern of eight readings about the floor', () => {
  // 4 levels to the 8th are 65 536 patterns, walked as a tree, each judged by a rule of its own. The levels lie so
  // close that blood can go from each to each in a second or two.
  const levels = [89.5, 88.5, 87.5, 87] as const;
  const step = (from: AlarmState, second: number, value: number): AlarmState => {
    const atMs = monotonicMs(second * 1_000);
    const reading = stepAlarms(from, {
      type: 'spo2',
      atMs,
      spo2Percent: value,
      quality: 'good',
      reasons: [],
      sensorId: 'ox',
    });
    return stepAlarms(reading.state, { type: 'advance', atMs: monotonicMs(second * 1_000 + 900) }).state;
  };

  test('four low readings in a row always alarm, and a single low one never does', () => {
    let leaves = 0;
    const walk = (state: AlarmState, values: readonly number[]): void => {
      const breached = state.alarms.some((alarm) => alarm.kind === 'floorBreached');
      const low = values.map((value) => value < 88);
      const fourInARow = low.some((_, index) => index >= 3 && low.slice(index - 3, index + 1).every(Boolean));
      const twoWithin3s = low.some(
        (isLow, index) => isLow && low.slice(Math.max(0, index - 3), index).some(Boolean),
      );
      if (fourInARow && !breached) expect.fail(`${values}: four low readings in a row without an alarm`);
      if (breached && !twoWithin3s) expect.fail(`${values}: an alarm from a single low reading`);
      if (values.length === 8) {
        leaves++;
        return;
      }
      for (const value of levels) walk(step(state, values.length, value), [...values, value]);
    };
    walk(createAlarmState(settingsInForce({ ...settings, maxHoldDurationMs: null })), []);
    expect(leaves).toBe(levels.length ** 8);
  }, 240_000);
});
