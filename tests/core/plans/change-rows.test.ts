// Rows changed all at once stay a plan, whatever is asked of them.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { planSchema } from '../../../shared/plan.ts';
import { rowLimitsSeconds, setRows, shiftRows } from '../../../src/plans/change-rows.ts';
import { makeTableFromRows } from '../../../src/plans/generate-plan.ts';

const anyRows = fc.array(
  fc.record({
    ceilingSeconds: fc.integer({ min: 5, max: 900 }),
    recoverySeconds: fc.integer({ min: 0, max: 1_800 }),
  }),
  { minLength: 1, maxLength: 24 },
);
const anyPart = fc.constantFrom('ceilingSeconds', 'recoverySeconds');

test('every recovery is five seconds shorter, and nothing else is changed', () => {
  const rows = [
    { ceilingSeconds: 60, recoverySeconds: 120 },
    { ceilingSeconds: 61, recoverySeconds: 3, lungs: 'full' as const },
  ];
  expect(shiftRows(rows, 'recoverySeconds', -5)).toEqual([
    { ceilingSeconds: 60, recoverySeconds: 115 },
    { ceilingSeconds: 61, recoverySeconds: 0, lungs: 'full' },
  ]);
  expect(setRows(rows, 'ceilingSeconds', 45).map(({ ceilingSeconds }) => ceilingSeconds)).toEqual([45, 45]);
});

test('what comes of it is always a plan, and never past a limit', () => {
  fc.assert(
    fc.property(
      anyRows,
      anyPart,
      fc.double({ min: -5_000, max: 5_000, noNaN: true }),
      (rows, part, seconds) => {
        for (const changed of [shiftRows(rows, part, seconds), setRows(rows, part, seconds)]) {
          expect(planSchema.safeParse(makeTableFromRows('Table', changed)).success).toBe(true);
          expect(changed.every((row) => row[part] >= rowLimitsSeconds[part].least)).toBe(true);
        }
      },
    ),
  );
});

test('shifted forth and back, rows away from their limits are as before', () => {
  fc.assert(
    fc.property(anyRows, anyPart, fc.integer({ min: -30, max: 30 }), (rows, part, by) => {
      const { least, most } = rowLimitsSeconds[part];
      const free = rows.filter((row) => row[part] + by >= least && row[part] + by <= most);
      expect(shiftRows(shiftRows(free, part, by), part, -by)).toEqual(free);
    }),
  );
});
