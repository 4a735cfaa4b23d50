// The table of falls: that it falls with every column, on which the looking up by saturation rests, and that looking up is the
// way back.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { cellOf, columnAbove, percentAfter, usedAt } from '../../../src/oxygen/fall-curve.ts';

const rowCount = 36;
const columnCount = 224;
const usedStep = 3;

const somewhere = fc.record({
  cell: fc.integer({ min: 0, max: rowCount - 2 }).map(cellOf),
  fraction: fc.double({ min: 0, max: 1, maxExcluded: true, noNaN: true }),
  percent: fc.double({ min: -5, max: 110, noNaN: true }),
  near: fc.integer({ min: 0, max: columnCount - 2 }),
});

/** By halving the whole table. */
function byHalving(cell: number, fraction: number, percent: number): number {
  let low = 0;
  let high = columnCount - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (percentAfter(cell, fraction, middle * usedStep) > percent) low = middle;
    else high = middle;
  }
  return low;
}

test('every row falls from column to column, and by more than rounding where saturation is of any interest', () => {
  for (let row = 0; row < rowCount - 1; row++)
    for (let column = 0; column < columnCount - 2; column++) {
      const here = percentAfter(cellOf(row), 0, column * usedStep);
      const next = percentAfter(cellOf(row), 0, (column + 1) * usedStep);
      expect(next).toBeLessThanOrEqual(here);
      if (here > 30) expect(here - next).toBeGreaterThan(0.05);
    }
});

test('from wherever it is looked for, the same column is found, the one that halving finds', () => {
  fc.assert(
    fc.property(somewhere, ({ cell, fraction, percent, near }) => {
      expect(columnAbove(cell, fraction, percent, near)).toBe(byHalving(cell, fraction, percent));
    }),
    { numRuns: 2_000 },
  );
});

test('what was used when a saturation was reached leads back to it', () => {
  fc.assert(
    fc.property(somewhere, ({ cell, fraction, percent, near }) => {
      const used = usedAt(cell, fraction, percent, columnAbove(cell, fraction, percent, near));
      const highest = percentAfter(cell, fraction, 0);
      const lowest = percentAfter(cell, fraction, (columnCount - 1) * usedStep);
      expect(percentAfter(cell, fraction, used)).toBeCloseTo(Math.min(highest, Math.max(lowest, percent)), 3);
    }),
    { numRuns: 2_000 },
  );
});
