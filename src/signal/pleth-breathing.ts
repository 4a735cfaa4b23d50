// The respiratory wave in a pleth signal: its slow baseline, which breathing moves and a hold leaves still, and how much
// it swings within a second, which breathing and moving make larger. After the baseline-modulation method reviewed in
// Charlton PH et al., IEEE Rev Biomed Eng 2018;11:2-20.

/** One second of pleth, in the pleth's own unit; NaN when none came. */
export interface PlethSecond {
  readonly baseline: number;
  /** Standard deviation about the baseline. */
  readonly swing: number;
}

export interface PlethBreathing {
  push(atMs: number, value: number): void;
  /** The second that ends at `rowMs`; forgets everything up to then. */
  takeUntil(rowMs: number): PlethSecond;
}

const nothing: PlethSecond = { baseline: Number.NaN, swing: Number.NaN };

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
      let squares = 0;
      let count = 0;
      // Squares about the first value: a photodiode's level is large beside its pulse.
      const about = values[0] ?? 0;
      let used = 0;
      for (; used < times.length && times[used]! <= rowMs; used++) {
        if (times[used]! > rowMs - 1_000) {
          const value = values[used]! - about;
          sum += value;
          squares += value * value;
          count += 1;
        }
      }
      if (used === times.length) {
        times.length = 0;
        values.length = 0;
      } else {
        times = times.slice(used);
        values = values.slice(used);
      }
      if (count < 5) {
        return nothing;
      }
      const mean = sum / count;
      return { baseline: about + mean, swing: Math.sqrt(Math.max(0, squares / count - mean * mean)) };
    },
  };
}
