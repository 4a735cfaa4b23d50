// A running median over dates with its spread: what changed over weeks without forcing a line through it.

import { type MedianInterval, medianWithInterval, quantileOfSorted, sortedRising } from './quantiles.ts';

export interface DatedValue {
  readonly atDay: number;
  readonly value: number;
}

export interface RunningPoint {
  readonly atDay: number;
  readonly median: number;
  /** Lower and upper quartile of the values in the window. */
  readonly low: number;
  readonly high: number;
  readonly count: number;
}

const runningMedianRule = {
  /** A window of four weeks: a training block, eight to twelve sessions. Common practice, no source. */
  halfWidthDays: 14,
  /** Fewer values have no spread worth drawing. */
  leastCount: 5,
  /** After a longer break the line begins anew. */
  longestBreakDays: 28,
} as const;

/**
 * The median and quartiles at each date of `values` (in order of date), over the values within half a window on
 * either side. Split where nothing was measured for longer than the longest break; no point where too few stand
 * in the window.
 */
export function runningMedian(values: readonly DatedValue[], rule = runningMedianRule): RunningPoint[][] {
  const stretches: DatedValue[][] = [];
  for (const value of values) {
    const before = stretches.at(-1)?.at(-1);
    if (before === undefined || value.atDay - before.atDay > rule.longestBreakDays) stretches.push([value]);
    else stretches.at(-1)!.push(value);
  }
  return stretches
    .map((stretch) => {
      const points: RunningPoint[] = [];
      let first = 0;
      let end = 0;
      for (const { atDay } of stretch) {
        if (points.at(-1)?.atDay === atDay) continue;
        while (stretch[first]!.atDay < atDay - rule.halfWidthDays) first += 1;
        while (end < stretch.length && stretch[end]!.atDay <= atDay + rule.halfWidthDays) end += 1;
        if (end - first < rule.leastCount) continue;
        const sorted = sortedRising(stretch.slice(first, end).map(({ value }) => value));
        points.push({
          atDay,
          median: quantileOfSorted(sorted, 0.5)!,
          low: quantileOfSorted(sorted, 0.25)!,
          high: quantileOfSorted(sorted, 0.75)!,
          count: sorted.length,
        });
      }
      return points;
    })
    .filter((points) => points.length > 0);
}

export interface FourWeeks {
  readonly now: MedianInterval | null;
  readonly before: MedianInterval | null;
  /** `unclear` while the intervals overlap or one cannot be told. */
  readonly change: 'higher' | 'lower' | 'unclear';
}

/**
 * The four weeks up to `lastDay` beside the four before, one value a session: holds of one session are too alike to
 * count each. Says a change only where the two 95 % intervals lie apart, which is more careful than a test at 5 %.
 */
export function compareFourWeeks(sessions: readonly DatedValue[], lastDay: number): FourWeeks {
  const span = (fromDay: number, toDay: number) =>
    medianWithInterval(
      sessions.filter(({ atDay }) => atDay > fromDay && atDay <= toDay).map(({ value }) => value),
    );
  const now = span(lastDay - 28, lastDay);
  const before = span(lastDay - 56, lastDay - 28);
  const isApart = (lower: MedianInterval | null, upper: MedianInterval | null) =>
    lower !== null && upper !== null && lower.high !== null && upper.low !== null && lower.high < upper.low;
  return {
    now,
    before,
    change: isApart(before, now) ? 'higher' : isApart(now, before) ? 'lower' : 'unclear',
  };
}
