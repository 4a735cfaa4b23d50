// Medians with their intervals, the running median, and holds laid over one another.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type AlignedTrace,
  alignTrace,
  anchorOf,
  medianBand,
  windowOfHold,
} from '../../../src/sessions/hold-window.ts';
import { medianWithInterval, quantileOfSorted, sortedRising } from '../../../src/sessions/quantiles.ts';
import { kendallZ, trailingMedian, trendOf } from '../../../src/sessions/trend.ts';

describe('quantiles', () => {
  test('quartiles of 1 to 5, and between neighbours', () => {
    expect([0, 0.25, 0.5, 0.75, 1].map((share) => quantileOfSorted([1, 2, 3, 4, 5], share))).toEqual([
      1, 2, 3, 4, 5,
    ]);
    expect(quantileOfSorted([10, 20], 0.25)).toBe(12.5);
    expect(quantileOfSorted([], 0.5)).toBeNull();
  });

  // Conover, table A3 of the binomial: with n = 10 the 2nd and 9th value hold the median with 97.9 %, the 3rd and
  // 8th only with 89.1 %; with n = 20 the 6th and 15th with 95.9 %.
  test.each([
    [5, null, null],
    [6, 1, 6],
    [10, 2, 9],
    [20, 6, 15],
  ])('of %i values the interval runs from the %s. to the %s.', (count, low, high) => {
    const values = Array.from({ length: count }, (_, i) => count - i);
    expect(medianWithInterval(values)).toMatchObject({ low, high, count });
  });

  test('the interval holds the true median about as often as it says', () => {
    let seed = 7;
    const random = () => {
      seed = (seed * 1_103_515_245 + 12_345) % 2 ** 31;
      return seed / 2 ** 31;
    };
    let held = 0;
    const rounds = 4_000;
    for (let round = 0; round < rounds; round += 1) {
      const { low, high } = medianWithInterval(Array.from({ length: 12 }, () => random() ** 2))!;
      if (low! <= 0.25 && high! >= 0.25) held += 1;
    }
    // 96.1 % by the binomial for twelve values.
    expect(held / rounds).toBeGreaterThan(0.95);
    expect(held / rounds).toBeLessThan(0.98);
  });
});

const days = (values: readonly (readonly [number, number])[]) =>
  values.map(([atDay, value]) => ({ atDay, value }));

describe('trailing median', () => {
  test('starts anew after a break of more than four weeks, needs three values, and knows nothing of what comes', () => {
    const first = [0, 3, 6, 9, 12, 18].map((day): [number, number] => [day, 100 + day]);
    const second = [60, 62].map((day): [number, number] => [day, 50]);
    const running = trailingMedian(days([...first, ...second]));
    expect(running).toHaveLength(1);
    expect(running[0]!.map(({ atDay }) => atDay)).toEqual([6, 9, 12, 18]);
    expect(running[0]![0]).toEqual({ atDay: 6, median: 103, low: 101.5, high: 104.5, count: 3 });
    // Day 4 is fourteen days before day 18 and no longer counts.
    expect(running[0]!.at(-1)).toMatchObject({ atDay: 18, median: 110.5, count: 4 });
  });

  test('is not drawn to one stray value, and lies within the values of its window', () => {
    const values = days(Array.from({ length: 21 }, (_, i): [number, number] => [i, i === 10 ? 900 : 120]));
    for (const point of trailingMedian(values)[0]!) expect(point.median).toBe(120);
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 0, max: 400 }), fc.integer({ min: 0, max: 300 })), {
          maxLength: 80,
        }),
        (pairs) => {
          const sorted = days(pairs.toSorted((a, b) => a[0] - b[0]));
          for (const { atDay, low, median, high, count } of trailingMedian(sorted).flat()) {
            const own = sorted
              .filter((each) => each.atDay > atDay - 14 && each.atDay <= atDay)
              .map(({ value }) => value);
            expect(count).toBe(own.length);
            expect(low).toBeGreaterThanOrEqual(Math.min(...own));
            expect(high).toBeLessThanOrEqual(Math.max(...own));
            expect(median).toBeGreaterThanOrEqual(low);
            expect(high).toBeGreaterThanOrEqual(median);
          }
        },
      ),
    );
  });

  test('a comfort that falls from 5 to 1 within 13 days shows in the line and is said', () => {
    const fall = days(
      [5, 5, 4, 3, 3, 2, 1].map((comfort, index): [number, number] => [100 + index * 2, comfort]),
    );
    const line = trailingMedian(fall)[0]!;
    expect([line[0]!.median, line.at(-1)!.median]).toEqual([5, 3]);
    expect(trendOf(fall, 113)).toEqual({ kind: 'moved', way: 'down', from: 5, to: 1, days: 12, count: 7 });
    // After two months of five.
    const long = days(Array.from({ length: 20 }, (_, index): [number, number] => [40 + index * 3, 5]));
    expect(trendOf([...long, ...fall], 113)).toMatchObject({ kind: 'moved', way: 'down', from: 5, to: 1.5 });
  });
});

describe('what can be said of the last four weeks', () => {
  const block = (fromDay: number, values: readonly number[]) =>
    values.map((value, i) => ({ atDay: fromDay + i * 3, value }));
  const even = (value: number) => [0, 2, -1, 1, 3, -2, 2, 0].map((each) => value + each);

  test('nothing, too little, and no change made up', () => {
    expect(trendOf([], 56)).toEqual({ kind: 'none' });
    expect(trendOf(block(0, even(100)), 100)).toEqual({ kind: 'none' });
    expect(trendOf(block(40, [100, 110, 120]), 56)).toEqual({ kind: 'few', count: 3, median: 110 });
    expect(trendOf(block(30, even(100)), 56)).toMatchObject({
      kind: 'level',
      change: 'unclear',
      before: null,
      now: { count: 8 },
    });
  });

  test('higher or lower than the four weeks before only where the intervals lie apart', () => {
    const change = (before: number, now: number) => {
      const trend = trendOf([...block(1, even(before)), ...block(30, even(now))], 56);
      return trend.kind === 'level' ? trend.change : trend.kind;
    };
    expect(change(100, 150)).toBe('higher');
    expect(change(150, 100)).toBe('lower');
    expect(change(100, 102)).toBe('unclear');
  });

  test('of values in no order it says that they move about one time in twenty', () => {
    let seed = 3;
    const random = () => {
      seed = (seed * 1_103_515_245 + 12_345) % 2 ** 31;
      return seed / 2 ** 31;
    };
    let moved = 0;
    const rounds = 2_000;
    for (let round = 0; round < rounds; round += 1) {
      const values = Array.from({ length: 9 }, (_, i) => ({ atDay: 30 + i * 3, value: random() }));
      // In one span alone; two are looked at, which says so a little more often.
      if (Math.abs(kendallZ(values)) >= 1.96) moved += 1;
    }
    expect(moved / rounds).toBeGreaterThan(0.02);
    expect(moved / rounds).toBeLessThan(0.06);
  });

  // Kendall's S of 1..5 is 10 of at most 10, its variance 5*4*15/18.
  test('the test against trend by hand', () => {
    expect(kendallZ(days([1, 2, 3, 4, 5].map((value) => [value, value])))).toBeCloseTo(
      9 / Math.sqrt(300 / 18),
      9,
    );
    expect(kendallZ(days([5, 5, 5].map((value, index) => [index, value])))).toBe(0);
    expect(
      kendallZ(
        days([
          [0, 3],
          [1, 2],
          [2, 1],
        ]),
      ),
    ).toBeLessThan(0);
  });
});

describe('holds side by side', () => {
  const hold = { startAtMs: 100_000, endAtMs: 190_000, firstContractionAtMs: 150_000 };

  test('a window holds nothing of its neighbours and stays inside the recording', () => {
    expect(windowOfHold(hold, null, null, 600_000)).toEqual({ fromMs: 70_000, toMs: 280_000 });
    expect(windowOfHold(hold, 90_000, 230_000, 600_000)).toEqual({ fromMs: 90_000, toMs: 230_000 });
    expect(windowOfHold({ ...hold, endAtMs: null }, null, null, 200_000)).toEqual({
      fromMs: 70_000,
      toMs: 200_000,
    });
  });

  test('aligned at the start, at contraction onset or at the end; not at what is not known', () => {
    const trace = { atMs: [100_000, 150_000, 160_000, 190_000], value: [98, 95, 20, 88], quality: 'ggbs' };
    expect(alignTrace(trace, hold, 'start')).toEqual({
      atSeconds: [0, 50, 90],
      value: [98, 95, 88],
      startSeconds: 0,
      endSeconds: 90,
    });
    expect(alignTrace(trace, hold, 'contraction')?.atSeconds).toEqual([-50, 0, 40]);
    expect(alignTrace(trace, hold, 'end')?.atSeconds).toEqual([-90, -40, 0]);
    expect(alignTrace(trace, { ...hold, firstContractionAtMs: null }, 'contraction')).toBeNull();
    expect(anchorOf({ ...hold, endAtMs: null }, 'end')).toBeNull();
  });

  const flat = (value: number, from: number, to: number, end = to): AlignedTrace => ({
    atSeconds: Array.from({ length: to - from + 1 }, (_, i) => from + i),
    value: Array.from({ length: to - from + 1 }, () => value),
    startSeconds: 0,
    endSeconds: end,
  });

  test('the band is the median and quartiles of the holds that still go on', () => {
    const band = medianBand(
      [flat(90, 0, 100, 60), flat(92, 0, 100), flat(94, 0, 100), flat(96, 0, 100)],
      'start',
    );
    const at = (second: number) => {
      const index = band.atSeconds.indexOf(second);
      return [band.median[index], band.low[index], band.high[index], band.count[index]];
    };
    expect(at(30)).toEqual([93, 91.5, 94.5, 4]);
    // The hold of 60 s is over: its recovery is not averaged with the others' holds.
    expect(at(61)).toEqual([94, 93, 95, 3]);
  });

  test('of fewer than three holds there is none, and nothing is made up across a gap', () => {
    expect(medianBand([flat(90, 0, 50), flat(92, 0, 50)], 'start').atSeconds).toEqual([]);
    const gap: AlignedTrace = {
      atSeconds: [0, 1, 20, 21],
      value: [90, 90, 70, 70],
      startSeconds: 0,
      endSeconds: 21,
    };
    const band = medianBand([gap, gap, gap], 'start');
    expect(band.atSeconds).toEqual([0, 1, 20, 21]);
  });

  test('the band lies between the least and greatest reading', () => {
    const trace = fc.array(fc.integer({ min: 60, max: 100 }), { minLength: 1, maxLength: 40 }).map(
      (values): AlignedTrace => ({
        atSeconds: values.map((_, i) => i * 1.7 - 5),
        value: values,
        startSeconds: 0,
        endSeconds: null,
      }),
    );
    fc.assert(
      fc.property(fc.array(trace, { minLength: 3, maxLength: 6 }), (traces) => {
        const all = sortedRising(traces.flatMap(({ value }) => value));
        const band = medianBand(traces, 'start');
        band.median.forEach((median, i) => {
          expect(band.low[i]).toBeLessThanOrEqual(median + 1e-9);
          expect(band.high[i]).toBeGreaterThanOrEqual(median - 1e-9);
          expect(band.low[i]).toBeGreaterThanOrEqual(all[0]! - 1e-9);
          expect(band.high[i]).toBeLessThanOrEqual(all.at(-1)! + 1e-9);
        });
      }),
    );
  });
});
