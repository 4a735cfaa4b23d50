// Quantiles of weighted values without allocation, and the normal distribution function.

/** A low share, the middle, a high share; each from 0 to 1, rising. */
export type Shares = readonly [number, number, number];
/** Values at such shares. */
export type Quantiles = readonly [number, number, number];
/** The central 80 % and the middle. */
export const centralShares: Shares = [0.1, 0.5, 0.9];

/** Most values that can be sorted. */
export const mostWeighted = 512;

// Shared by all forecasts: each is made from beginning to end without interruption.
const sortKeys = new Float64Array(mostWeighted);
const sortBits = new Uint32Array(sortKeys.buffer);
const indexMask = mostWeighted - 1;
/** Which of a number's two words holds the end of its mantissa on this machine. */
const lowWord = new Uint32Array(Float64Array.of(1).buffer)[0] === 0 ? 0 : 1;

/**
 * Writes the places of the first `count` values into `order`, that of the least first. Sorted by the engine's own number
 * sort, with each value's index in the lowest nine bits of its mantissa: no comparing function, nothing allocated; values
 * that differ by less than 1e-13 of themselves may change places.
 */
export function orderInto(order: Uint16Array, values: Float64Array, count: number): void {
  for (let index = 0; index < count; index++) {
    sortKeys[index] = values[index]!;
    const at = 2 * index + lowWord;
    sortBits[at] = (sortBits[at]! & ~indexMask) | index;
  }
  sortKeys.subarray(0, count).sort();
  for (let place = 0; place < count; place++) order[place] = sortBits[2 * place + lowWord]! & indexMask;
}

/** Weighted quantiles of the first `count` values; weights sum to 1, `order` as `orderInto` answers it. */
export function weightedQuantiles(
  values: Float64Array,
  weights: Float64Array,
  order: Uint16Array,
  count: number,
  shares: Shares,
): Quantiles {
  const result: [number, number, number] = [Number.NaN, Number.NaN, Number.NaN];
  let sum = 0;
  let next = 0;
  let index = 0;
  for (let place = 0; place < count && next < 3; place++) {
    index = order[place]!;
    sum += weights[index]!;
    while (next < 3 && sum >= shares[next]! - 1e-12) {
      result[next] = values[index]!;
      next++;
    }
  }
  for (; next < 3; next++) result[next] = values[index]!;
  return result;
}

/** Standard normal distribution function; Abramowitz & Stegun 7.1.26, error below 1.5e-7 (from memory). */
export function normalBelow(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const tail =
    t *
    (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))) *
    Math.exp(-x * x);
  return z < 0 ? tail / 2 : 1 - tail / 2;
}
