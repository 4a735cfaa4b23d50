// What benches say of their figures: ratios of pairs with their interval, and exponents of growth.

import { expect, test } from 'vitest';
import { comparePairs, processorMsOf } from '../../bench/against.ts';
import { exponentOf } from '../../bench/growth.bench.ts';

test('a ratio is that of each pair, so that drift over the pairs does not show', () => {
  const pairs = [1, 2, 4, 8].map((drift) => [{ tookMs: 3 * drift }, { tookMs: 2 * drift }] as const);
  expect(comparePairs(pairs)['tookMs']?.ratio).toEqual({ median: 1.5, least: 1.5, greatest: 1.5 });
});

test('the median of an even number lies between the two in the middle, the interval reaches from least to greatest', () => {
  const pairs = [1, 4, 2, 3].map((tookMs) => [{ tookMs }, { tookMs: 1 }] as const);
  expect(comparePairs(pairs)['tookMs']).toEqual({
    here: 2.5,
    there: 1,
    ratio: { median: 2.5, least: 1, greatest: 4 },
  });
});

test('a figure that one side lacks, or that is 0 there, has no ratio', () => {
  const pairs = [
    [
      { missed: 1, isNew: 2, tookMs: 1 },
      { missed: 0, tookMs: 1 },
    ],
  ] as const;
  expect(Object.keys(comparePairs(pairs))).toEqual(['tookMs']);
});

test('what grows in proportion has the exponent 1, what grows by the square 2', () => {
  const counts = [1, 5, 20, 100];
  expect(exponentOf(counts.map((count) => ({ count, cost: 7 * count })))).toBeCloseTo(1);
  expect(exponentOf(counts.map((count) => ({ count, cost: count ** 2 / 3 })))).toBeCloseTo(2);
});

test('processor time is read off what a shell says of its children', () => {
  expect(processorMsOf('a warning\n0m0.01s 0m0.02s\n1m2.50s 0m0.25s\n')).toBe(62_750);
});
