// Learns one person's scales from a recording and finds its holds with them, in a few rounds. What the two-sided pass
// rests on; the live detector looks back with it now and then.

import type { SecondRow } from '../signal/second-rows.ts';
import { logDurationDensity, longestHoldS, shortestHoldS } from './evidence.ts';
import {
  bandShapes,
  bandSpan,
  featuresOf,
  movingMean,
  type RecordingFeatures,
} from './recording-features.ts';
import {
  type FoundHold,
  type PersonModel,
  type Segmentation,
  type ShapeModel,
  segment,
  settlingRows,
} from './semi-markov.ts';

/** Scale floor: rounding of a rate in whole beats has a standard deviation of 0.29 /min. A pleth has its own unit. */
const leastScale = (band: number): number => (bandShapes[band]!.signal === 'heartRate' ? 0.25 : 1e-6);

/** While learning, the places of boundaries need not be weighed far and wide. */
const roughReach = 12;

/** Learns a person's scales from the rows and finds the holds. Exported for the bench's look inside. */
export function fitRecording(rows: readonly SecondRow[]): {
  features: RecordingFeatures;
  person: PersonModel;
  found: Segmentation;
} {
  const features = featuresOf(rows);
  // Three beginnings, from a person whose breathing shows clearly in the heart rate to one in whom it hardly does.
  const fits = [1, 1.6, 3].map((factor) => {
    const first = firstGuess(features, factor);
    const person = learn(features, first, segment(features, first, roughReach).holds);
    return { person, found: segment(features, person, roughReach) };
  });
  let { person, found } = fits.reduce((best, fit) =>
    fit.found.logLikelihood > best.found.logLikelihood ? fit : best,
  );
  for (let round = 0; round < 2; round++) {
    person = learn(features, person, found.holds);
    found = segment(features, person);
  }
  return { features, person, found };
}

const quantile = (values: readonly number[], share: number): number => {
  const sorted = values.filter((value) => !Number.isNaN(value)).sort((a, b) => a - b);
  return sorted.length === 0
    ? Number.NaN
    : sorted[Math.min(sorted.length - 1, Math.floor(share * sorted.length))]!;
};

/**
 * The most that a hold may leave of a band. Respiratory sinus arrhythmia stops with breathing, so where it shows
 * above what beat-to-beat jitter gives (some 10 ms, from memory), a hold without a clear drop is not believed. The
 * slower bands hold the 0.1 Hz wave, which stays.
 */
function mostHolding(band: number, breathing: number): number {
  return band === 0
    ? Math.min(breathing, Math.max(1.6, 0.6 * breathing))
    : Math.min(breathing, Math.max(1.6, 0.85 * breathing));
}

function firstGuess(features: RecordingFeatures, factor: number): PersonModel {
  const powers = features.bands.map((band) => [
    ...movingMean(
      band.map((value) => value * value),
      7,
    ),
  ]);
  const scaleAt = (share: number): number[] =>
    powers.map((power, b) => {
      const scale = Math.sqrt(quantile(power, share));
      return Math.max(leastScale(b), Number.isNaN(scale) ? 1 : scale);
    });
  // Most of a recording is breathing, yet a single long hold may be most of it: hence the upper part.
  const breathing = scaleAt(0.7);
  // Holds, if there are any, are among the quietest parts.
  const quietest = scaleAt(0.05);
  const everywhere = new Float64Array(features.length).fill(1);
  return {
    breathing,
    holding: breathing.map((scale, b) =>
      Math.max(leastScale(b), Math.min(mostHolding(b, scale), Math.max(0.15 * scale, factor * quietest[b]!))),
    ),
    levelSpread: 0.05,
    base: baseOf(features, everywhere, 0.2, 1.22),
    // Priors in beats a minute: fall of 3 to 20 at a start (3.02), rise of 3 to 25 at an end (3.09).
    fall: { mean: 7, spread: 7, restSpread: restSpreadOf(features.fallAfter, everywhere) },
    rise: { mean: 9, spread: 8, restSpread: restSpreadOf(features.riseAfter, everywhere) },
    ...expectations(features.length, []),
    // Row 3.27: 15 to 35 s, default 25; both sides a little wider.
    lagS: 23,
    lagSpreadS: 9,
  };
}

/** Caution beyond the prior: the model of breathing is simpler than breathing. A choice, checked on rest. */
const caution = 1.5;

/** How often holds begin and how long they are, from those found so far, each by its probability. */
function expectations(
  seconds: number,
  found: readonly FoundHold[],
): { logStartRate: number; logDuration: Float64Array } {
  const weighted = found.map((hold) => ({
    weight: 1 / (1 + Math.exp(-hold.logOdds)),
    logLength: Math.log(Math.max(shortestHoldS, hold.bestEnd - hold.bestStart)),
  }));
  const count = weighted.reduce((sum, hold) => sum + hold.weight, 0);
  const logDuration = new Float64Array(longestHoldS + 1);
  // People repeat themselves: half of the prior follows the holds already found, within about a third of a length.
  const spread = 0.35;
  const own = count / (count + 1.5);
  for (let d = 0; d <= longestHoldS; d++) {
    const general = Math.exp(logDurationDensity(d));
    let near = 0;
    for (const { weight, logLength } of weighted) {
      near += weight * Math.exp(-0.5 * ((Math.log(d) - logLength) / spread) ** 2);
    }
    const kernel = d > 0 && count > 0 ? near / (count * d * spread * 2.5066) : 0;
    logDuration[d] =
      d < shortestHoldS ? Number.NEGATIVE_INFINITY : Math.log((1 - 0.6 * own) * general + 0.6 * own * kernel);
  }
  return { logStartRate: Math.log((count + 1) / (seconds + 300)) - caution, logDuration };
}

function restSpreadOf(feature: Float64Array, mask: Float64Array): number {
  const values: number[] = [];
  for (let i = 0; i < feature.length; i++) {
    if (mask[i]! > 0 && !Number.isNaN(feature[i]!)) {
      values.push(Math.abs(feature[i]!));
    }
  }
  const middle = quantile(values, 0.5);
  return Math.max(0.8, Number.isNaN(middle) ? 2 : 1.4 * middle);
}

/** Resting rate: in blocks of a minute, the median of masked rows of ten minutes, bounded by the calm of the whole. */
function baseOf(features: RecordingFeatures, mask: Float64Array, share: number, above: number): Float64Array {
  const n = features.length;
  const base = new Float64Array(n).fill(Number.NaN);
  const calmAll: number[] = [];
  for (let i = 0; i < n; i++) {
    if (mask[i]! > 0) {
      calmAll.push(features.level[i]!);
    }
  }
  const calm = quantile(calmAll, share);
  for (let from = 0; from < n; from += 60) {
    const near: number[] = [];
    for (let i = Math.max(0, from - 240); i < Math.min(n, from + 300); i++) {
      if (mask[i]! > 0) {
        near.push(features.level[i]!);
      }
    }
    const local = near.length >= 20 ? quantile(near, 0.5) : calm;
    // After exercise the rate falls too; what counts as a hold's fall is a fall below rest.
    const value = Number.isNaN(local) ? calm : Math.min(local, above * calm);
    base.fill(value, from, Math.min(n, from + 60));
  }
  return base;
}

function learn(features: RecordingFeatures, person: PersonModel, found: readonly FoundHold[]): PersonModel {
  const n = features.length;
  // 1 for breathing, 0 near a boundary, -1 inside a hold.
  const mask = new Float64Array(n).fill(1);
  const sure = found.filter((hold) => hold.logOdds > 0);
  for (const hold of sure) {
    mask.fill(0, Math.max(0, hold.bestStart - 4), Math.min(n, hold.bestEnd + 4));
    mask.fill(-1, Math.min(n, hold.bestStart + 4), Math.max(0, hold.bestEnd - 3));
  }
  // Windows wholly inside a hold and past its beginning.
  const still = features.bands.map((_, b) => {
    const inside = new Uint8Array(n);
    for (const hold of sure) {
      inside.fill(
        1,
        Math.min(n, hold.bestStart + bandSpan(b) - 1 + settlingRows(b)),
        Math.max(0, hold.bestEnd - 1),
      );
    }
    return inside;
  });
  const breathing: number[] = [];
  const holding: number[] = [];
  features.bands.forEach((band, b) => {
    let breathSum = 0;
    let breathCount = 0;
    let holdSum = 0;
    let holdCount = 0;
    const before = person.breathing[b]!;
    for (let i = 0; i < n; i++) {
      const value = band[i]!;
      if (Number.isNaN(value)) {
        continue;
      }
      if (mask[i] === 1) {
        breathSum += Math.min(value * value, 9 * before * before);
        breathCount += 1;
      } else if (still[b]![i] === 1) {
        holdSum += Math.min(value * value, 9 * before * before);
        holdCount += 1;
      }
    }
    const breathScale = Math.sqrt((breathSum + 30 * before * before) / (breathCount + 30));
    breathing.push(Math.max(leastScale(b), breathScale));
    const prior = person.holding[b]!;
    const holdScale = Math.sqrt((holdSum + 40 * prior * prior) / (holdCount + 40));
    // The Student density's scale is below the standard deviation; a hold is never livelier than breathing.
    holding.push(Math.min(Math.max(leastScale(b), holdScale), mostHolding(b, breathScale)));
  });
  const base = baseOf(features, mask, 0.15, 1.18);
  const wander: number[] = [];
  for (let i = 0; i < n; i++) {
    if (mask[i] === 1) {
      wander.push(Math.abs(features.level[i]! / base[i]! - 1));
    }
  }
  const middle = quantile(wander, 0.5);
  const shape = (feature: Float64Array, prior: ShapeModel, rows: readonly number[]): ShapeModel => {
    const values = rows.map((row) => feature[row] ?? Number.NaN).filter((value) => !Number.isNaN(value));
    const weight = 3;
    const mean =
      (values.reduce((sum, value) => sum + value, 0) + weight * prior.mean) / (values.length + weight);
    const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
    const spread = Math.sqrt((squares + weight * 49) / (values.length + weight));
    return { mean: Math.max(3, mean), spread: Math.max(2, spread), restSpread: restSpreadOf(feature, mask) };
  };
  const lags: number[] = [];
  for (const hold of sure) {
    const point = features.lowPoints.find((low) => low.row > hold.bestEnd + 3 && low.row < hold.bestEnd + 50);
    if (point !== undefined) {
      lags.push(point.row - hold.bestEnd);
    }
  }
  const lag =
    lags.length === 0 ? 23 : (lags.reduce((sum, value) => sum + value, 0) + 2 * 23) / (lags.length + 2);
  const lagSquares = lags.reduce((sum, value) => sum + (value - lag) ** 2, 0);
  return {
    breathing,
    holding,
    levelSpread: clampSpread(Number.isNaN(middle) ? 0.05 : 1.3 * middle),
    base,
    fall: shape(
      features.fallAfter,
      person.fall,
      sure.filter((hold) => hold.bestEnd - hold.bestStart > 20).map((hold) => hold.bestStart),
    ),
    rise: shape(
      features.riseAfter,
      person.rise,
      sure.map((hold) => hold.bestEnd),
    ),
    ...expectations(n, found),
    lagS: lag,
    lagSpreadS: Math.max(3, Math.sqrt((lagSquares + 2 * 81) / (lags.length + 2))),
  };
}

const clampSpread = (value: number): number => Math.min(0.07, Math.max(0.025, value));
