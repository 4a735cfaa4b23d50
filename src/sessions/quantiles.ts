// Medians and quantiles of a few values, and how sure a median is. No distribution is assumed.

/** The `share` quantile of values in rising order, between neighbours by linear interpolation; null of none. */
export function quantileOfSorted(sorted: readonly number[], share: number): number | null {
  if (sorted.length === 0) return null;
  const at = share * (sorted.length - 1);
  const below = Math.floor(at);
  const low = sorted[below]!;
  const high = sorted[Math.min(sorted.length - 1, below + 1)]!;
  return low + (at - below) * (high - low);
}

export const sortedRising = (values: readonly number[]): number[] => values.toSorted((a, b) => a - b);

export interface MedianInterval {
  readonly median: number;
  /** 95 % interval of the median, or null where there are too few values for one. */
  readonly low: number | null;
  readonly high: number | null;
  readonly count: number;
}

/**
 * The median with the narrowest pair of order statistics that holds the true one with at least 95 % probability
 * (binomial; Conover, Practical Nonparametric Statistics, 3rd ed., section 3.2, from memory). Needs six values:
 * of five, the least and the greatest hold it with 93.75 %. Null of none.
 */
export function medianWithInterval(values: readonly number[]): MedianInterval | null {
  const sorted = sortedRising(values);
  const count = sorted.length;
  const median = quantileOfSorted(sorted, 0.5);
  if (median === null) return null;
  // P(fewer than k of n fall below the median), summed from the tail.
  let tail = 0;
  let probability = 0.5 ** count;
  let left = -1;
  for (let k = 0; k < count / 2; k += 1) {
    tail += probability;
    if (2 * tail > 0.05) break;
    left = k;
    probability *= (count - k) / (k + 1);
  }
  return {
    median,
    low: left < 0 ? null : sorted[left]!,
    high: left < 0 ? null : sorted[count - 1 - left]!,
    count,
  };
}
