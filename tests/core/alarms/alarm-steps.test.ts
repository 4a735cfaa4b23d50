// What is asked of people rises in steps: to breathe, to answer, to rescue. Words of rescue come with low, unknown or fast
// falling saturation, a sudden fall of the heart rate, or no answer, and with nothing else.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs, percent } from '../../../shared/units.ts';
import { alarmTextInGerman } from '../../../shared/words/de-alarms.ts';
import { alarmTextInEnglish } from '../../../shared/words/en-alarms.ts';
import type { ActiveAlarm, AlarmEvent } from '../../../src/alarms/alarm.ts';
import { type AlarmState, createAlarmState, soundOf, stepAlarms } from '../../../src/alarms/alarm-engine.ts';
import { alarmLimits } from '../../../src/alarms/alarm-limits.ts';
import { settingsInForce } from '../../../src/alarms/floor-setting.ts';

const rescueEnglish = /emergency number|airway|first aid/;
const rescueGerman = /Notruf|Atemweg|Erste Hilfe/;

/** A hold with a reading each second and the hold's longest time as the alarm to stop. */
class Life {
  state: AlarmState = createAlarmState(
    settingsInForce({
      floorSpo2Percent: percent(88),
      thresholdsPercent: [],
      heartRateLowBpm: null,
      heartRateHighBpm: null,
      maxHoldDurationMs: 60_000,
      forecastAlarm: 'high',
    }),
  );
  second = 0;

  at = () => ({ atMs: monotonicMs(this.second * 1000) });

  event(event: AlarmEvent): this {
    this.state = stepAlarms(this.state, event).state;
    return this;
  }

  readings(...values: readonly number[]): this {
    for (const spo2Percent of values) {
      this.second += 1;
      this.event({ type: 'spo2', ...this.at(), spo2Percent, quality: 'good', reasons: [], sensorId: 'ox' });
      // The pulse moves, so that nothing stands still.
      this.event({ type: 'pulseRate', ...this.at(), pulseRateBpm: 60 + (this.second % 3), sensorId: 'ox' });
      this.event({ type: 'advance', ...this.at() });
    }
    return this;
  }

  /** To the moment in which the alarm to stop comes, at 97 %. */
  toStop(): this {
    this.readings(...flat(5, 97));
    this.event({ type: 'hold', ...this.at(), change: 'started', hold: { holdId: 'h', start: this.at() } });
    return this.readings(...flat(60, 97));
  }

  get sign(): ActiveAlarm | undefined {
    return this.state.alarms.find(({ kind }) => kind === 'noBreathingSign');
  }
  get said(): 'nothing' | 'ask' | 'rescue' {
    return this.sign === undefined ? 'nothing' : this.sign.detail === 'answerAsked' ? 'ask' : 'rescue';
  }
}
const flat = (seconds: number, value: number): number[] => Array.from({ length: seconds }, () => value);
const answer = (life: Life) => life.event({ type: 'answered', ...life.at() });

describe('after an alarm to stop', () => {
  test('somebody who reads 94 % is asked to answer, loudly, and not rescued', () => {
    const life = new Life().toStop().readings(...flat(10, 96), ...flat(9, 95));
    expect(life.said).toBe('nothing');
    life.readings(94, 94);
    expect(life.said).toBe('ask');
    expect(life.sign).toMatchObject({ priority: 'high', acknowledged: false });
    for (const alarm of life.state.alarms) {
      expect(alarmTextInEnglish(alarm).instruction).not.toMatch(rescueEnglish);
      expect(alarmTextInGerman(alarm).instruction).not.toMatch(rescueGerman);
    }
  });

  test('no answer for ten seconds: words of rescue, which sound although the asking was acknowledged', () => {
    const life = new Life().toStop().readings(...flat(21, 96));
    life.event({ type: 'acknowledge', ...life.at() });
    expect(soundOf(life.state).priority).toBeNull();
    life.readings(...flat(8, 96));
    expect(life.said).toBe('ask');
    life.readings(96);
    expect(life.said).toBe('rescue');
    expect(soundOf(life.state).priority).toBe('high');
    expect(alarmTextInEnglish(life.sign!).instruction).toMatch(rescueEnglish);
    expect(alarmTextInGerman(life.sign!).instruction).toMatch(rescueGerman);
  });

  test('an answer ends the asking; whoever holds on is asked again', () => {
    const life = new Life().toStop().readings(...flat(22, 96));
    answer(life);
    expect(life.said).toBe('nothing');
    life.readings(...flat(19, 96));
    expect(life.said).toBe('nothing');
    life.readings(96, 96);
    expect(life.said).toBe('ask');
  });

  test.each([true, false])('a forecast is followed by the question, lungs unsaid: %s', (onlyIfEmptied) => {
    const life = new Life().readings(...flat(5, 97));
    life.event({ type: 'hold', ...life.at(), change: 'started', hold: { holdId: 'h', start: life.at() } });
    life.readings(...flat(10, 97)).event({
      type: 'forecast',
      ...life.at(),
      forecast: {
        known: true,
        lowestIfStoppedNow: {
          percent: 92,
          lowPercent: 87,
          highPercent: 96,
          central: { lowPercent: 89, highPercent: 95 },
        },
        secondsToStop: { seconds: 5, lowSeconds: 0, highSeconds: 20 },
        stopAdvised: true,
        onlyIfEmptied,
      },
    });
    expect(life.readings(...flat(19, 96)).said).toBe('nothing');
    expect(life.readings(96).said).toBe('ask');
    expect(life.readings(...flat(10, 96)).said).toBe('rescue');
  });

  test.each([
    ['low', flat(20, 89.5)],
    ['falling faster than a hold explains', [...flat(13, 98), 97, 96, 95, 94, 93, 92]],
  ])('saturation that is %s is no time to ask', (_, values) => {
    const life = new Life().toStop().readings(...values, values.at(-1)! - 1);
    expect(life.said).toBe('rescue');
  });

  test('an answer talks nobody out of low saturation', () => {
    const life = new Life().toStop().readings(...flat(22, 96));
    answer(life);
    life.readings(94, 92, 90, 89, 89, 89);
    expect(life.said).toBe('rescue');
  });

  test('silence of the oximeter is not known to be well', () => {
    const life = new Life().toStop();
    for (let second = 0; second < 21; second += 1) {
      life.second += 1;
      life.event({ type: 'advance', ...life.at() });
    }
    expect(life.said).toBe('rescue');
  });
});

test('words of rescue never come to somebody who reads well, and answered or was not given the time to', () => {
  const step = fc.oneof(
    {
      weight: 8,
      arbitrary: fc.record({
        kind: fc.constant('reading' as const),
        percent: fc.integer({ min: 91, max: 99 }),
      }),
    },
    { weight: 1, arbitrary: fc.record({ kind: fc.constant('answer' as const), percent: fc.constant(0) }) },
    {
      weight: 1,
      arbitrary: fc.record({ kind: fc.constant('acknowledge' as const), percent: fc.constant(0) }),
    },
  );
  fc.assert(
    fc.property(fc.array(step, { minLength: 30, maxLength: 150 }), (steps) => {
      const life = new Life().toStop();
      let sinceS = life.second;
      let last = 97;
      for (const { kind, percent: wanted } of steps) {
        if (kind === 'reading') {
          // Never faster than a hold: half a point a second.
          last = Math.max(last - 0.5, Math.min(last + 1, wanted));
          life.readings(last);
        } else if (kind === 'answer') {
          answer(life);
          sinceS = life.second;
        } else life.event({ type: 'acknowledge', ...life.at() });
        if (life.said === 'rescue') expect(life.second - sinceS).toBeGreaterThanOrEqual(30);
        // And fail safe: nobody waits longer than that for them.
        if (life.second - sinceS >= 31) expect(life.said).toBe('rescue');
      }
    }),
    { numRuns: 60 },
  );
});

describe('a hold that is probably over, after an alarm to stop', () => {
  const probablyOver = (life: Life, is = true) =>
    life.event({
      type: 'hold',
      ...life.at(),
      change: 'revised',
      hold: { holdId: 'h', start: { atMs: monotonicMs(5_000) }, ...(is && { probableEnd: life.at() }) },
    });

  test('with saturation well above the floor nothing says that there was no sign of breathing', () => {
    const life = new Life().toStop().readings(...flat(35, 96));
    expect(life.said).toBe('rescue');
    probablyOver(life).readings(97);
    expect(life.said).toBe('nothing');
    life.readings(...flat(30, 97));
    expect(life.said).toBe('nothing');
  });

  test('a sign that is lost brings it back in the same moment, sounding', () => {
    const life = new Life().toStop().readings(...flat(35, 96));
    probablyOver(life).readings(...flat(5, 97));
    life.event({ type: 'acknowledge', ...life.at() });
    probablyOver(life, false);
    expect(life.said).toBe('rescue');
    expect(soundOf(life.state).priority).toBe('high');
  });

  test.each([
    ['low', flat(8, 89)],
    ['not well above the floor', flat(8, 92)],
    ['well above the floor only for a moment', [...flat(8, 91), 94, 94]],
  ])(
    'saturation that is %s bears it out not: as urgent as before, and what is not known is said',
    (_, values) => {
      const life = probablyOver(new Life().toStop().readings(...flat(31, 96))).readings(...values);
      expect(life.said).toBe('rescue');
      expect(life.sign).toMatchObject({ priority: 'high', detail: 'breathingUnsure' });
      for (const { message, instruction } of [
        alarmTextInEnglish(life.sign!),
        alarmTextInGerman(life.sign!),
      ]) {
        expect(message).not.toMatch(/No sign|Kein Zeichen/);
        expect(instruction).toMatch(/emergency number|Notruf/);
      }
    },
  );

  test('an oximeter that is silent bears nothing out', () => {
    const life = probablyOver(new Life().toStop().readings(...flat(31, 96)));
    for (let second = 0; second < 12; second += 1) {
      life.second += 1;
      life.event({ type: 'advance', ...life.at() });
    }
    expect(life.said).toBe('rescue');
  });

  test('neither saturation without a sign of breathing, nor a sign without saturation, ever withdraws it', () => {
    const step = fc.record({
      percent: fc.integer({ min: 86, max: 99 }),
      isOver: fc.boolean(),
      changes: fc.boolean(),
      isRead: fc.integer({ min: 0, max: 4 }),
    });
    let withdrawn = 0;
    fc.assert(
      fc.property(fc.array(step, { minLength: 20, maxLength: 90 }), (steps) => {
        const [life, without] = [new Life().toStop(), new Life().toStop()];
        let last = 97;
        let isOver = false;
        const newest: number[] = [];
        for (const { percent: wanted, isOver: next, changes, isRead } of steps) {
          if (changes) {
            isOver = next;
            probablyOver(life, isOver);
          }
          for (const one of [life, without])
            if (isRead === 0) {
              one.second += 1;
              one.event({ type: 'advance', ...one.at() });
            } else one.readings(Math.max(last - 1, Math.min(last + 1, wanted)));
          if (isRead > 0) {
            last = Math.max(last - 1, Math.min(last + 1, wanted));
            newest.push(last);
          } else newest.push(Number.NaN);
          const before = without.sign;
          if (before === undefined) continue;
          if (life.sign !== undefined) {
            expect(life.sign.priority).toBe(before.priority);
            // Nobody waits longer for words of rescue.
            if (without.said === 'rescue') expect(life.said).toBe('rescue');
            continue;
          }
          withdrawn++;
          expect(isOver).toBe(true);
          const seen = newest.slice(-7).filter((value) => !Number.isNaN(value));
          // Two that lie as far apart as a fast fall takes to show, the later of them recent.
          const apartS = (alarmLimits.fastFallMs + alarmLimits.recentReadingMs) / 1000;
          const near = newest.slice(-(apartS + 1)).filter((value) => !Number.isNaN(value));
          expect(near.length).toBeGreaterThanOrEqual(2);
          expect(Math.min(...seen)).toBeGreaterThanOrEqual(93);
          // One that has passed, and that nobody has seen yet, goes on standing and sounding beside it.
          const floor = life.state.alarms.find(({ kind }) => kind === 'floorBreached');
          expect(floor?.conditionPresent ?? false).toBe(false);
          expect(floor?.acknowledged ?? false).toBe(false);
        }
      }),
      { numRuns: 1000 },
    );
    expect(withdrawn).toBeGreaterThan(20);
  });
});
