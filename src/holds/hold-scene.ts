// A hold and what of the signals lies about it, and the small sums that its measures have in common.

import type { Sample } from '../samples/sample.ts';
import type { PlethSecond } from '../signal/pleth-breathing.ts';
import { createSecondRows, type SecondRow, withPleth } from '../signal/second-rows.ts';
import { heartRateSeconds } from './heart-rate-seconds.ts';
import type { Hold } from './hold.ts';
import type { UnwatchedStretch } from './smoothing.ts';

/** Why a measure is not known; `measure.why.CODE` words it. */
export type WhyNot =
  | 'noEnd'
  | 'noSaturation'
  | 'noSaturationBefore'
  | 'fewReadings'
  | 'smallFall'
  | 'smallFallForRate'
  | 'never95'
  | 'fallOverBeforeEnd'
  | 'notBackBeforeNext'
  | 'notBackInTime'
  | 'noHeartRate'
  | 'noRest'
  | 'noRateFall'
  | 'rateNotLower'
  | 'shortForResponse'
  | 'noBeats'
  | 'rmssdNotLower'
  | 'noMark'
  | 'weakEvidence'
  | 'noRhythm';

/** A measure's value, or why there is none. */
export type Measured = Readonly<Record<string, number | WhyNot>>;

export interface MeasureContext {
  /** End of the hold before, if any: its recovery is not rest. */
  readonly previousEndMs?: number;
  /** Start of the hold after, if any: readings beyond belong to it. */
  readonly nextStartMs?: number;
  /** Saturation at rest as taken for the hold before, for one that leaves no rest of its own. */
  readonly previousBaselinePercent?: number;
  /** Stands in for pleth samples where those are left out. */
  readonly plethSeconds?: ReadonlyMap<number, PlethSecond>;
  /** Nobody watched in these: no reading is carried on into them, however short they are. */
  readonly unwatched?: readonly UnwatchedStretch[];
}

/** A hold and what of the signals lies about it. */
export interface HoldScene {
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
  readonly previousBaselinePercent: number | undefined;
  readonly unwatched: readonly UnwatchedStretch[];
}

/** Signals this long before the start and after the end are looked at. */
const leadMs = 135_000;
const tailMs = 185_000;

/** Of rows in a stretch that nobody watched nothing is known. */
const unseen = (row: SecondRow, unwatched: readonly UnwatchedStretch[]): SecondRow =>
  unwatched.some(({ fromMs, toMs }) => row.atMs > fromMs && row.atMs <= toMs)
    ? { ...row, heartRateBpm: Number.NaN, heartRateSource: 'none', spo2Percent: Number.NaN }
    : row;

export function sceneOf(hold: Hold, samples: readonly Sample[], context: MeasureContext): HoldScene {
  const startMs: number = hold.start.atMs;
  const endMs: number | undefined = hold.end?.atMs;
  const near = between(samples, startMs - leadMs, (endMs ?? Number.POSITIVE_INFINITY) + tailMs);
  const lastMs = near.at(-1)?.atMs ?? startMs;
  const untilMs = endMs ?? lastMs;
  const rowStream = createSecondRows();
  const allRows: SecondRow[] = [];
  for (const sample of near) {
    for (const row of rowStream.push(sample)) allRows.push(row);
  }
  allRows.push(...rowStream.flush());
  withPleth(allRows, context.plethSeconds);
  const rates = heartRateSeconds(
    near,
    allRows.map((row) => row.atMs),
  );
  rates.forEach((heartRateBpm, i) => {
    allRows[i] = { ...allRows[i]!, heartRateBpm };
  });
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
    previousBaselinePercent: context.previousBaselinePercent,
    unwatched,
  };
}

/** Those from `fromMs` to `toMs`, both included, of samples in time order. */
function between(samples: readonly Sample[], fromMs: number, toMs: number): readonly Sample[] {
  const first = firstFrom(samples, fromMs);
  return samples.slice(
    first,
    firstWhere(samples, (atMs) => atMs > toMs),
  );
}

/** Index of the first of samples in time order that is not before `fromMs`; their count where there is none. */
export const firstFrom = (samples: readonly Sample[], fromMs: number): number =>
  firstWhere(samples, (atMs) => atMs >= fromMs);

/** Index of the first sample whose time passes; by halving, for hours lie before a late hold. */
function firstWhere(samples: readonly Sample[], passes: (atMs: number) => boolean): number {
  let low = 0;
  let high = samples.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (passes(samples[middle]!.atMs)) high = middle;
    else low = middle + 1;
  }
  return low;
}

/** The middle value, the mean of the two middle ones of an even number; null of none. */
export function median(values: readonly number[]): number | null {
  if (values.length === 0) {
    return null;
  }
  const sorted = [...values].sort((a, b) => a - b);
  const mid = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[mid]! : (sorted[mid - 1]! + sorted[mid]!) / 2;
}

export const mean = (values: readonly number[]): number | null =>
  values.length === 0 ? null : values.reduce((sum, value) => sum + value, 0) / values.length;
