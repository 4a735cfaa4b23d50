// The line of the newest readings: where it says that the display stands, and what it leaves out.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { HoldReading } from '../../../src/oxygen/curve-set.ts';
import { recentLevel } from '../../../src/oxygen/recent-level.ts';

const reading = (atS: number, percent: number, trust = 1): HoldReading => ({ atS, percent, trust, spanS: 1 });
const falling = (seconds: number, slope: number, from = 97): HoldReading[] =>
  Array.from({ length: seconds }, (_, atS) => reading(atS, Math.round(from + slope * atS)));

test('for any fall that blood can make, in whole percent: the level within 0.6 points', () => {
  fc.assert(
    fc.property(
      fc.double({ min: -0.65, max: 0, noNaN: true }),
      fc.double({ min: 90, max: 99, noNaN: true }),
      (slope, from) => {
        expect(Math.abs(recentLevel(falling(40, slope, from), 0)! - (from + slope * 39))).toBeLessThan(0.6);
      },
    ),
  );
});

describe('left out', () => {
  const level = recentLevel(falling(40, -0.2), 0)!;

  test('readings of a movement, at whatever time', () => {
    for (let at = 24; at < 40; at++) {
      const readings = falling(40, -0.2).map((one) => (one.atS === at ? { ...one, percent: 84 } : one));
      expect(Math.abs(recentLevel(readings, 0)! - level)).toBeLessThan(at < 39 ? 0.6 : 6);
    }
  });

  test('doubtful readings, those before the index, and those of long before', () => {
    const doubtful = falling(40, -0.2).map((one) =>
      one.atS % 3 === 1 ? { ...one, percent: 70, trust: 0.3 } : one,
    );
    expect(Math.abs(recentLevel(doubtful, 0)! - level)).toBeLessThan(0.6);
    const steep = [
      ...falling(40, -0.6, 120),
      ...falling(30, -0.1).map((one) => reading(one.atS + 40, one.percent)),
    ];
    expect(Math.abs(recentLevel(steep, 0)! - (97 - 2.9))).toBeLessThan(0.6);
    expect(recentLevel(falling(40, -0.2), 37)).toBeUndefined();
  });
});

test('too few readings, or of too short a time, say nothing', () => {
  expect(recentLevel([], 0)).toBeUndefined();
  expect(recentLevel(falling(7, -0.2), 0)).toBeUndefined();
  expect(recentLevel([reading(0, 97), reading(8, 96), reading(16, 95)], 0)).toBeUndefined();
});
