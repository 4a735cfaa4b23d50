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
import type { UnwatchedStretch } from './smoothing.ts';

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
  /** Nobody watched in these: no reading is carried on into them, however short they are. */
  readonly unwatched?: readonly UnwatchedStretch[];
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
  const scene = sceneOf(hold, samples, context);
  return {
    ...lengthMeasures(scene),
    ...estimatedContractions(scene),
    ...breathingBefore(scene),
    ...saturationMeasures(scene),
    ...heartRateMeasures(scene),
    ...variabilityMeasures(scene),
    ...coverageMeasures(scene),
  };
}

/** A hold and what of the signals lies about it. */
interface HoldScene {
  readonly hold: Hold;
  readonly startMs: number;
  readonly endMs: number | undefined;
  /** The end, or the last sample of a hold under way. */
  readonly untilMs: number;
  readonly lastMs: number;
  readonly near: readonly Sample[];
  readonly rows: readonly SecondRow[];
  /** Rows of the hold itself. */
  readonly holdRows: readonly SecondRow[];
  /** Minus and plus infinity where there is no hold before or after. */
  readonly previousEndMs: number;
  readonly nextStartMs: number;
  readonly unwatched: readonly UnwatchedStretch[];
}

/** Of rows in a stretch that nobody watched nothing is known. */
const unseen = (row: SecondRow, unwatched: readonly UnwatchedStretch[]): SecondRow =>
  unwatched.some(({ fromMs, toMs }) => row.atMs > fromMs && row.atMs <= toMs)
    ? { ...row, heartRateBpm: Number.NaN, heartRateSource: 'none', spo2Percent: Number.NaN }
    : row;

function sceneOf(hold: Hold, samples: readonly Sample[], context: MeasureContext): HoldScene {
  const startMs: number = hold.start.atMs;
  const endMs: number | undefined = hold.end?.atMs;
  const near = samples.filter(
    (sample) =>
      sample.atMs >= startMs - 135_000 && sample.atMs <= (endMs ?? Number.POSITIVE_INFINITY) + 95_000,
  );
  const lastMs = near.at(-1)?.atMs ?? startMs;
  const untilMs = endMs ?? lastMs;
  const rowStream = createSecondRows();
  const allRows: SecondRow[] = [];
  for (const sample of near) {
    allRows.push(...rowStream.push(sample));
  }
  allRows.push(...rowStream.flush());
  withPleth(allRows, context.plethSeconds);
  const unwatched = context.unwatched ?? [];
  const rows = unwatched.length === 0 ? allRows : allRows.map((row) => unseen(row, unwatched));
  return {
    hold,
    startMs,
    endMs,
    untilMs,
    lastMs,
    near,
    rows,
    holdRows: rows.filter((row) => row.atMs > startMs && row.atMs <= untilMs),
    previousEndMs: context.previousEndMs ?? Number.NEGATIVE_INFINITY,
    nextStartMs: context.nextStartMs ?? Number.POSITIVE_INFINITY,
    unwatched,
  };
}

function lengthMeasures({ hold, startMs, endMs }: HoldScene): HoldMeasures {
  const { contractionsAtMs } = hold;
  const durationS = endMs === undefined ? null : (endMs - startMs) / 1_000;
  const first = contractionsAtMs.length > 0 ? Math.min(...contractionsAtMs) : null;
  const timeToFirst = first === null ? null : (first - startMs) / 1_000;
  return {
    durationS,
    contractionCount: contractionsAtMs.length > 0 ? contractionsAtMs.length : null,
    timeToFirstContractionS: timeToFirst,
    timeAfterFirstContractionS: first === null || endMs === undefined ? null : (endMs - first) / 1_000,
    shareBeforeContractionsPercent:
      timeToFirst === null || durationS === null || durationS <= 0 ? null : (100 * timeToFirst) / durationS,
  };
}

function estimatedContractions({ startMs, endMs, near, rows }: HoldScene): HoldMeasures {
  const found = endMs === undefined ? undefined : contractionsOfHold(startMs, endMs, near, rows);
  return {
    estimatedContractionOnsetS: found?.onsetS ?? null,
    estimatedContractionOnsetUncertaintyS: found?.onsetUncertaintyS ?? null,
    estimatedContractionCount: found?.count ?? null,
  };
}

function breathingBefore({ startMs, previousEndMs, near, rows }: HoldScene): HoldMeasures {
  const fromMs = Math.max(startMs - breathingLookedAtMs, previousEndMs + 10_000);
  const breathing = breathingBetween(fromMs, startMs, near, rows);
  return {
    breathingRateBeforePerMin: breathing.ratePerMin,
    heartRateSwingBeforeBpm: breathing.heartRateSwingBpm,
  };
}

function saturationMeasures(scene: HoldScene): HoldMeasures {
  const { startMs, endMs, untilMs, near, nextStartMs, unwatched } = scene;
  const spo2 = near.filter((sample) => sample.channel === 'spo2Percent' && sample.quality === 'good');
  const belongsUntilMs = Math.min(untilMs + afterEndMs, nextStartMs + 10_000);
  const atStart = median(
    spo2.filter((s) => s.atMs > startMs - 15_000 && s.atMs <= startMs).map((s) => s.value),
  );
  const within = spo2.filter((s) => s.atMs >= startMs + 10_000 && s.atMs <= belongsUntilMs);
  const lowest = lowestOf(within);
  const fall = atStart !== null && lowest !== null ? atStart - lowest.value : null;
  const whole = spo2.filter((s) => s.atMs >= startMs && s.atMs <= belongsUntilMs);
  return {
    spo2AtStartPercent: atStart,
    spo2LowestPercent: lowest?.value ?? null,
    spo2LowestAfterEndS:
      fall !== null && fall >= 2 && lowest !== null && endMs !== undefined
        ? (lowest.atMs - endMs) / 1_000
        : null,
    spo2FallRatePercentPerMin:
      fall !== null && fall >= 3 && lowest !== null && atStart !== null
        ? fallRate(within, atStart, lowest.atMs)
        : null,
    ...Object.fromEntries(
      thresholdsPercent.map((threshold) => [
        `timeBelow${threshold}S`,
        timeBelow(whole, threshold, unwatched),
      ]),
    ),
    areaBelow90PercentS: timeBelow(whole, 90, unwatched, true),
    timeBackTo95S: timeBackTo95(spo2, lowest, endMs, belongsUntilMs),
  };
}

/** The lowest reading and the middle of its first unbroken stretch. */
function lowestOf(readings: readonly Sample[]): { readonly value: number; readonly atMs: number } | null {
  if (readings.length === 0) return null;
  const value = Math.min(...readings.map((s) => s.value));
  const first = readings.findIndex((s) => s.value === value);
  let last = first;
  while (last + 1 < readings.length && readings[last + 1]!.value === value) {
    last += 1;
  }
  return { value, atMs: (readings[first]!.atMs + readings[last]!.atMs) / 2 };
}

/** Per cent a minute, from the last reading near the start's to the lowest. */
function fallRate(within: readonly Sample[], atStart: number, lowestAtMs: number): number | null {
  const untilLowest = within.filter((s) => s.atMs <= lowestAtMs);
  let from = 0;
  untilLowest.forEach((s, i) => {
    if (s.value >= atStart - 1) {
      from = i;
    }
  });
  const slope = slopePerMs(untilLowest.slice(from));
  return slope === null ? null : -slope * 60_000;
}

/** Seconds below a threshold, or with `area` per cent times seconds. */
function timeBelow(
  readings: readonly Sample[],
  threshold: number,
  unwatched: readonly UnwatchedStretch[],
  area = false,
): number | null {
  if (readings.length < 2) {
    return null;
  }
  let sum = 0;
  for (let i = 0; i + 1 < readings.length; i++) {
    const [fromMs, nextMs] = [readings[i]!.atMs, readings[i + 1]!.atMs];
    const unseenFromMs =
      unwatched.find((span) => span.toMs > fromMs && span.fromMs < nextMs)?.fromMs ?? nextMs;
    const gap = Math.max(0, Math.min(longestSpo2GapMs, nextMs - fromMs, unseenFromMs - fromMs)) / 1_000;
    if (readings[i]!.value < threshold) {
      sum += area ? gap * (threshold - readings[i]!.value) : gap;
    }
  }
  return sum;
}

function timeBackTo95(
  spo2: readonly Sample[],
  lowest: { readonly value: number; readonly atMs: number } | null,
  endMs: number | undefined,
  belongsUntilMs: number,
): number | null {
  if (endMs === undefined || lowest === null || lowest.value >= 95) return null;
  const back = spo2.find((s) => s.atMs > lowest.atMs && s.value >= 95 && s.atMs <= belongsUntilMs + 30_000);
  // A fall that was over before the end was another hold's.
  return back === undefined || back.atMs < endMs ? null : (back.atMs - endMs) / 1_000;
}

/** Known heart rates of the rows after `fromMs`, up to `toMs`. */
const ratesBetween = (rows: readonly SecondRow[], fromMs: number, toMs: number): number[] =>
  rows
    .filter((row) => row.atMs > fromMs && row.atMs <= toMs && Number.isFinite(row.heartRateBpm))
    .map((row) => row.heartRateBpm);

function heartRateMeasures(scene: HoldScene): HoldMeasures {
  const { startMs, endMs, previousEndMs, rows, holdRows } = scene;
  const quietFromMs = Math.max(startMs - 60_000, previousEndMs + 30_000);
  const restRates = ratesBetween(rows, quietFromMs, startMs - 10_000);
  const rest = restRates.length >= 10 ? median(restRates) : null;
  const lowest = lowestRateOf(holdRows);
  const fallPercent = rest !== null && lowest !== null ? (100 * (rest - lowest.bpm)) / rest : null;
  return {
    heartRateRestBpm: rest,
    heartRateLowestBpm: lowest?.bpm ?? null,
    heartRateMeanBpm: mean(
      holdRows.filter((row) => Number.isFinite(row.heartRateBpm)).map((row) => row.heartRateBpm),
    ),
    heartRateFallPercent: fallPercent,
    timeToLowestHeartRateS: lowest === null ? null : (lowest.atMs - startMs) / 1_000,
    heartRateBackS:
      endMs !== undefined && rest !== null && fallPercent !== null && fallPercent >= 5
        ? rateBackAfter(rows, endMs, rest)
        : null,
  };
}

/** The lowest mean of five rows, at least four of them known, and its middle. */
function lowestRateOf(
  holdRows: readonly SecondRow[],
): { readonly bpm: number; readonly atMs: number } | null {
  let lowest: { bpm: number; atMs: number } | null = null;
  for (let i = 0; i + 5 <= holdRows.length; i++) {
    const five = holdRows
      .slice(i, i + 5)
      .map((row) => row.heartRateBpm)
      .filter(Number.isFinite);
    const bpm = five.length >= 4 ? mean(five) : null;
    if (bpm !== null && (lowest === null || bpm < lowest.bpm)) {
      lowest = { bpm, atMs: holdRows[i]!.atMs + 1_500 };
    }
  }
  return lowest;
}

/** Seconds from the end until three seconds' mean is within 5 % of rest. */
function rateBackAfter(rows: readonly SecondRow[], endMs: number, rest: number): number | null {
  for (let t = endMs + 1_500; t <= endMs + 90_000; t += 1_000) {
    const three = ratesBetween(rows, t - 1_500, t + 1_500);
    if (three.length >= 2 && mean(three)! >= 0.95 * rest) {
      return (t - endMs) / 1_000;
    }
  }
  return null;
}

function variabilityMeasures(scene: HoldScene): HoldMeasures {
  const { startMs, endMs, lastMs, near, previousEndMs, nextStartMs } = scene;
  const restFromMs = Math.max(startMs - 130_000, near[0]?.atMs ?? startMs, previousEndMs + 30_000);
  const rest = correctedIntervals(near, restFromMs, startMs - 10_000);
  const recovery =
    endMs === undefined
      ? []
      : correctedIntervals(near, endMs + 10_000, Math.min(endMs + 70_000, lastMs, nextStartMs));
  return {
    rmssdRestMs: rmssdMs(rest),
    sdnnRestMs: sdnnMs(rest),
    rmssdRecoveryMs: rmssdMs(recovery),
    sdnnRecoveryMs: sdnnMs(recovery),
  };
}

/** Corrected intervals of a stretch; none where they cover too little of it. */
function correctedIntervals(near: readonly Sample[], fromMs: number, toMs: number): readonly number[] {
  const rr = near.filter(
    (s) => s.channel === 'rrIntervalMs' && s.quality !== 'bad' && s.atMs > fromMs && s.atMs <= toMs,
  );
  const corrected = correctRr(rr.map((s) => s.value)).correctedMs;
  const total = corrected.reduce((sum, value) => sum + value, 0);
  return total >= 30_000 && total >= 0.7 * (toMs - fromMs) ? corrected : [];
}

function coverageMeasures({ startMs, untilMs, rows, holdRows }: HoldScene): HoldMeasures {
  const spo2Rows = rows.filter((row) => row.atMs > startMs && row.atMs <= untilMs + 30_000);
  const share = (of: readonly SecondRow[], isKnown: (row: SecondRow) => boolean): number | null =>
    of.length === 0 ? null : (100 * of.filter(isKnown).length) / of.length;
  return {
    heartRateCoveragePercent: share(holdRows, (row) => Number.isFinite(row.heartRateBpm)),
    spo2CoveragePercent: share(spo2Rows, (row) => Number.isFinite(row.spo2Percent)),
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
