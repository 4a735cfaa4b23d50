// Measures of a hold and of a session, as defined in measure-table.ts. What the signals do not tell is null.

import { type Said, type SaidCode, said } from '../../shared/said.ts';
import type { Sample } from '../samples/sample.ts';
import { breathingRhythm } from '../signal/breathing-rhythm.ts';
import { bridgeGaps, evenHeartRate } from '../signal/even-heart-rate.ts';
import { rmssdMs, sdnnMs } from '../signal/heart-rate-variability.ts';
import type { PlethSecond } from '../signal/pleth-breathing.ts';
import { correctRr } from '../signal/rr-artefacts.ts';
import { createSecondRows, type SecondRow, withPleth } from '../signal/second-rows.ts';
import { contractionsOfHold } from './contraction-estimate.ts';
import type { Hold } from './hold.ts';
import { thresholdsPercent } from './measure-table.ts';

/** Keys as in `measureTable`; null means not known. */
export type HoldMeasures = Readonly<Record<string, number | null>>;

export interface SessionMeasures {
  /** Keys as in `sessionMeasureTable`. */
  readonly values: Readonly<Record<string, number | null>>;
  /** Sentences on what the signals could not tell. */
  readonly notKnown: readonly Said[];
}

export interface MeasureContext {
  /** End of the hold before, if any: its recovery is not rest. */
  readonly previousEndMs?: number;
  /** Start of the hold after, if any: readings beyond belong to it. */
  readonly nextStartMs?: number;
  /** Stands in for pleth samples where those are left out. */
  readonly plethSeconds?: ReadonlyMap<number, PlethSecond>;
}

const median = (values: readonly number[]): number | null => {
  if (values.length === 0) {
    return null;
  }
  const sorted = [...values].sort((a, b) => a - b);
  const mid = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[mid]! : (sorted[mid - 1]! + sorted[mid]!) / 2;
};
const mean = (values: readonly number[]): number | null =>
  values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;

/** Finger saturation belongs to a hold up to this long after its end (3.27: use up to about 40 s). */
const afterEndMs = 60_000;
const longestSpo2GapMs = 5_000;
/** Breathing is looked at this long before the start, at most. */
const breathingLookedAtMs = 60_000;
/** The breath before a hold is unlike the others, and its beats are left out. A choice. */
const lastBreathMs = 2_000;
/** Steps at which the beats are looked at: a beat a second tells no more. */
const beatStepsPerSecond = 2;
/** More wrong beats than this share leave no rhythm to be trusted. A choice. */
const mostCorrectedOfRest = 0.1;
/** Seconds of pleth missing for longer than this end the attempt. */
const longestPlethGapS = 3;

/**
 * Measures one hold. `samples` are the athlete's, in time order, cleaned; only those from 130 s before the start to
 * 90 s after the end matter, so a caller may pass a slice. A hold without an end has only what is known so far:
 * durations are null.
 */
export function computeHoldMeasures(
  hold: Hold,
  samples: readonly Sample[],
  context: MeasureContext = {},
): HoldMeasures {
  const startMs: number = hold.start.atMs;
  const endMs: number | undefined = hold.end?.atMs;
  const near = samples.filter(
    (sample) =>
      sample.atMs >= startMs - 135_000 && sample.atMs <= (endMs ?? Number.POSITIVE_INFINITY) + 95_000,
  );
  const lastMs = near.at(-1)?.atMs ?? startMs;
  const untilMs = endMs ?? lastMs;
  const rowStream = createSecondRows();
  const rows: SecondRow[] = [];
  for (const sample of near) {
    rows.push(...rowStream.push(sample));
  }
  rows.push(...rowStream.flush());
  withPleth(rows, context.plethSeconds);

  const durationS = endMs === undefined ? null : (endMs - startMs) / 1_000;
  const first = hold.contractionsAtMs.length > 0 ? Math.min(...hold.contractionsAtMs) : null;
  const timeToFirst = first === null ? null : (first - startMs) / 1_000;
  const timeAfterFirst = first === null || endMs === undefined ? null : (endMs - first) / 1_000;

  const contractions = endMs === undefined ? undefined : contractionsOfHold(startMs, endMs, near, rows);

  // Breathing before the hold.
  const breathedFromMs = Math.max(
    startMs - breathingLookedAtMs,
    (context.previousEndMs ?? Number.NEGATIVE_INFINITY) + 10_000,
  );
  const breathing = breathingBetween(breathedFromMs, startMs, near, rows);

  // Saturation.
  const spo2 = near.filter((sample) => sample.channel === 'spo2Percent' && sample.quality === 'good');
  const belongsUntil = Math.min(
    untilMs + afterEndMs,
    (context.nextStartMs ?? Number.POSITIVE_INFINITY) + 10_000,
  );
  const atStart = median(
    spo2.filter((s) => s.atMs > startMs - 15_000 && s.atMs <= startMs).map((s) => s.value),
  );
  const within = spo2.filter((s) => s.atMs >= startMs + 10_000 && s.atMs <= belongsUntil);
  const lowest = within.length === 0 ? null : Math.min(...within.map((s) => s.value));
  let lowestAtMs: number | null = null;
  if (lowest !== null) {
    const firstLow = within.findIndex((s) => s.value === lowest);
    let lastLow = firstLow;
    while (lastLow + 1 < within.length && within[lastLow + 1]!.value === lowest) {
      lastLow += 1;
    }
    lowestAtMs = (within[firstLow]!.atMs + within[lastLow]!.atMs) / 2;
  }
  const fall = atStart !== null && lowest !== null ? atStart - lowest : null;
  let fallRate: number | null = null;
  if (fall !== null && fall >= 3 && lowestAtMs !== null && atStart !== null) {
    const untilLowest = within.filter((s) => s.atMs <= lowestAtMs);
    let from = 0;
    untilLowest.forEach((s, i) => {
      if (s.value >= atStart - 1) {
        from = i;
      }
    });
    const slope = slopePerMs(untilLowest.slice(from));
    fallRate = slope === null ? null : -slope * 60_000;
  }
  const timeBelow = (threshold: number, area = false): number | null => {
    const all = spo2.filter((s) => s.atMs >= startMs && s.atMs <= belongsUntil);
    if (all.length < 2) {
      return null;
    }
    let sum = 0;
    for (let i = 0; i + 1 < all.length; i++) {
      const gap = Math.min(longestSpo2GapMs, all[i + 1]!.atMs - all[i]!.atMs) / 1_000;
      if (all[i]!.value < threshold) {
        sum += area ? gap * (threshold - all[i]!.value) : gap;
      }
    }
    return sum;
  };
  const back95 =
    endMs !== undefined && lowest !== null && lowest < 95 && lowestAtMs !== null
      ? (spo2.find((s) => s.atMs > lowestAtMs && s.value >= 95 && s.atMs <= belongsUntil + 30_000)?.atMs ??
        null)
      : null;

  // Heart rate.
  const quietFrom = Math.max(startMs - 60_000, (context.previousEndMs ?? Number.NEGATIVE_INFINITY) + 30_000);
  const rate = (from: number, to: number): number[] =>
    rows
      .filter((row) => row.atMs > from && row.atMs <= to && Number.isFinite(row.heartRateBpm))
      .map((row) => row.heartRateBpm);
  const restRates = rate(quietFrom, startMs - 10_000);
  const rest = restRates.length >= 10 ? median(restRates) : null;
  const holdRows = rows.filter((row) => row.atMs > startMs && row.atMs <= untilMs);
  const known = holdRows.filter((row) => Number.isFinite(row.heartRateBpm));
  let lowestRate: number | null = null;
  let lowestRateAtMs: number | null = null;
  for (let i = 0; i + 5 <= holdRows.length; i++) {
    const five = holdRows
      .slice(i, i + 5)
      .map((row) => row.heartRateBpm)
      .filter(Number.isFinite);
    const value = five.length >= 4 ? mean(five) : null;
    if (value !== null && (lowestRate === null || value < lowestRate)) {
      lowestRate = value;
      lowestRateAtMs = holdRows[i]!.atMs + 1_500;
    }
  }
  const fallPercent = rest !== null && lowestRate !== null ? (100 * (rest - lowestRate)) / rest : null;
  let rateBack: number | null = null;
  if (endMs !== undefined && rest !== null && fallPercent !== null && fallPercent >= 5) {
    for (let t = endMs + 1_500; t <= endMs + 90_000 && rateBack === null; t += 1_000) {
      const three = rate(t - 1_500, t + 1_500);
      if (three.length >= 2 && mean(three)! >= 0.95 * rest) {
        rateBack = (t - endMs) / 1_000;
      }
    }
  }

  // Variability, of corrected intervals.
  const intervals = (fromMs: number, toMs: number): readonly number[] => {
    const rr = near.filter(
      (s) => s.channel === 'rrIntervalMs' && s.quality !== 'bad' && s.atMs > fromMs && s.atMs <= toMs,
    );
    const corrected = correctRr(rr.map((s) => s.value)).correctedMs;
    const total = corrected.reduce((sum, value) => sum + value, 0);
    return total >= 30_000 && total >= 0.7 * (toMs - fromMs) ? corrected : [];
  };
  const restIntervals = intervals(
    Math.max(
      startMs - 130_000,
      near[0]?.atMs ?? startMs,
      (context.previousEndMs ?? Number.NEGATIVE_INFINITY) + 30_000,
    ),
    startMs - 10_000,
  );
  const recoveryIntervals =
    endMs === undefined
      ? []
      : intervals(
          endMs + 10_000,
          Math.min(endMs + 70_000, lastMs, context.nextStartMs ?? Number.POSITIVE_INFINITY),
        );

  const spo2Rows = rows.filter((row) => row.atMs > startMs && row.atMs <= untilMs + 30_000);
  return {
    durationS,
    contractionCount: hold.contractionsAtMs.length > 0 ? hold.contractionsAtMs.length : null,
    timeToFirstContractionS: timeToFirst,
    timeAfterFirstContractionS: timeAfterFirst,
    shareBeforeContractionsPercent:
      timeToFirst === null || durationS === null || durationS <= 0 ? null : (100 * timeToFirst) / durationS,
    estimatedContractionOnsetS: contractions?.onsetS ?? null,
    estimatedContractionOnsetUncertaintyS: contractions?.onsetUncertaintyS ?? null,
    estimatedContractionCount: contractions?.count ?? null,
    breathingRateBeforePerMin: breathing.ratePerMin,
    heartRateSwingBeforeBpm: breathing.heartRateSwingBpm,
    spo2AtStartPercent: atStart,
    spo2LowestPercent: lowest,
    spo2LowestAfterEndS:
      fall !== null && fall >= 2 && lowestAtMs !== null && endMs !== undefined
        ? (lowestAtMs - endMs) / 1_000
        : null,
    spo2FallRatePercentPerMin: fallRate,
    ...Object.fromEntries(
      thresholdsPercent.map((threshold) => [`timeBelow${threshold}S`, timeBelow(threshold)]),
    ),
    areaBelow90PercentS: timeBelow(90, true),
    // A fall that was over before the end was another hold's.
    timeBackTo95S: back95 === null || endMs === undefined || back95 < endMs ? null : (back95 - endMs) / 1_000,
    heartRateRestBpm: rest,
    heartRateLowestBpm: lowestRate,
    heartRateMeanBpm: mean(known.map((row) => row.heartRateBpm)),
    heartRateFallPercent: fallPercent,
    timeToLowestHeartRateS: lowestRateAtMs === null ? null : (lowestRateAtMs - startMs) / 1_000,
    heartRateBackS: rateBack,
    rmssdRestMs: rmssdMs(restIntervals),
    sdnnRestMs: sdnnMs(restIntervals),
    rmssdRecoveryMs: rmssdMs(recoveryIntervals),
    sdnnRecoveryMs: sdnnMs(recoveryIntervals),
    heartRateCoveragePercent: holdRows.length === 0 ? null : (100 * known.length) / holdRows.length,
    spo2CoveragePercent:
      spo2Rows.length === 0
        ? null
        : (100 * spo2Rows.filter((row) => Number.isFinite(row.spo2Percent)).length) / spo2Rows.length,
  };
}

/** Breathing from `fromMs` to the start of a hold, of the pleth's baseline or else of the beats; null where not known. */
function breathingBetween(
  fromMs: number,
  startMs: number,
  samples: readonly Sample[],
  rows: readonly SecondRow[],
): { readonly ratePerMin: number | null; readonly heartRateSwingBpm: number | null } {
  const rate = evenHeartRate(samples, fromMs, startMs - lastBreathMs, beatStepsPerSecond);
  const byBeats =
    rate === undefined || rate.correctedShare > mostCorrectedOfRest
      ? undefined
      : breathingRhythm(rate.bpm, beatStepsPerSecond);
  const baseline = bridgeGaps(
    rows.filter((row) => row.atMs > fromMs && row.atMs <= startMs).map((row) => row.plethBreathing),
    longestPlethGapS,
  );
  const byPleth = baseline && breathingRhythm(baseline, 1);
  // The pleth moves with the chest itself; the heart only follows it.
  return {
    ratePerMin: (byPleth ?? byBeats)?.breathsPerMin ?? null,
    heartRateSwingBpm: byBeats?.swing ?? null,
  };
}

function slopePerMs(samples: readonly Sample[]): number | null {
  if (samples.length < 4) {
    return null;
  }
  const meanT = mean(samples.map((s) => s.atMs))!;
  const meanV = mean(samples.map((s) => s.value))!;
  let top = 0;
  let bottom = 0;
  for (const s of samples) {
    top += (s.atMs - meanT) * (s.value - meanV);
    bottom += (s.atMs - meanT) ** 2;
  }
  return bottom > 0 ? top / bottom : null;
}

/** Measures a session from its holds (in time order) and their measures, in the same order. */
export function computeSessionMeasures(
  holds: readonly Hold[],
  measures: readonly HoldMeasures[],
): SessionMeasures {
  const finished = holds.filter((hold) => hold.end !== undefined);
  const durations = finished.map((hold) => (hold.end!.atMs - hold.start.atMs) / 1_000);
  let breathingS = 0;
  for (let i = 0; i + 1 < finished.length; i++) {
    breathingS += Math.max(0, (finished[i + 1]!.start.atMs - finished[i]!.end!.atMs) / 1_000);
  }
  const slopes: number[] = [];
  for (let i = 0; i < durations.length; i++) {
    for (let j = i + 1; j < durations.length; j++) {
      slopes.push((durations[j]! - durations[i]!) / (j - i));
    }
  }
  const knownOf = (key: string): number[] =>
    measures.map((measure) => measure[key] ?? null).filter((value): value is number => value !== null);
  const lows = knownOf('spo2LowestPercent');
  const total = durations.reduce((sum, value) => sum + value, 0);
  const notKnown: Said[] = [];
  const lacking = (key: string): number => measures.length - knownOf(key).length;
  const lacks = (count: number, code: SaidCode & `sessionMeasure.lacks.${string}`): void => {
    if (count > 0) notKnown.push(said(code, { count, all: measures.length }));
  };
  lacks(lacking('spo2LowestPercent'), 'sessionMeasure.lacks.lowestSpo2');
  lacks(lacking('heartRateLowestBpm'), 'sessionMeasure.lacks.lowestHeartRate');
  lacks(lacking('rmssdRestMs'), 'sessionMeasure.lacks.variability');
  lacks(lacking('timeToFirstContractionS'), 'sessionMeasure.lacks.onset');
  lacks(holds.length - finished.length, 'sessionMeasure.lacks.end');
  return {
    values: {
      holdCount: finished.length,
      totalHoldS: finished.length === 0 ? null : total,
      workToRecoveryRatio: breathingS > 0 ? (total - (durations.at(-1) ?? 0)) / breathingS : null,
      durationTrendSPerHold: durations.length >= 3 ? median(slopes) : null,
      lowestSpo2Percent: lows.length === 0 ? null : Math.min(...lows),
      medianLagS: median(knownOf('spo2LowestAfterEndS')),
    },
    notKnown,
  };
}
