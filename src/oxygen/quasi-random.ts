// Evenly spread points in place of random ones, so that sampling is deterministic: the Halton sequence and the
// normal quantile. Sources: Halton JH, Numer Math 1960;2:84-90; Acklam's rational approximation (both from memory).

const primes = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29] as const;

/** The index-th Halton point in one of ten dimensions, strictly between 0 and 1. */
export function halton(index: number, dimension: number): number {
  const base = primes[dimension]!;
  // The first points of high bases are correlated; starting later avoids them.
  let rest = index + 21;
  let fraction = 1;
  let value = 0;
  while (rest > 0) {
    fraction /= base;
    value += fraction * (rest % base);
    rest = Math.floor(rest / base);
  }
  return value;
}

const a = [
  -39.69683028665376, 220.9460984245205, -275.9285104469687, 138.357751867269, -30.66479806614716,
  2.506628277459239,
];
const b = [-54.47609879822406, 161.5858368580409, -155.6989798598866, 66.80131188771972, -13.28068155288572];
const c = [
  -0.007784894002430293, -0.3223964580411365, -2.400758277161838, -2.549732539343734, 4.374664141464968,
  2.938163982698783,
];
const d = [0.007784695709041462, 0.3224671290700398, 2.445134137142996, 3.754408661907416];

/** Standard normal quantile, absolute error below 1e-8 times 10; p strictly between 0 and 1. */
export function normalQuantile(p: number): number {
  if (p < 0.02425) {
    const q = Math.sqrt(-2 * Math.log(p));
    return polynomial(c, q) / (polynomial(d, q) * q + 1);
  }
  if (p > 1 - 0.02425) return -normalQuantile(1 - p);
  const q = p - 0.5;
  const r = q * q;
  return (polynomial(a, r) * q) / (polynomial(b, r) * r + 1);
}

function polynomial(coefficients: readonly number[], x: number): number {
  let value = 0;
  for (let i = 0; i < coefficients.length; i++) {
    const coefficient = coefficients[i]!;
    value = value * x + coefficient;
  }
  return value;
}

/** The index-th quasi-random standard normal number in one dimension. */
export function haltonNormal(index: number, dimension: number): number {
  return normalQuantile(halton(index, dimension));
}
