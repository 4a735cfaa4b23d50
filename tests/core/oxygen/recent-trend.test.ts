// The line of the newest readings: what it says of a fall, and what it leaves out.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { HoldReading } from '../../../src/oxygen/curve-set.ts';
import { recentTrend } from '../../../src/oxygen/recent-trend.ts';

const reading = (atS: number, percent: number, trust = 1): HoldReading => ({ atS, percent, trust, spanS: 1 });
const falling = (seconds: number, slope: number, from = 97): HoldReading[] =>
  Array.from({ length: seconds }, (_, atS) => reading(atS, Math.round(from + slope * atS)));

test('for any fall that blood can make, in whole percent: the level within 0.6 points, the slope within 0.06 %/s', () => {
  fc.assert(
    fc.property(
      fc.double({ min: -0.65, max: 0, noNaN: true }),
      fc.double({ min: 90, max: 99, noNaN: true }),
      (slope, from) => {
        const trend = recentTrend(falling(40, slope, from), 0)!;
        expect(Math.abs(trend.percent - (from + slope * 39))).toBeLessThan(0.6);
        expect(Math.abs(trend.slopePercentPerS - slope)).toBeLessThan(0.06);
      },
    ),
  );
});

describe('left out', () => {
  test('readings of a movement, at whatever time', () => {
    for (let at = 24; at < 40; at++) {
      const readings = falling(40, -0.2).map((one) => (one.atS === at ? { ...one, percent: 84 } : one));
      expect(Math.abs(recentTrend(readings, 0)!.slopePercentPerS + 0.2)).toBeLessThan(0.08);
    }
  });

  test('doubtful readings, those before the index, and those of long before', () => {
    const doubtful = falling(40, -0.2).map((one) =>
      one.atS % 3 === 0 ? { ...one, percent: 70, trust: 0.3 } : one,
    );
    expect(Math.abs(recentTrend(doubtful, 0)!.slopePercentPerS + 0.2)).toBeLessThan(0.06);
    const steep = [
      ...falling(40, -0.6, 120),
      ...falling(30, -0.1).map((one) => reading(one.atS + 40, one.percent)),
    ];
    expect(Math.abs(recentTrend(steep, 0)!.slopePercentPerS + 0.1)).toBeLessThan(0.06);
    expect(recentTrend(falling(40, -0.2), 37)).toBeUndefined();
  });

  test('a rise: in a hold there is none', () => {
    expect(recentTrend(falling(40, 0.3, 80), 0)!.slopePercentPerS).toBe(0);
  });
});

test('too few readings, or of too short a time, say nothing', () => {
  expect(recentTrend([], 0)).toBeUndefined();
  expect(recentTrend(falling(7, -0.2), 0)).toBeUndefined();
  expect(recentTrend([reading(0, 97), reading(8, 96), reading(16, 95)], 0)).toBeUndefined();
});
