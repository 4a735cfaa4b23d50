// Estimates from the signals alone when involuntary breathing movements began in a hold, and how many there were: the
// chest moves against a closed airway, which ripples the heart rate and a pleth's baseline. AN ESTIMATE, never a mark.

import type { Sample } from '../samples/sample.ts';
import { bridgeGaps, evenHeartRate } from '../signal/even-heart-rate.ts';
import type { SecondRow } from '../signal/second-rows.ts';

/** What the ripple says; times are seconds from the first value. */
export interface ContractionEstimate {
  readonly onsetS: number;
  /** Half the span of onsets nearly as likely. */
  readonly onsetUncertaintyS: number;
  /** Ripples from the onset on. */
  readonly count: number;
}

/**
 * Periods looked at: movements come every few seconds, later about every 2 to 4 s (common practice, no source); the slow
 * blood-pressure wave of 10 s and longer (Task Force 1996: 0.04 to 0.15 Hz) is left out as far as a short filter can.
 */
const shortestPeriodS = 2;
const longestPeriodS = 8;
/** Length of the filter: longer would part 8 s from 10 s better and blur the onset more. A choice. */
const filterS = 12;
/** Power after the onset over power before. A choice: what is less cannot be told from ordinary unrest. */
const leastGain = 2.5;
/** Both halves of what follows the onset are to have at least this gain: one jolt is no row of contractions. A choice. */
const leastGainOfHalf = 2;
/**
 * Least log likelihood ratio of a change of variance over none. Of every possible onset of a hold the best is taken, so
 * more is asked than the 2 of a single test at 5 %. A choice, checked by the accuracy bench.
 */
const leastEvidence = 6;
/** Quiet needed before the onset and ripple after it to compare at all, s. A choice. */
const leastBeforeS = 20;
const leastAfterS = 10;
/** Log likelihood lost over which onsets count as nearly as likely. */
const nearlyAsLikely = 1;
/** A ripple counts from this many standard deviations of the quiet before. A choice. */
const countedAt = 2;

/**
 * `values` are evenly spaced, `perSecond` of them, from shortly after the start of a hold to its end, in a unit in which
 * `floor` is the least unrest worth a name (per cent of heart rate, say); none may be NaN. Undefined where the
 * evidence does not carry an estimate.
 */
export function estimateContractions(
  values: readonly number[],
  perSecond: number,
  floor: number,
): ContractionEstimate | undefined {
  const least = (leastBeforeS + leastAfterS) * perSecond;
  if (values.length < least) {
    return undefined;
  }
  const ripple = bandPass(values, perSecond);
  const n = ripple.length;
  const power = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) {
    power[i + 1] = power[i]! + ripple[i]! ** 2 + floor ** 2;
  }
  const meanPower = (from: number, to: number): number => (power[to]! - power[from]!) / (to - from);
  // A band of width B has 2 B independent values a second.
  const independent = (2 * (1 / shortestPeriodS - 1 / longestPeriodS)) / perSecond;
  const first = leastBeforeS * perSecond;
  const last = n - leastAfterS * perSecond;
  const all = n * Math.log(meanPower(0, n));
  const evidence = (at: number): number =>
    (independent / 2) * (all - at * Math.log(meanPower(0, at)) - (n - at) * Math.log(meanPower(at, n)));
  const grows = (at: number): boolean => {
    const before = meanPower(0, at);
    const middle = (at + n) >> 1;
    return (
      meanPower(at, n) >= leastGain * before &&
      meanPower(at, middle) >= leastGainOfHalf * before &&
      meanPower(middle, n) >= leastGainOfHalf * before
    );
  };
  let onset = -1;
  let best = leastEvidence;
  for (let at = first; at <= last; at++) {
    if (grows(at) && evidence(at) > best) {
      best = evidence(at);
      onset = at;
    }
  }
  if (onset < 0) {
    return undefined;
  }
  let from = onset;
  let to = onset;
  while (from > first && evidence(from - 1) > best - nearlyAsLikely) {
    from -= 1;
  }
  while (to < last && evidence(to + 1) > best - nearlyAsLikely) {
    to += 1;
  }
  return {
    onsetS: onset / perSecond,
    onsetUncertaintyS: Math.max(1, (to - from) / 2 / perSecond),
    count: crestsOf(ripple, onset, countedAt * Math.sqrt(meanPower(0, onset)), perSecond),
  };
}

/** Crests above `level` from `onset` on, at least the shortest period apart. */
function crestsOf(ripple: readonly number[], onset: number, level: number, perSecond: number): number {
  let count = 0;
  let lastAt = Number.NEGATIVE_INFINITY;
  for (let i = Math.max(1, onset); i + 1 < ripple.length; i++) {
    const crest = ripple[i]! > level && ripple[i]! >= ripple[i - 1]! && ripple[i]! > ripple[i + 1]!;
    if (crest && i - lastAt >= shortestPeriodS * perSecond) {
      count += 1;
      lastAt = i;
    }
  }
  return count;
}

/** Windowed-sinc band-pass (Hamming; Smith, The Scientist and Engineer's Guide to DSP, ch. 16), ends reflected oddly. */
function bandPass(values: readonly number[], perSecond: number): number[] {
  const reach = Math.round((filterS * perSecond) / 2);
  const lowPass = (cutHz: number): number[] => {
    const taps = Array.from({ length: 2 * reach + 1 }, (_, k) => {
      const x = k - reach;
      const cut = cutHz / perSecond;
      const sinc = x === 0 ? 2 * cut : Math.sin(2 * Math.PI * cut * x) / (Math.PI * x);
      return sinc * (0.54 + 0.46 * Math.cos((Math.PI * x) / reach));
    });
    const sum = taps.reduce((total, tap) => total + tap, 0);
    return taps.map((tap) => tap / sum);
  };
  const low = lowPass(1 / longestPeriodS);
  // At one value a second the shortest period is the sampling's own limit: nothing to cut off.
  const highHz = 1 / shortestPeriodS;
  const high =
    highHz < perSecond / 2
      ? lowPass(highHz)
      : Array.from({ length: 2 * reach + 1 }, (_, k) => (k === reach ? 1 : 0));
  const n = values.length;
  const at = (i: number): number => {
    if (i < 0) {
      return 2 * values[0]! - values[Math.min(n - 1, -i)]!;
    }
    return i < n ? values[i]! : 2 * values[n - 1]! - values[Math.max(0, 2 * n - 2 - i)]!;
  };
  return values.map((_, i) => {
    let sum = 0;
    for (let k = -reach; k <= reach; k++) {
      sum += (high[k + reach]! - low[k + reach]!) * at(i + k);
    }
    return sum;
  });
}

/** The start's own rise and fall of heart rate is over by then, s (3.08: a brief rise). */
const settleS = 8;
/** Heart rate is looked at twice a second: a beat a second tells no more. */
const ratePerSecond = 2;
/** Least unrest of heart rate, per cent: a strap's 1 ms (1/1024 s) in a beat of 1 s is 0.1 %, and beats jitter. */
const rateFloorPercent = 0.3;
/** Least unrest of a pleth's baseline, as a share of how much breathing moved it before the hold. A choice. */
const plethFloorShare = 0.05;
/** More wrong beats than this share leave no ripple to be trusted. A choice. */
const mostCorrected = 0.03;
/** Seconds of pleth missing for longer than this end the attempt. */
const longestGapS = 3;

/**
 * Estimates from the beats of a hold, or from the pleth's baseline where beats do not carry it. `onsetS` is from the
 * start of the hold. `rows` are the athlete's, a second apart, from about a minute before the start.
 */
export function contractionsOfHold(
  startMs: number,
  endMs: number,
  samples: readonly Sample[],
  rows: readonly SecondRow[],
): ContractionEstimate | undefined {
  const fromMs = startMs + settleS * 1_000;
  const shifted = (estimate: ContractionEstimate | undefined): ContractionEstimate | undefined =>
    estimate && { ...estimate, onsetS: estimate.onsetS + settleS };
  const rate = evenHeartRate(samples, fromMs, endMs, ratePerSecond);
  const byBeats =
    rate === undefined || rate.correctedShare > mostCorrected
      ? undefined
      : estimateContractions(
          // So that differences are per cent.
          rate.bpm.map((bpm) => 100 * Math.log(bpm)),
          ratePerSecond,
          rateFloorPercent,
        );
  if (byBeats !== undefined) {
    return shifted(byBeats);
  }
  const baseline = bridgeGaps(
    rows.filter((row) => row.atMs > fromMs && row.atMs <= endMs).map((row) => row.plethBreathing),
    longestGapS,
  );
  const before = rows
    .filter(
      (row) => row.atMs > startMs - 60_000 && row.atMs <= startMs && Number.isFinite(row.plethBreathing),
    )
    .map((row) => row.plethBreathing);
  const breathing = spread(before);
  return baseline === undefined || before.length < 20 || !(breathing > 0)
    ? undefined
    : shifted(estimateContractions(baseline, 1, plethFloorShare * breathing));
}

function spread(values: readonly number[]): number {
  const middle = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - middle) ** 2, 0) / values.length);
}
