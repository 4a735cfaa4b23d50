// How long to wait before the next try of something that fails: soon at first, then less and less often.

const firstMs = 1_000;
const longestMs = 30_000;

/** `failures`: how many tries have failed in a row, from 1. Doubles up to half a minute. Our choice. */
export const backOffMs = (failures: number): number =>
  Math.min(longestMs, firstMs * 2 ** Math.min(10, Math.max(0, failures - 1)));
