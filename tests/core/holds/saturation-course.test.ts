// The fall that goes as in a hold, drawn; and each thing that makes it another: a jump, a fall from before, oxygen given after.

import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { saturationFitsHold } from '../../../src/holds/saturation-course.ts';
import type { SecondRow } from '../../../src/signal/second-rows.ts';

const startRow = 200;
const endRow = 290;

const rowsOf = (percentAt: (row: number) => number): SecondRow[] =>
  Array.from({ length: 480 }, (_, row) => ({
    atMs: monotonicMs(row * 1_000),
    heartRateBpm: 60,
    heartRateSource: 'heartRate',
    spo2Percent: percentAt(row),
    plethBreathing: Number.NaN,
    plethSwing: Number.NaN,
  }));

/** 97 %, from the 50th second of the hold on down to `lowest` at 22 s after its end, back in 15 s; in whole percent. */
const course =
  (lowest = 91) =>
  (row: number): number => {
    const down = Math.min(1, Math.max(0, (row - startRow - 50) / (endRow + 22 - startRow - 50)));
    const back = Math.min(1, Math.max(0, (row - endRow - 26) / 15));
    return Math.round(97 - (97 - lowest) * (down - Math.min(down, back)));
  };
const fits = (percentAt: (row: number) => number): boolean =>
  saturationFitsHold(rowsOf(percentAt), startRow, endRow);

test('a fall that takes its time, is lowest after the end and comes back', () => {
  expect(fits(course())).toBe(true);
  expect(fits(course(94))).toBe(true);
  // A second without a reading now and then is no jump.
  expect(fits((row) => (row % 7 === 0 ? Number.NaN : course()(row)))).toBe(true);
});

describe('no such fall', () => {
  test.each<[string, (row: number) => number]>([
    ['two points only', course(95)],
    ['a steady reading', () => 97],
    ['nothing read', () => Number.NaN],
    ['a jump of movement', (row) => (row >= 300 && row < 315 ? 90 : 97)],
    ['a fall that goes on from before', (row) => (row < startRow - 20 ? 100 : course()(row))],
    ['no way back', (row) => Math.min(course()(row), row > endRow ? 93 : 100)],
    ['oxygen given after air that was thin', (row) => (row > endRow + 26 ? 100 : course()(row) - 8)],
    ['lowest before the end already', (row) => course()(row + 30)],
  ])('%s', (_, percentAt) => {
    expect(fits(percentAt)).toBe(false);
  });

  test('lowest long after the end', () => {
    expect(saturationFitsHold(rowsOf(course()), startRow - 40, endRow - 40)).toBe(false);
  });
});

test('beside a hold that stands, two points and an end that is some seconds late are enough; a jump or one point are not', () => {
  const among = (percentAt: (row: number) => number, end = endRow): boolean =>
    saturationFitsHold(rowsOf(percentAt), startRow, end, 'amongHolds');
  expect(among(course(95))).toBe(true);
  expect(fits(course(95))).toBe(false);
  expect(among(course(), endRow + 20)).toBe(true);
  expect(saturationFitsHold(rowsOf(course()), startRow, endRow + 20)).toBe(false);
  expect(among(course(96))).toBe(false);
  expect(among((row) => (row >= 300 && row < 315 ? 94 : 97))).toBe(false);
});
