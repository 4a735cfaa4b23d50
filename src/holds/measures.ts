// Measures of a hold and of a session, as defined in measure-table.ts and MEASURES.md. What the signals do not tell is null,
// with a reason of its own.

import { type Said, type SaidCode, said } from '../../shared/said.ts';
import type { Sample } from '../samples/sample.ts';
import { breathingRhythm } from '../signal/breathing-rhythm.ts';
import { bridgeGaps, evenHeartRate } from '../signal/even-heart-rate.ts';
import type { SecondRow } from '../signal/second-rows.ts';
import { contractionsOfHold } from './contraction-estimate.ts';
import { heartRateMeasures, variabilityMeasures } from './heart-measures.ts';
import type { Hold } from './hold.ts';
import {
  type HoldScene,
  type MeasureContext,
  type Measured,
  median,
  sceneOf,
  type WhyNot,
} from './hold-scene.ts';
import { saturationMeasures } from './saturation-measures.ts';

/** Keys as in `measureTable`; null means not known. */
export type HoldMeasures = Readonly<Record<string, number | null>>;

export interface MeasuresOfHold {
  readonly values: HoldMeasures;
  /** Of each measure whose value is null. */
  readonly whyNot: Readonly<Record<string, WhyNot>>;
}

export interface SessionMeasures {
  /** Keys as in `sessionMeasureTable`. */
  readonly values: Readonly<Record<string, number | null>>;
  /** Sentences on what the signals could not tell. */
  readonly notKnown: readonly Said[];
}

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
 * Measures one hold. `samples` are the athlete's, in time order, cleaned; only those from 135 s before the start to
 * 185 s after the end matter, so a caller may pass a slice. A hold without an end has only what is known so far:
 * durations are null.
 */
export function computeHoldMeasures(
  hold: Hold,
  samples: readonly Sample[],
  context: MeasureContext = {},
): MeasuresOfHold {
  const scene = sceneOf(hold, samples, context);
  const measured: Measured = {
    ...lengthMeasures(scene),
    ...estimatedContractions(scene),
    ...breathingBefore(scene),
    ...saturationMeasures(scene),
    ...heartRateMeasures(scene),
    ...variabilityMeasures(scene),
    ...coverageMeasures(scene),
  };
  const values: Record<string, number | null> = {};
  const whyNot: Record<string, WhyNot> = {};
  for (const [key, value] of Object.entries(measured)) {
    values[key] = typeof value === 'number' ? value : null;
    if (typeof value !== 'number') whyNot[key] = value;
  }
  return { values, whyNot };
}

function lengthMeasures({ hold, startMs, endMs }: HoldScene): Measured {
  const { contractionsAtMs } = hold;
  const durationS = endMs === undefined ? null : (endMs - startMs) / 1_000;
  const first = contractionsAtMs.length > 0 ? Math.min(...contractionsAtMs) : null;
  const timeToFirst = first === null ? null : (first - startMs) / 1_000;
  return {
    durationS: durationS ?? 'noEnd',
    contractionCount: contractionsAtMs.length > 0 ? contractionsAtMs.length : 'noMark',
    timeToFirstContractionS: timeToFirst ?? 'noMark',
    timeAfterFirstContractionS:
      first === null ? 'noMark' : endMs === undefined ? 'noEnd' : (endMs - first) / 1_000,
    shareBeforeContractionsPercent:
      timeToFirst === null
        ? 'noMark'
        : durationS === null || durationS <= 0
          ? 'noEnd'
          : (100 * timeToFirst) / durationS,
  };
}

function estimatedContractions({ startMs, endMs, near, rows }: HoldScene): Measured {
  const found = endMs === undefined ? undefined : contractionsOfHold(startMs, endMs, near, rows);
  const whyNot: WhyNot = endMs === undefined ? 'noEnd' : 'weakEvidence';
  return {
    estimatedContractionOnsetS: found?.onsetS ?? whyNot,
    estimatedContractionOnsetUncertaintyS: found?.onsetUncertaintyS ?? whyNot,
    estimatedContractionCount: found?.count ?? whyNot,
  };
}

function breathingBefore({ startMs, previousEndMs, near, rows }: HoldScene): Measured {
  const fromMs = Math.max(startMs - breathingLookedAtMs, previousEndMs + 10_000);
  const breathing = breathingBetween(fromMs, startMs, near, rows);
  return {
    breathingRateBeforePerMin: breathing.ratePerMin ?? 'noRhythm',
    heartRateSwingBeforeBpm: breathing.heartRateSwingBpm ?? 'noRhythm',
  };
}

function coverageMeasures({ startMs, untilMs, rows, holdRows }: HoldScene): Measured {
  const spo2Rows = rows.filter((row) => row.atMs > startMs && row.atMs <= untilMs + 30_000);
  const share = (
    of: readonly SecondRow[],
    isKnown: (row: SecondRow) => boolean,
    whyNot: WhyNot,
  ): number | WhyNot => (of.length === 0 ? whyNot : (100 * of.filter(isKnown).length) / of.length);
  return {
    heartRateCoveragePercent: share(holdRows, (row) => Number.isFinite(row.heartRateBpm), 'noHeartRate'),
    spo2CoveragePercent: share(spo2Rows, (row) => Number.isFinite(row.spo2Percent), 'noSaturation'),
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
