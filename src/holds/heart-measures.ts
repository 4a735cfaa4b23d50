// Heart rate of a hold: rest, lowest, how it answered to the hold, and its way back; variability at rest and after.
// Every rule stands in MEASURES.md too, for those who work it out from an exported recording.

import type { Sample } from '../samples/sample.ts';
import { rmssdMs, sdnnMs } from '../signal/heart-rate-variability.ts';
import { correctRr } from '../signal/rr-artefacts.ts';
import type { SecondRow } from '../signal/second-rows.ts';
import { type HoldScene, type Measured, mean, median, type WhyNot } from './hold-scene.ts';

/** Lower by this share of rest counts as lower, and back is within it. A choice. */
const lowerShare = 0.05;
/** The way back is looked for this long after the end at most. */
const longestBackMs = 120_000;
/** The rise at the start is over by then (3.08: brief; time our choice). */
const peakWithinMs = 20_000;
/** The diving response has settled by then (3.02: about 30 s; twice that, our choice); later falls are drift. */
const settledWithinMs = 60_000;
const shortestForResponseMs = 30_000;
/** RMSSD after the end: windows of this length, a step apart, up to so long after it. Choices. */
const windowMs = 30_000;
const windowStepMs = 5_000;
const longestRmssdBackMs = 180_000;
/** Back is within this share of rest: RMSSD of 30 s varies by about as much. A choice. */
const rmssdBackShare = 0.8;

/** Means over `count` rows on end. */
interface RowMean {
  readonly bpm: number;
  /** Middle of the time they cover. */
  readonly atMs: number;
}

/** Means of every `count` rows on end of which at least `known` have a rate, in order of time. */
function meansOf(rows: readonly SecondRow[], count: number, known: number): RowMean[] {
  const means: RowMean[] = [];
  for (let i = 0; i + count <= rows.length; i++) {
    const firstMs = rows[i]!.atMs;
    const lastMs = rows[i + count - 1]!.atMs;
    // A long silence starts the rows afresh.
    if (lastMs - firstMs !== (count - 1) * 1_000) continue;
    let sum = 0;
    let rates = 0;
    for (let k = i; k < i + count; k++) {
      const { heartRateBpm } = rows[k]!;
      if (!Number.isFinite(heartRateBpm)) continue;
      sum += heartRateBpm;
      rates += 1;
    }
    if (rates >= known) means.push({ bpm: sum / rates, atMs: (firstMs - 1_000 + lastMs) / 2 });
  }
  return means;
}

/** The first of the lowest. */
const lowestOf = (means: readonly RowMean[]): RowMean | undefined =>
  means.reduce<RowMean | undefined>(
    (least, each) => (least && least.bpm <= each.bpm ? least : each),
    undefined,
  );
/** The first of the highest. */
const highestOf = (means: readonly RowMean[]): RowMean | undefined =>
  means.reduce<RowMean | undefined>((most, each) => (most && most.bpm >= each.bpm ? most : each), undefined);

/** Known heart rates of the rows after `fromMs`, up to `toMs`. */
const ratesBetween = (rows: readonly SecondRow[], fromMs: number, toMs: number): number[] =>
  rows
    .filter((row) => row.atMs > fromMs && row.atMs <= toMs && Number.isFinite(row.heartRateBpm))
    .map((row) => row.heartRateBpm);

export function heartRateMeasures(scene: HoldScene): Measured {
  const { startMs, previousEndMs, rows, holdRows } = scene;
  const quietFromMs = Math.max(startMs - 60_000, previousEndMs + 30_000);
  const restRates = ratesBetween(rows, quietFromMs, startMs - 10_000);
  const rest = restRates.length >= 10 ? median(restRates) : null;
  const lowest = lowestOf(meansOf(holdRows, 5, 4));
  const known = holdRows.filter((row) => Number.isFinite(row.heartRateBpm));
  const noRest: WhyNot = rows.some((row) => Number.isFinite(row.heartRateBpm)) ? 'noRest' : 'noHeartRate';
  return {
    heartRateRestBpm: rest ?? noRest,
    heartRateLowestBpm: lowest?.bpm ?? 'noHeartRate',
    heartRateMeanBpm: mean(known.map((row) => row.heartRateBpm)) ?? 'noHeartRate',
    heartRateFallPercent:
      lowest === undefined ? 'noHeartRate' : rest === null ? noRest : (100 * (rest - lowest.bpm)) / rest,
    timeToLowestHeartRateS: lowest === undefined ? 'noHeartRate' : (lowest.atMs - startMs) / 1_000,
    ...response(scene),
    ...wayBack(scene, rest, noRest),
  };
}

/** The rise at the start, and how long the fall from it took by half and by nine tenths. */
function response({ startMs, endMs, untilMs, holdRows }: HoldScene): Measured {
  const answer = (
    peak: number | WhyNot,
    peakAt: number | WhyNot,
    half: number | WhyNot,
    most: number | WhyNot = half,
  ): Measured => ({
    heartRateInitialPeakBpm: peak,
    heartRateInitialPeakS: peakAt,
    heartRateHalfFallS: half,
    heartRateMostFallS: most,
  });
  const threes = meansOf(holdRows, 3, 2);
  const peak = highestOf(threes.filter(({ atMs }) => atMs <= startMs + peakWithinMs));
  if (peak === undefined) return answer('noHeartRate', 'noHeartRate', 'noHeartRate');
  const peakAtS = (peak.atMs - startMs) / 1_000;
  if (endMs === undefined) return answer(peak.bpm, peakAtS, 'noEnd');
  if (untilMs - startMs < shortestForResponseMs) return answer(peak.bpm, peakAtS, 'shortForResponse');
  const settled = lowestOf(
    meansOf(holdRows, 5, 4).filter(({ atMs }) => atMs > peak.atMs && atMs <= startMs + settledWithinMs),
  );
  if (settled === undefined) return answer(peak.bpm, peakAtS, 'noHeartRate');
  const fall = peak.bpm - settled.bpm;
  if (fall < lowerShare * peak.bpm) return answer(peak.bpm, peakAtS, 'noRateFall');
  const timeToShare = (share: number): number | WhyNot => {
    const there = threes.find(({ atMs, bpm }) => atMs > peak.atMs && bpm <= peak.bpm - share * fall);
    return there === undefined ? 'noRateFall' : (there.atMs - startMs) / 1_000;
  };
  return answer(peak.bpm, peakAtS, timeToShare(0.5), timeToShare(0.9));
}

/** From the rate that a hold ended with back to rest, and half the way. */
function wayBack(
  { endMs, nextStartMs, rows, holdRows }: HoldScene,
  rest: number | null,
  noRest: WhyNot,
): Measured {
  const answer = (back: number | WhyNot, half: number | WhyNot = back): Measured => ({
    heartRateBackS: back,
    heartRateHalfBackS: half,
  });
  if (endMs === undefined) return answer('noEnd');
  if (rest === null) return answer(noRest);
  const last = holdRows
    .slice(-5)
    .map((row) => row.heartRateBpm)
    .filter(Number.isFinite);
  if (last.length < 3) return answer('noHeartRate');
  const atEnd = mean(last)!;
  const backBpm = (1 - lowerShare) * rest;
  if (atEnd >= backBpm) return answer('rateNotLower');
  const untilMs = Math.min(endMs + longestBackMs, nextStartMs);
  const after = meansOf(
    rows.filter((row) => row.atMs - 1_000 >= endMs && row.atMs <= untilMs),
    3,
    2,
  );
  const missing: WhyNot =
    after.length === 0
      ? 'noHeartRate'
      : nextStartMs < endMs + longestBackMs
        ? 'notBackBeforeNext'
        : 'notBackInTime';
  const firstAtLeast = (bpm: number): number | WhyNot => {
    const there = after.find((each) => each.bpm >= bpm);
    return there === undefined ? missing : (there.atMs - endMs) / 1_000;
  };
  return answer(firstAtLeast(backBpm), firstAtLeast(Math.min((atEnd + rest) / 2, backBpm)));
}

export function variabilityMeasures(scene: HoldScene): Measured {
  const { startMs, endMs, lastMs, near, previousEndMs, nextStartMs } = scene;
  const beats = near.filter((s) => s.channel === 'rrIntervalMs' && s.quality !== 'bad');
  const restFromMs = Math.max(startMs - 130_000, near[0]?.atMs ?? startMs, previousEndMs + 30_000);
  const rest = correctedIntervals(beats, restFromMs, startMs - 10_000);
  const recovery =
    endMs === undefined
      ? []
      : correctedIntervals(beats, endMs + 10_000, Math.min(endMs + 70_000, lastMs, nextStartMs));
  const noRest: WhyNot = beats.length > 0 ? 'noRest' : 'noBeats';
  const noRecovery: WhyNot = endMs === undefined ? 'noEnd' : 'noBeats';
  return {
    rmssdRestMs: rmssdMs(rest) ?? noRest,
    sdnnRestMs: sdnnMs(rest) ?? noRest,
    rmssdRecoveryMs: rmssdMs(recovery) ?? noRecovery,
    sdnnRecoveryMs: sdnnMs(recovery) ?? noRecovery,
    ...rmssdWayBack(scene, beats, rmssdMs(rest), noRest),
  };
}

/** RMSSD of windows of 30 s after the end: middle of the first that is back at rest, and of the first half the way. */
function rmssdWayBack(
  { endMs, lastMs, nextStartMs }: HoldScene,
  beats: readonly Sample[],
  rest: number | null,
  noRest: WhyNot,
): Measured {
  const answer = (back: number | WhyNot, half: number | WhyNot = back): Measured => ({
    rmssdBackS: back,
    rmssdHalfBackS: half,
  });
  if (endMs === undefined) return answer('noEnd');
  if (rest === null) return answer(noRest);
  const untilMs = Math.min(endMs + longestRmssdBackMs, lastMs, nextStartMs);
  const windows: { readonly middleS: number; readonly rmssd: number | null }[] = [];
  for (let fromMs = endMs; fromMs + windowMs <= untilMs; fromMs += windowStepMs)
    windows.push({
      middleS: (fromMs - endMs + windowMs / 2) / 1_000,
      rmssd: rmssdMs(correctedIntervals(beats, fromMs, fromMs + windowMs, 0)),
    });
  const first = windows[0]?.rmssd ?? null;
  if (first === null) return answer('noBeats');
  const backMs = rmssdBackShare * rest;
  if (first >= backMs) return answer('rmssdNotLower');
  const missing: WhyNot = nextStartMs < endMs + longestRmssdBackMs ? 'notBackBeforeNext' : 'notBackInTime';
  const firstAtLeast = (leastMs: number): number | WhyNot =>
    windows.find(({ rmssd }) => rmssd !== null && rmssd >= leastMs)?.middleS ?? missing;
  return answer(firstAtLeast(backMs), firstAtLeast(Math.min((first + rest) / 2, backMs)));
}

/** Corrected intervals of a stretch of usable beats; none where they are few or cover too little of it. */
function correctedIntervals(
  beats: readonly Sample[],
  fromMs: number,
  toMs: number,
  leastTotalMs = 30_000,
): readonly number[] {
  const rr = beats.filter((s) => s.atMs > fromMs && s.atMs <= toMs);
  const corrected = correctRr(rr.map((s) => s.value)).correctedMs;
  const total = corrected.reduce((sum, value) => sum + value, 0);
  return total >= leastTotalMs && total >= 0.7 * (toMs - fromMs) ? corrected : [];
}
