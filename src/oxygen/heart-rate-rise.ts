// Whether a steady heart has just grown quicker at once, as it does with the first breaths after a pause (from memory; the end of
// a hold is seen by it too, src/holds/boundary-evidence.ts). Without breathing the heart loses the rhythm of breathing and is
// steady; in a hold it slows, or changes over half a minute and more. Somebody who breathes thin air is not steady before.

import { selectPlace } from '../signal/order-statistics.ts';

/** So much quicker within so short a time is a rise at once. Our choice: more than a hold's own slow change. */
const risePerMin = 5;
const withinMs = 10_000;
/** Before it, medians stayed this near one another for so long. Our choice: three breaths' time, and half of what a rise is. */
const steadyForMs = 15_000;
const steadyWithinPerMin = 2;
/** A rise counts for so long. Our choice: the finger's saturation still falls for 10 to 35 s after it (reference 3.27). */
const countsForMs = 20_000;
/** Medians of this many readings: one second's rate jumps by a beat found too many. */
const medianOf = 5;
const keptMs = 60_000;

export interface HeartRateRise {
  push(atMs: number, heartRateBpm: number): void;
  /** False also where too little is known to say. */
  risenAt(nowMs: number): boolean;
}

interface Kept {
  readonly atMs: number;
  readonly bpm: number;
  /** Of the `medianOf` readings up to it; NaN where there were not so many. Once and for all: a sensor that tells its rate ten times a second has thousands of pairs to compare. */
  median: number;
}

const medianRoom = new Float64Array(medianOf);

function medianOfNewest(kept: readonly Kept[]): number {
  for (let i = 0; i < medianOf; i++) medianRoom[i] = kept[kept.length - medianOf + i]!.bpm;
  return selectPlace(medianRoom, medianOf, medianOf >> 1);
}

/** Remembers the last minute or two. */
export function createHeartRateRise(): HeartRateRise {
  let kept: Kept[] = [];
  const isSteadyUpTo = (index: number): boolean => {
    const { atMs: untilMs, median: level } = kept[index]!;
    for (let at = index; at >= medianOf - 1; at--) {
      const { atMs, median } = kept[at]!;
      if (Math.abs(median - level) > steadyWithinPerMin) return false;
      if (untilMs - atMs >= steadyForMs) return true;
    }
    return false;
  };
  return {
    push(atMs, bpm) {
      kept.push({ atMs, bpm, median: Number.NaN });
      if (kept.length >= medianOf) kept[kept.length - 1]!.median = medianOfNewest(kept);
      if (atMs - kept[0]!.atMs > 2 * keptMs) kept = kept.filter((one) => atMs - one.atMs <= keptMs);
    },
    risenAt(nowMs) {
      for (let late = kept.length - 1; late >= medianOf; late--) {
        const { atMs: lateMs, median } = kept[late]!;
        if (nowMs - lateMs > countsForMs) return false;
        const wanted = median - risePerMin;
        for (let early = late - 1; early >= medianOf - 1 && lateMs - kept[early]!.atMs <= withinMs; early--)
          if (kept[early]!.median <= wanted && isSteadyUpTo(early)) return true;
      }
      return false;
    },
  };
}
