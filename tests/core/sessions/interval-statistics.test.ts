// Statistics of a stretch, by hand and against the measures of holds: the same time below the same threshold.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { computeHoldMeasures } from '../../../src/holds/measures.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { intervalStatistics } from '../../../src/sessions/interval-statistics.ts';

const everySecond = (values: readonly (number | null)[], quality = 'g'.repeat(values.length)) => ({
  atMs: values.map((_, index) => index * 1_000),
  value: values,
  quality,
});

describe('between two points', () => {
  test('least, greatest, mean by time, and time below', () => {
    expect(intervalStatistics(everySecond([98, 96, 90, 86, 88, 97]), 1_000, 4_000, 89)).toEqual({
      readingCount: 4,
      leftOutCount: 0,
      least: 86,
      greatest: 96,
      // 96, 90 and 86 stand a second each; the last reading's time lies beyond the point.
      mean: (96 + 90 + 86) / 3,
      belowSeconds: 1,
    });
  });

  test('doubtful and missing readings are left out and counted', () => {
    const { leftOutCount, least, readingCount } = intervalStatistics(
      everySecond([98, 60, null, 97], 'gbgg'),
      0,
      3_000,
      null,
    );
    expect([leftOutCount, least, readingCount]).toEqual([2, 97, 2]);
  });

  test('a reading stands 5 s at most, however long the silence after it', () => {
    const samples = { atMs: [0, 60_000, 61_000], value: [80, 99, 99], quality: 'ggg' };
    expect(intervalStatistics(samples, 0, 61_000, 90)).toMatchObject({
      belowSeconds: 5,
      mean: (5 * 80 + 99) / 6,
    });
  });

  test('without readings nothing is known', () => {
    expect(intervalStatistics(everySecond([98]), 5_000, 9_000, 88)).toEqual({
      readingCount: 0,
      leftOutCount: 0,
      least: null,
      greatest: null,
      mean: null,
      belowSeconds: null,
    });
  });

  test('the mean lies between least and greatest, whatever the readings and their times', () => {
    const reading = fc.tuple(
      fc.integer({ min: 1, max: 20_000 }),
      fc.double({ min: 40, max: 100, noNaN: true }),
    );
    fc.assert(
      fc.property(fc.array(reading, { minLength: 2, maxLength: 60 }), (steps) => {
        let at = 0;
        const atMs = steps.map(([step]) => (at += step));
        const samples = { atMs, value: steps.map(([, value]) => value), quality: 'g'.repeat(steps.length) };
        const { least, greatest, mean, belowSeconds } = intervalStatistics(samples, 0, at, 90);
        expect(mean!).toBeGreaterThanOrEqual(least! - 1e-9);
        expect(mean!).toBeLessThanOrEqual(greatest! + 1e-9);
        expect(belowSeconds!).toBeLessThanOrEqual((at - atMs[0]!) / 1_000 + 1e-9);
      }),
    );
  });
});

test('the time below a threshold is the measure of the hold, counted over its own stretch', () => {
  const fall = (second: number) => (second < 120 ? 98 : second < 200 ? 98 - (second - 120) / 5 : 97);
  const values = Array.from({ length: 400 }, (_, second) => Math.round(fall(second)));
  const samples = values.map(
    (value, second): Sample => ({
      channel: 'spo2Percent',
      atMs: monotonicMs(second * 1_000),
      value,
      sensorId: 'clip',
      quality: 'good',
      reasons: [],
    }),
  );
  const boundary = (seconds: number) => ({
    atMs: monotonicMs(seconds * 1_000),
    uncertaintyMs: 0,
    declaredAtMs: monotonicMs(seconds * 1_000),
    source: 'mark' as const,
    evidence: [],
  });
  const hold = { holdId: 'h', start: boundary(100), end: boundary(210), contractionsAtMs: [] };
  const { values: measures } = computeHoldMeasures(hold, samples, {});
  // The measure goes on for a minute after the end: finger saturation trails the lungs.
  for (const threshold of [95, 90, 85])
    expect([
      threshold,
      intervalStatistics(everySecond(values), 100_000, 270_000, threshold).belowSeconds,
    ]).toEqual([threshold, measures[`timeBelow${threshold}S`]]);
});
