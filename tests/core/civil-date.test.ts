// Calendar arithmetic against the platform's.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { civilTimeOf, isoTextOf, unixMsOf } from '../../src/formats/civil-date.ts';

const years0To9999 = fc.integer({ min: -62_167_219_200_000, max: Date.UTC(9999, 11, 31, 23, 59, 59, 999) });

test('every moment is written as the platform writes it, and read back', () => {
  fc.assert(
    fc.property(years0To9999, (unixMs) => {
      expect(isoTextOf(unixMs)).toBe(new Date(unixMs).toISOString());
      expect(unixMsOf(civilTimeOf(unixMs))).toBe(unixMs);
    }),
    { numRuns: 2_000 },
  );
});

test('days that do not exist are none', () => {
  const noon = { hour: 12, minute: 0, second: 0, millisecond: 0 };
  expect(unixMsOf({ year: 2023, month: 2, day: 29, ...noon })).toBe(undefined);
  expect(unixMsOf({ year: 2024, month: 2, day: 29, ...noon })).toBe(Date.UTC(2024, 1, 29, 12));
  expect(unixMsOf({ year: 2024, month: 13, day: 1, ...noon })).toBe(undefined);
  expect(unixMsOf({ year: 2024, month: 1, day: 1, ...noon, hour: 24 })).toBe(undefined);
});
