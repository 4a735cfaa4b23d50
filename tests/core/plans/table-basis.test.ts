// What a table is made from: own holds, and little where little is known; nothing near the floor; nothing longer than usual.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { previewForAthletes } from '../../../src/plans/plan-effect.ts';
import {
  type PastHold,
  sharedBasis,
  tableBasisOf,
  tableForAthletes,
} from '../../../src/plans/table-basis.ts';

/** 2025-06-15. */
const today = 20_254;
const holds = (
  sessionId: string,
  daysAgo: number,
  durations: readonly number[],
  part: Partial<PastHold> = {},
) =>
  durations.map(
    (durationS): PastHold => ({
      sessionId,
      atDay: today - daysAgo,
      durationS,
      comfort: null,
      spo2BackS: null,
      heartRateBackS: null,
      ...part,
    }),
  );
const model = { athletes: [], floorSpo2Percent: 80 };
const rowsOf = ({ plan }: ReturnType<typeof tableForAthletes>) =>
  plan.rows.map(({ ceilingSeconds, recoverySeconds }) => [ceilingSeconds, recoverySeconds]);

describe('what a table rests on (our choice)', () => {
  test('nothing known: four rows round half a minute, and it says so', () => {
    const basis = tableBasisOf([], today);
    expect(basis).toMatchObject({ restsOn: 'nothing', comfortableSeconds: 30, rows: 4, backSeconds: null });
    const table = tableForAthletes('oxygen', basis, model);
    expect(rowsOf(table).map(([ceiling]) => ceiling)).toEqual([15, 20, 25, 30]);
    expect(sayInEnglish(table.why)).toMatch(/^Nothing is known of their holds.* 0:30: change it/);
  });

  test('few holds, or those of one evening: the shortest of them, a minute at the most', () => {
    expect(tableBasisOf(holds('a', 3, [95, 80, 110]), today)).toMatchObject({
      restsOn: 'fewHolds',
      comfortableSeconds: 60,
      rows: 4,
    });
    expect(tableBasisOf(holds('a', 3, [95, 42, 110, 90, 90, 90, 90]), today)).toMatchObject({
      restsOn: 'fewHolds',
      comfortableSeconds: 40,
    });
  });

  test('own holds: as long as half of the comfortable ones, as many as usual; old and uncomfortable ones count for nothing', () => {
    const own = [
      ...holds('a', 3, [80, 90, 100, 110, 120]),
      ...holds('b', 10, [84, 92, 101, 112, 125]),
      ...holds('c', 60, [200, 210, 220]),
      ...holds('d', 5, [240, 250], { comfort: 1 }),
    ];
    const basis = tableBasisOf(own, today);
    expect(basis).toMatchObject({
      restsOn: 'ownHolds',
      comfortableSeconds: 100,
      rows: 5,
      holdCount: 10,
      sinceDay: today - 10,
    });
    const carbonDioxide = tableForAthletes('carbonDioxide', basis, { ...model, floorSpo2Percent: 70 });
    // 80 % of 1:40; twice that at first, then down to a minute and a quarter.
    expect(rowsOf(carbonDioxide)).toEqual([
      [80, 160],
      [80, 140],
      [80, 120],
      [80, 95],
      [80, 75],
    ]);
    expect(sayInEnglish(carbonDioxide.why)).toBe(
      'Made round 1:40, which half of their 10 comfortable holds since 5 June lasted or less, with 5 rows as they usually do.',
    );
  });

  test('recoveries are longer than what nine of ten of their own took', () => {
    const slow = [40, 45, 50, 55, 60, 70, 75, 80, 90, 110].map((spo2BackS, index) => ({
      ...holds(index % 2 === 0 ? 'a' : 'b', 4, [90])[0]!,
      spo2BackS,
      heartRateBackS: 20,
    }));
    const basis = tableBasisOf(slow, today);
    expect(basis.backSeconds).toBe(92);
    const table = tableForAthletes('carbonDioxide', basis, { ...model, floorSpo2Percent: 70 });
    expect(Math.min(...table.plan.rows.map(({ recoverySeconds }) => recoverySeconds))).toBe(110);
    expect(sayInEnglish(table.why)).toContain('recoveries longer than the 92 s');
  });

  test('shortened until the model stays clear of the floor, and it says so; a hold that a person sets is left', () => {
    const long = [...holds('a', 3, [240, 250, 260]), ...holds('b', 8, [245, 255, 265])];
    const basis = tableBasisOf(long, today);
    const high = { athletes: [populationOxygen], floorSpo2Percent: 92 };
    const table = tableForAthletes('oxygen', basis, high);
    expect(table.comfortableSeconds).toBeLessThan(basis.comfortableSeconds);
    const { effect } = previewForAthletes(table.plan, high.athletes, 92, null);
    if (typeof effect === 'string') throw new Error(effect);
    for (const { hold } of effect.steps) expect(hold.lowestReadingPercent.low).toBeGreaterThanOrEqual(94);
    expect(sayInEnglish(table.why)).toMatch(/near the floor of 92.%, so it was shortened to/);
    expect(tableForAthletes('oxygen', basis, null).comfortableSeconds).toBe(basis.comfortableSeconds);
  });

  test('no hold of any table is longer than half of their comfortable ones, and of several it is the most careful', () => {
    const anyHolds = fc.array(
      fc.record({ durationS: fc.integer({ min: 5, max: 400 }), session: fc.constantFrom('a', 'b', 'c') }),
      { maxLength: 30 },
    );
    fc.assert(
      fc.property(anyHolds, anyHolds, fc.constantFrom('carbonDioxide', 'oxygen'), (some, others, shape) => {
        const own = some.map(({ durationS, session }) => holds(session, 2, [durationS])[0]!);
        const basis = tableBasisOf(own, today);
        const { plan } = tableForAthletes(shape, basis, null);
        const sorted = own.map(({ durationS }) => durationS).toSorted((a, b) => a - b);
        const usual = sorted[Math.floor(sorted.length / 2)] ?? 30;
        for (const { ceilingSeconds } of plan.rows)
          expect(ceilingSeconds).toBeLessThanOrEqual(Math.max(5, usual));
        const other = tableBasisOf(
          others.map(({ durationS, session }) => holds(session, 2, [durationS])[0]!),
          today,
        );
        const both = sharedBasis([basis, other]);
        expect(both.comfortableSeconds).toBe(Math.min(basis.comfortableSeconds, other.comfortableSeconds));
        expect(both.rows).toBe(Math.min(basis.rows, other.rows));
      }),
      { numRuns: 60 },
    );
  });
});
