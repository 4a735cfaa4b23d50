// Lengths of pools: thirds of a metre and yards keep their exact value and are said as people of that pool say them.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { formatsOf } from '../../shared/words/formats.ts';
import {
  countOfLength,
  lengthsOfPool,
  lengthText,
  metersOfLength,
  metersPerYard,
  unitOfLength,
} from '../../shared/words/lengths.ts';
import { makePoolIntervals } from '../../src/plans/generate-plan.ts';
import { planSteps } from '../../src/plans/plan-steps.ts';

const english = formatsOf('en').number;

test.each([
  [25, '25 m'],
  [50 / 3, '16\u2154 m'],
  [100 / 3, '33\u2153 m'],
  [12.5, '12.5 m'],
  [22.86, '25 yd'],
  [45.72, '50 yd'],
  [30.48, '33\u2153 yd'],
  [18.288, '20 yd'],
  [8 * 22.86, '200 yd'],
  [21.37, '21.37 m'],
])('%d m is said as %s', (meters, text) => {
  expect(lengthText(meters, english)).toBe(text);
});

test('decimals are a language’s', () => {
  expect(lengthText(12.5, formatsOf('de').number)).toBe('12,5 m');
});

test('what is typed comes back: whole numbers and thirds of either unit', () => {
  fc.assert(
    fc.property(fc.integer({ min: 15, max: 300 }), fc.constantFrom('m', 'yd'), (thirds, unit) => {
      const typed = Math.round((thirds / 3) * 100) / 100;
      const meters = metersOfLength(typed, unit);
      expect(countOfLength(meters, unit)).toBeCloseTo(thirds / 3, 9);
      expect(unitOfLength(meters)).toBe(unit);
    }),
  );
});

test('a distance of so many lengths has so many laps, whatever floating point makes of thirds and yards', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 15, max: 300 }),
      fc.boolean(),
      fc.integer({ min: 1, max: 60 }),
      (thirds, yards, laps) => {
        const pool = (thirds / 3) * (yards ? metersPerYard : 1);
        expect(lengthsOfPool(laps * pool, pool)).toBe(laps);
        expect(lengthsOfPool(laps * pool + 1, pool)).toBe(laps + 1);
      },
    ),
  );
});

test('a plan in a pool of 16 2/3 m ends 50 m after three laps', () => {
  const [step] = planSteps(makePoolIntervals(4, 50, 50 / 3, 120));
  expect(step?.lapsToEnd).toBe(3);
});
