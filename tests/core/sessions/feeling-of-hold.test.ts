// What was said of a live hold finds the hold it belongs to among those found again later.

import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { HoldFeeling, HoldView } from '../../../shared/views.ts';
import { feelingOfHold } from '../../../src/sessions/feeling-of-hold.ts';

const hold = (startMs: number, endMs: number | null, comfort: number | null): HoldView => {
  const boundary = (atMs: number) => ({
    atMs: monotonicMs(atMs),
    uncertaintyMs: 0,
    declaredAtMs: monotonicMs(atMs),
    source: 'mark' as const,
    evidence: [],
  });
  const feeling: HoldFeeling | undefined = comfort === null ? undefined : { comfort, note: null };
  return {
    holdId: `h${startMs}`,
    start: boundary(startMs),
    end: endMs === null ? null : boundary(endMs),
    contractionCount: 0,
    firstContractionAtMs: null,
    lowestSpo2: null,
    ...(feeling !== undefined && { feeling }),
  };
};
const live = [hold(10_000, 70_000, 2), hold(100_000, 160_000, 5), hold(200_000, 260_000, null)];

test('a hold whose edges moved keeps what was said', () => {
  expect(feelingOfHold({ startMs: 14_000, endMs: 64_000 }, live)?.comfort).toBe(2);
  expect(feelingOfHold({ startMs: 95_000, endMs: 170_000 }, live)?.comfort).toBe(5);
});

test('a hold that only touches another, or of which nothing was said, has none', () => {
  expect(feelingOfHold({ startMs: 65_000, endMs: 98_000 }, live)).toBeUndefined();
  expect(feelingOfHold({ startMs: 200_000, endMs: 260_000 }, live)).toBeUndefined();
  expect(feelingOfHold({ startMs: 300_000, endMs: 360_000 }, live)).toBeUndefined();
});

test('two holds merged into one take the word of the one that shares most of it', () => {
  const split = [hold(0, 20_000, 1), hold(25_000, 90_000, 4)];
  expect(feelingOfHold({ startMs: 0, endMs: 90_000 }, split)?.comfort).toBe(4);
});
