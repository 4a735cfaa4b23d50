// The live forecast on curves of the store model, whose truth is known: it says nothing while flat, then the lowest
// reading and the time left within stated errors, learns an athlete's lag, and needs no clock and no luck.

import * as fc from 'fast-check';
import { describe, expect, test, vi } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { populationPrior } from '../../../src/oxygen/athlete-prior.ts';
import type { Forecast } from '../../../src/oxygen/forecast.ts';
import { createForecaster, type ForecasterEvent } from '../../../src/oxygen/forecaster.ts';
import { type OxygenParameters, populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { StoreModel } from '../../../src/oxygen/store-model.ts';
import { lagSecondsOf, oxygenOf } from '../../../src/oxygen/trait-values.ts';
import { type RecordedHold, taughtAthlete } from '../../support/taught-athlete.ts';

// Heavy arithmetic, no waiting: a busy machine must not fail it.
vi.setConfig({ testTimeout: 60_000 });

const restS = 60;

/** Whole-percent readings at 1 Hz: a minute of rest, a hold, 90 s after; `lowestIf(s)` is the truth. */
function course(changes: Partial<OxygenParameters>, holdS: number) {
  const parameters = { ...populationOxygen.parameters, ...changes };
  const run = (stopS: number): number[] => {
    const model = new StoreModel(parameters);
    return Array.from(
      { length: restS + holdS + 90 },
      (_, second) => model.step(second >= restS && second < restS + stopS).readingPercent,
    );
  };
  const readings = run(holdS);
  return {
    readings,
    lowestIf: (stopS: number): number => Math.min(...run(stopS).slice(restS + 20)),
  };
}

const reading = (second: number, spo2Percent: number): ForecasterEvent => ({
  type: 'spo2',
  atMs: monotonicMs(second * 1000),
  spo2Percent: Math.round(spo2Percent),
  quality: 'good',
});
const started = (second: number, uncertaintyMs = 0, atS = second): ForecasterEvent => ({
  type: 'holdStarted',
  atMs: monotonicMs(atS * 1000),
  start: { atMs: monotonicMs(second * 1000), uncertaintyMs },
});
function forecastsOf(
  readings: readonly number[],
  holdS: number,
  floorSpo2Percent = 88,
): Map<number, Forecast> {
  const forecaster = createForecaster({ floorSpo2Percent });
  const answers = new Map<number, Forecast>();
  for (let second = 0; second < restS + holdS; second++) {
    if (second === restS) forecaster.push(started(restS));
    answers.set(second - restS, forecaster.push(reading(second, readings[second]!)));
  }
  return answers;
}

test('not known before a hold and while the curve is flat', () => {
  const { readings } = course({ lungVolumeL: 7.5 }, 150);
  const answers = forecastsOf(readings, 150);
  for (let second = -restS; second < 40; second++) expect(answers.get(second)!.known).toBe(false);
  expect(answers.get(149)!.known).toBe(true);
});

test('never known on a reading that never falls', () => {
  const answers = forecastsOf(new Array<number>(restS + 60).fill(98), 60);
  for (const answer of answers.values()) expect(answer.known).toBe(false);
});

describe.each([
  ['average', {}],
  ['small lungs', { lungVolumeL: 4 }],
  ['large lungs, strong response', { lungVolumeL: 8, diveResponseFraction: 0.35 }],
  ['short lag', { lagS: 14 }],
] as const)('%s', (_, changes) => {
  // Until the arterial blood is far down: a hold long enough to be interesting for each.
  const model = new StoreModel({ ...populationOxygen.parameters, ...changes });
  let holdS = 0;
  while (model.step(true).arterialPercent > 82) holdS++;
  const { readings, lowestIf } = course(changes, holdS);
  const answers = forecastsOf(readings, holdS);
  const points: { second: number; forecast: Forecast & { known: true }; truth: number }[] = [];
  for (let second = 0; second < holdS; second += 10) {
    const forecast = answers.get(second)!;
    if (forecast.known) points.push({ second, forecast, truth: lowestIf(second) });
  }

  test('lowest reading: mean error at most 2.5 points without knowing the athlete', () => {
    expect(points.length).toBeGreaterThan(3);
    const error = points.map(({ forecast, truth }) => Math.abs(forecast.lowestIfStoppedNow.percent - truth));
    expect(error.reduce((sum, one) => sum + one, 0) / error.length).toBeLessThan(2.5);
  });

  test('the advice comes before the point of no return, and not more than 45 s before it (an unknown lag can be 11 s shorter than most)', () => {
    // The lowest reading falls with every second held, so the last good second is found by halving.
    let perfectS = 0;
    let tooLateS = holdS + 1;
    while (tooLateS - perfectS > 1) {
      const middleS = (perfectS + tooLateS) >> 1;
      if (lowestIf(middleS) >= 88) perfectS = middleS;
      else tooLateS = middleS;
    }
    let advisedS = 0;
    while (advisedS < holdS) {
      const forecast = answers.get(advisedS)!;
      if (forecast.known && forecast.stopAdvised) break;
      advisedS++;
    }
    expect(advisedS).toBeLessThanOrEqual(perfectS + 1);
    expect(perfectS - advisedS).toBeLessThan(45);
  });

  test('numbers are in order and in range', () => {
    for (const { forecast } of points) {
      const { percent, lowPercent, highPercent } = forecast.lowestIfStoppedNow;
      expect(lowPercent).toBeLessThanOrEqual(percent);
      expect(percent).toBeLessThanOrEqual(highPercent);
      const { seconds, lowSeconds, highSeconds } = forecast.secondsToStop;
      expect(lowSeconds).toBeGreaterThanOrEqual(0);
      expect(lowSeconds).toBeLessThanOrEqual(seconds);
      expect(seconds).toBeLessThanOrEqual(highSeconds);
    }
  });
});

describe('advice to stop fits what is shown', () => {
  const anyone = fc.record({
    lungVolumeL: fc.double({ min: 2, max: 8, noNaN: true }),
    lagS: fc.double({ min: 12, max: 34, noNaN: true }),
    diveResponseFraction: fc.double({ min: 0, max: 0.4, noNaN: true }),
  });
  const holdS = 220;

  test.each([
    ['a marked start', 0],
    ['a start found, 6 s unsure', 6_000],
    ['no start at all', undefined],
  ] as const)(
    '%s: the range reaches down to the floor, and no seconds are left for sure',
    (_, uncertaintyMs) => {
      let advisedCount = 0;
      fc.assert(
        fc.property(anyone, fc.integer({ min: 75, max: 92 }), (changes, floorSpo2Percent) => {
          const { readings } = course(changes, holdS);
          const forecaster = createForecaster({ floorSpo2Percent });
          for (let second = 0; second < restS + holdS; second++) {
            if (second === restS && uncertaintyMs !== undefined)
              forecaster.push(started(restS, uncertaintyMs));
            const forecast = forecaster.push(reading(second, readings[second]!));
            if (!forecast.known || !forecast.stopAdvised) continue;
            advisedCount++;
            expect(forecast.lowestIfStoppedNow.lowPercent).toBeLessThanOrEqual(floorSpo2Percent);
            expect(forecast.secondsToStop.lowSeconds).toBe(0);
          }
        }),
        { numRuns: 12, seed: 5 },
      );
      expect(advisedCount).toBeGreaterThan(100);
    },
  );

  test('seconds that are left for sure keep the range above the floor, but for the error of one curve family', () => {
    const { readings } = course({}, holdS);
    let seen = 0;
    for (const forecast of forecastsOf(readings, holdS).values()) {
      if (!forecast.known || forecast.secondsToStop.lowSeconds <= 4) continue;
      seen++;
      expect(forecast.lowestIfStoppedNow.lowPercent).toBeGreaterThan(88 - 1.5);
    }
    expect(seen).toBeGreaterThan(5);
  });
});

const recorded = (changes: Partial<OxygenParameters>, holdS: number): RecordedHold => ({
  startMs: restS * 1000,
  endMs: (restS + holdS) * 1000,
  readings: course(changes, holdS).readings.map((spo2Percent, second) => ({
    atMs: second * 1000,
    spo2Percent: Math.round(spo2Percent),
  })),
});

test.each([12, 18, 32])('three holds teach a lag of %d s within 4 s, and surer than before', (lagS) => {
  const hold = recorded({ lagS }, 170);
  const prior = taughtAthlete([hold, hold, hold]);
  expect(prior.holdCount).toBe(3);
  expect(Math.abs(lagSecondsOf(prior.mean[5]!) - lagS)).toBeLessThan(4);
  // Row and column 5 of eight: the lag.
  expect(prior.covariance[5 * 9]!).toBeLessThan(0.5);
});

test('a short hold teaches nothing; a fitted athlete is still plausible', () => {
  expect(taughtAthlete([recorded({}, 10)])).toBe(populationPrior);
  const { parameters, spreads, holdCount } = oxygenOf(taughtAthlete([recorded({ lungVolumeL: 8 }, 200)]));
  expect(holdCount).toBe(1);
  for (const value of [...Object.values(parameters), ...Object.values(spreads)])
    expect(Number.isFinite(value)).toBe(true);
});

test('one motion spike moves the forecast by less than 2 points', () => {
  const { readings } = course({}, 170);
  const clean = forecastsOf(readings, 170).get(169)!;
  const spiked = readings.slice();
  spiked[restS + 160] = 70;
  const other = forecastsOf(spiked, 170).get(169)!;
  if (!clean.known || !other.known) return expect.fail('both must be known');
  expect(Math.abs(clean.lowestIfStoppedNow.percent - other.lowestIfStoppedNow.percent)).toBeLessThan(2);
});

test('a start told 15 s late and 8 s wrong still gives a forecast within 4 points', () => {
  const { readings, lowestIf } = course({}, 170);
  const forecaster = createForecaster({ floorSpo2Percent: 88 });
  let last: Forecast = forecaster.forecast;
  for (let second = 0; second < restS + 170; second++) {
    if (second === restS + 15) forecaster.push(started(restS + 8, 8_000, restS + 15));
    last = forecaster.push(reading(second, readings[second]!));
  }
  if (!last.known) return expect.fail('must be known');
  expect(Math.abs(last.lowestIfStoppedNow.percent - lowestIf(170))).toBeLessThan(4);
});

test('silence makes it unknown again; a withdrawn hold is forgotten and teaches nothing', () => {
  const { readings } = course({}, 170);
  const forecaster = createForecaster();
  for (let second = 0; second < restS + 170; second++) {
    if (second === restS) forecaster.push(started(restS));
    forecaster.push(reading(second, readings[second]!));
  }
  expect(forecaster.forecast.known).toBe(true);
  expect(forecaster.push({ type: 'advance', atMs: monotonicMs((restS + 180) * 1000) }).known).toBe(false);
  forecaster.push({ type: 'holdWithdrawn', atMs: monotonicMs((restS + 181) * 1000) });
  forecaster.push({ type: 'advance', atMs: monotonicMs((restS + 400) * 1000) });
  expect(forecaster.prior).toBe(populationPrior);
});

test('any events, in any order and with any numbers: no throw, same answers twice, numbers finite', () => {
  const at = fc.integer({ min: 0, max: 400_000 }).map((ms) => monotonicMs(ms));
  const event: fc.Arbitrary<ForecasterEvent> = fc.oneof(
    {
      weight: 8,
      arbitrary: fc.record({
        type: fc.constant('spo2' as const),
        atMs: at,
        spo2Percent: fc.oneof(fc.double(), fc.integer({ min: 60, max: 100 })),
        quality: fc.constantFrom('good' as const, 'suspect' as const, 'bad' as const),
      }),
    },
    fc.record({
      type: fc.constant('holdStarted' as const),
      atMs: at,
      start: fc.record({ atMs: at, uncertaintyMs: fc.integer({ min: 0, max: 20_000 }) }),
    }),
    fc.record({ type: fc.constant('holdEnded' as const), atMs: at, endedAtMs: at }),
    fc.record({ type: fc.constant('holdWithdrawn' as const), atMs: at }),
    fc.record({
      type: fc.constant('settings' as const),
      atMs: at,
      floorSpo2Percent: fc.integer({ min: 70, max: 95 }),
    }),
    fc.record({ type: fc.constant('advance' as const), atMs: at }),
  );
  fc.assert(
    fc.property(fc.array(event, { maxLength: 60 }), (events) => {
      const run = (): string => {
        const forecaster = createForecaster();
        return JSON.stringify(events.map((one) => forecaster.push(one)));
      };
      const answers = run();
      expect(run()).toBe(answers);
      expect(answers).not.toMatch(/null/);
    }),
    { numRuns: 60 },
  );
});

test('a fall that nobody announced is forecast too, and the assumed hold ends when readings rise', () => {
  const { readings, lowestIf } = course({}, 175);
  const forecaster = createForecaster({ floorSpo2Percent: 88 });
  let known = 0;
  let last: Forecast = forecaster.forecast;
  for (let second = 0; second < restS + 175; second++) {
    last = forecaster.push(reading(second, readings[second]!));
    if (last.known) known++;
  }
  expect(known).toBeGreaterThan(5);
  if (!last.known) return expect.fail('must be known');
  expect(Math.abs(last.lowestIfStoppedNow.percent - lowestIf(175))).toBeLessThan(4);
  for (let second = restS + 175; second < readings.length; second++)
    last = forecaster.push(reading(second, readings[second]!));
  expect(last.known).toBe(false);
  expect(forecaster.prior).toBe(populationPrior);
});

describe('the heart beside a fall that nobody announced', () => {
  /** Seconds into the hold of the first advice; undefined without one. Breathing is never seen in these readings. */
  const firstAdvice = (rateAt: (second: number) => number): number | undefined => {
    const { readings } = course({}, 215);
    const forecaster = createForecaster({ floorSpo2Percent: 88 });
    for (let second = 0; second < restS + 215; second++) {
      const atMs = monotonicMs(second * 1000);
      forecaster.push({ type: 'heartRate', atMs, heartRateBpm: rateAt(second - restS), quality: 'good' });
      const forecast = forecaster.push(reading(second, readings[second]!));
      if (forecast.known && forecast.stopAdvised) return second - restS;
    }
    return undefined;
  };
  const steady = firstAdvice(() => 58)!;

  test('that only slows, or quickens over a minute, changes nothing', () => {
    expect(steady).toBeGreaterThan(60);
    expect(firstAdvice((holdS) => 70 - Math.min(20, Math.max(0, holdS / 2)))).toBe(steady);
    expect(firstAdvice((holdS) => 45 + Math.min(15, Math.max(0, (holdS - 60) / 6)))).toBe(steady);
    expect(firstAdvice((holdS) => (holdS === steady - 5 ? 90 : 58))).toBe(steady);
  });

  test('that swings with breathing and quickens too changes nothing: nothing paused in it', () => {
    const swinging = (holdS: number): number => 58 + 5 * Math.sin((2 * Math.PI * holdS) / 14);
    expect(firstAdvice((holdS) => swinging(holdS) + (holdS >= steady - 10 ? 9 : 0))).toBe(steady);
  });

  test('that quickened at once says that somebody breathes: no advice for 20 s, then again', () => {
    const advised = firstAdvice((holdS) => (holdS >= steady - 10 && holdS < steady + 60 ? 67 : 58))!;
    expect(advised).toBeGreaterThan(steady + 8);
    expect(advised).toBeLessThanOrEqual(steady + 30);
  });
});

test('a movement of 12 s at rest is no unannounced fall', () => {
  const forecaster = createForecaster({ floorSpo2Percent: 88 });
  for (let second = 0; second < 200; second++) {
    const moved = second >= 150 && second < 162;
    expect(forecaster.push(reading(second, moved ? 88 : 97)).known).toBe(false);
  }
});
