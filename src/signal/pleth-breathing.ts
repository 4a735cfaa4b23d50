// The respiratory wave in a pleth signal: its slow baseline, which breathing moves and a hold leaves still.
// After the baseline-modulation method reviewed in Charlton PH et al., IEEE Rev Biomed Eng 2018;11:2-20.

export interface PlethBreathing {
  push(atMs: number, value: number): void;
  /** Mean of the pulse-free baseline since the last call, up to `rowMs`; NaN when no pleth came. */
  takeUntil(rowMs: number): number;
}

/** Makes an empty follower. One-second block means remove most of the pulse. */
export function createPlethBreathing(): PlethBreathing {
  let times: number[] = [];
  let values: number[] = [];
  return {
    push(atMs, value) {
      times.push(atMs);
      values.push(value);
      if (times.length > 4_000) {
        times = times.slice(-2_000);
        values = values.slice(-2_000);
      }
    },
    takeUntil(rowMs) {
      let sum = 0;
      let count = 0;
      let used = 0;
      for (; used < times.length && times[used]! <= rowMs; used++) {
        if (times[used]! > rowMs - 1_000) {
          sum += values[used]!;
          count += 1;
        }
      }
      times.splice(0, used);
      values.splice(0, used);
      return count >= 5 ? sum / count : Number.NaN;
    },
  };
}
