// What changed over weeks: a median over the days just past, with its spread, and what can be said of the last four weeks in one
// sentence. No line is forced through the data, and nothing looks into what came later.

import { type MedianInterval, medianWithInterval, quantileOfSorted, sortedRising } from './quantiles.ts';

export interface DatedValue {
  readonly atDay: number;
  readonly value: number;
}

export interface TrailingPoint {
  readonly atDay: number;
  readonly median: number;
  /** Lower and upper quartile of the values in the window. */
  readonly low: number;
  readonly high: number;
  readonly count: number;
}

const trailingRule = {
  /** The two weeks up to a session: four to six sessions of most people. Common practice, no source. */
  days: 14,
  /** Fewer values have no middle worth drawing. */
  leastCount: 3,
  /** After a longer break the line begins anew. */
  longestBreakDays: 28,
} as const;

/**
 * The median and quartiles at each date of `values` (in order of date), over the values of the days up to it. Split where
 * nothing was measured for longer than the longest break; no point where too few stand in the window.
 */
export function trailingMedian(values: readonly DatedValue[], rule = trailingRule): TrailingPoint[][] {
  const stretches: DatedValue[][] = [];
  for (const value of values) {
    const before = stretches.at(-1)?.at(-1);
    if (before === undefined || value.atDay - before.atDay > rule.longestBreakDays) stretches.push([value]);
    else stretches.at(-1)!.push(value);
  }
  return stretches
    .map((stretch) => {
      const points: TrailingPoint[] = [];
      let first = 0;
      stretch.forEach(({ atDay }, index) => {
        // Of several at one time the last stands for all.
        if (stretch[index + 1]?.atDay === atDay) return;
        while (stretch[first]!.atDay <= atDay - rule.days) first += 1;
        if (index + 1 - first < rule.leastCount) return;
        const sorted = sortedRising(stretch.slice(first, index + 1).map(({ value }) => value));
        points.push({
          atDay,
          median: quantileOfSorted(sorted, 0.5)!,
          low: quantileOfSorted(sorted, 0.25)!,
          high: quantileOfSorted(sorted, 0.75)!,
          count: sorted.length,
        });
      });
      return points;
    })
    .filter((points) => points.length > 0);
}

/** What can be said of the last four weeks. */
export type Trend =
  /** Nothing was measured in them. */
  | { readonly kind: 'none' }
  | { readonly kind: 'few'; readonly count: number; readonly median: number }
  /** It went one way through the days just past, beyond what chance does one time in twenty. */
  | {
      readonly kind: 'moved';
      readonly way: 'up' | 'down';
      readonly from: number;
      readonly to: number;
      readonly days: number;
      readonly count: number;
    }
  /** Not one way; beside the four weeks before, where there are such. */
  | {
      readonly kind: 'level';
      /** `unclear` while the 95 % intervals overlap or one cannot be told. */
      readonly change: 'higher' | 'lower' | 'unclear';
      readonly now: MedianInterval;
      readonly before: MedianInterval | null;
    };

const weeksDays = 28;
/** The spans in which it is looked for a movement, the longest first. */
const spansDays = [28, 14] as const;
/** Four values in one order happen by chance one time in twelve. */
const leastToMove = 5;
const leastToSay = 4;

/** One value a session, in order of date: holds of one session are too alike to count each. */
export function trendOf(values: readonly DatedValue[], lastDay: number): Trend {
  const own = values.filter(({ atDay }) => atDay > lastDay - weeksDays && atDay <= lastDay);
  const now = medianWithInterval(own.map(({ value }) => value));
  if (now === null) return { kind: 'none' };
  if (own.length < leastToSay) return { kind: 'few', count: own.length, median: now.median };
  for (const days of spansDays) {
    const span = own.filter(({ atDay }) => atDay > lastDay - days);
    const z = kendallZ(span);
    if (span.length < leastToMove || Math.abs(z) < oneInTwenty) continue;
    const end = Math.max(1, Math.floor(span.length / 4));
    const middle = (part: readonly DatedValue[]) =>
      quantileOfSorted(sortedRising(part.map(({ value }) => value)), 0.5)!;
    return {
      kind: 'moved',
      way: z > 0 ? 'up' : 'down',
      from: middle(span.slice(0, end)),
      to: middle(span.slice(-end)),
      days: Math.max(1, Math.round(span.at(-1)!.atDay - span[0]!.atDay)),
      count: span.length,
    };
  }
  const before = medianWithInterval(
    values
      .filter(({ atDay }) => atDay > lastDay - 2 * weeksDays && atDay <= lastDay - weeksDays)
      .map(({ value }) => value),
  );
  const isApart = (lower: MedianInterval | null, upper: MedianInterval | null) =>
    lower !== null && upper !== null && lower.high !== null && upper.low !== null && lower.high < upper.low;
  return {
    kind: 'level',
    now,
    before,
    change: isApart(before, now) ? 'higher' : isApart(now, before) ? 'lower' : 'unclear',
  };
}

/** Two-sided, of a normal distribution. */
const oneInTwenty = 1.96;

/**
 * Mann's test against trend with Kendall's variance for ties and the continuity correction: how far the count of rising pairs
 * less falling pairs lies from chance, in standard deviations (Mann HB, Econometrica 1945;13:245-259; Kendall MG, Rank
 * Correlation Methods, from memory). For five values in one order 2.2; by counting all orders such has 1.7 %.
 */
export function kendallZ(values: readonly DatedValue[]): number {
  const count = values.length;
  let score = 0;
  for (let one = 0; one < count; one += 1)
    for (let other = one + 1; other < count; other += 1)
      score += Math.sign(values[other]!.value - values[one]!.value);
  const sizes = new Map<number, number>();
  for (const { value } of values) sizes.set(value, (sizes.get(value) ?? 0) + 1);
  const term = (n: number) => n * (n - 1) * (2 * n + 5);
  const variance = (term(count) - [...sizes.values()].reduce((sum, size) => sum + term(size), 0)) / 18;
  if (variance <= 0 || score === 0) return 0;
  return (score - Math.sign(score)) / Math.sqrt(variance);
}
