// RMSSD and SDNN of normal-to-normal intervals, by the definitions of the Task Force of ESC and NASPE,
// Circulation 1996;93:1043-1065.

/** Root mean square of successive differences, milliseconds, over N - 1 differences; null below two intervals. */
export function rmssdMs(nnMs: readonly number[]): number | null {
  if (nnMs.length < 2) {
    return null;
  }
  let sum = 0;
  for (let i = 1; i < nnMs.length; i++) {
    sum += (nnMs[i]! - nnMs[i - 1]!) ** 2;
  }
  return Math.sqrt(sum / (nnMs.length - 1));
}

/** Standard deviation with divisor N - 1, milliseconds; null below two intervals. */
export function sdnnMs(nnMs: readonly number[]): number | null {
  if (nnMs.length < 2) {
    return null;
  }
  const mean = nnMs.reduce((sum, nn) => sum + nn, 0) / nnMs.length;
  const squares = nnMs.reduce((sum, nn) => sum + (nn - mean) ** 2, 0);
  return Math.sqrt(squares / (nnMs.length - 1));
}
