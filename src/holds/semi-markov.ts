// The two-sided hidden semi-Markov model: breathing (deep or shallow) and holding with explicit lengths, over the
// features of a recording. Finds the best holds, how probable each is, and how surely its boundaries lie where.

import {
  levelEvidence,
  logStudent,
  longestHoldS,
  normalTail,
  shortestBreathingS,
  shortestHoldS,
} from './evidence.ts';
import { bandShapes, bandSpan, type RecordingFeatures } from './recording-features.ts';

/** What is learnt of one person in one recording. */
export interface PersonModel {
  /** Scale of each band while breathing and while holding, in beats a minute. */
  readonly breathing: readonly number[];
  readonly holding: readonly number[];
  /** Wander of heart rate at rest, as a fraction. */
  readonly levelSpread: number;
  /** Resting heart rate at each row. */
  readonly base: Float64Array;
  /** Shape of a start and of an end: mean and spread of the feature, and its spread where nothing happens. */
  readonly fall: ShapeModel;
  readonly rise: ShapeModel;
  /** Log of the rate at which holds begin, per second of breathing. */
  readonly logStartRate: number;
  /** Log density of hold lengths by whole seconds, 0 to `longestHoldS`. */
  readonly logDuration: Float64Array;
  readonly lagS: number;
  readonly lagSpreadS: number;
}

export interface ShapeModel {
  readonly mean: number;
  readonly spread: number;
  readonly restSpread: number;
}

export interface FoundHold {
  /** Rows, fractional: posterior medians. */
  readonly startRow: number;
  readonly endRow: number;
  /** Half-widths of the central 68 %. */
  readonly startHalfWidth: number;
  readonly endHalfWidth: number;
  /** Log odds of a hold here against breathing through. */
  readonly logOdds: number;
  /** Best single path. */
  readonly bestStart: number;
  readonly bestEnd: number;
  /** Evidence sums along the best path, for the words shown to a person. */
  readonly evidence: {
    readonly rhythm: number;
    readonly level: number;
    readonly fall: number;
    readonly rise: number;
    readonly saturation: number;
  };
}

export interface Segmentation {
  readonly holds: readonly FoundHold[];
  /** Log likelihood ratio of the whole recording against breathing throughout. */
  readonly logLikelihood: number;
}

const clamp = (value: number, low: number, high: number): number =>
  value < low ? low : value > high ? high : value;
const logAdd = (a: number, b: number): number => {
  if (a === Number.NEGATIVE_INFINITY) {
    return b;
  }
  const high = Math.max(a, b);
  return high + Math.log1p(Math.exp(Math.min(a, b) - high));
};

/** Breathing goes shallow about once in 150 s and stays so for about 45 s. Choices, from rest recordings. */
export const toShallow = 1 / 150;
export const toDeep = 1 / 45;
export const shallowShare = 0.6;
/** What the level of heart rate alone can say for a hold. A choice. */
const mostLevelGain = 6;
/** Until here into a hold, the level of heart rate is still on its way (3.02). */
const earlyRows = 26;
/** From here on what a longer hold adds does not depend on its start: the widest window and its settling. */
const headRows = 48;
/** Windows that begin in the first seconds of a hold still see its beginning. */
export const settlingRows = (band: number): number => [1, 8, 24, 1, 1, 4][band]!;
/** Size in each band of the swing at a start: a rise near 10 /min for some seconds (3.08), 14 /min down in 30 s (3.02). */
export const settlingScaleBpm = [1.5, 3, 4.5, 0, 0, 0] as const;
/** A start's fall shows 11 to 19 s later; shorter holds cannot show it. */
const fallShownRows = 20;

/** One row of one band: scale `tested` against the scale of deep breathing. Bounded, so no single row decides. */
export function bandEvidence(
  band: number,
  value: number,
  tested: number,
  breathing: number,
  worst = -3.5,
): number {
  const { weight, most } = bandShapes[band]!;
  return Number.isNaN(value) || Number.isNaN(breathing)
    ? 0
    : weight * clamp(logStudent(value, tested, 6) - logStudent(value, breathing, 5), worst, most);
}

export function shapeEvidence(value: number, model: ShapeModel, low: number, high: number): number {
  if (Number.isNaN(value)) {
    return 0;
  }
  const none = logStudent(value, model.restSpread, 5) - 0.97;
  // More than the usual change is no less a sign.
  const z = Math.min(0, (value - model.mean) / model.spread);
  const some = -0.5 * z * z - Math.log(model.spread) - 0.92;
  return clamp(Math.log(0.35 + 0.65 * Math.exp(clamp(some - none, -30, 30))), low, high);
}

/**
 * After a hold, a fallen rate is back within seconds (3.09) and any overshoot is gone within half a minute; the rate
 * of a walk takes half a minute to build up (time constant about 30 s, textbook) and then stays. So a rise that is
 * slow for its size, or that stays well above rest, speaks against an end.
 */
function quicknessEvidence(features: RecordingFeatures, base: number, row: number): number {
  const before = features.level[row - 4] ?? Number.NaN;
  const after = features.level[row + 11] ?? Number.NaN;
  const later = features.level[row + 38] ?? Number.NaN;
  const drop = base - before;
  const slow =
    drop > 0.08 * base && !Number.isNaN(after) ? clamp(9 * ((after - before) / drop - 0.75), -6, 0) : 0;
  const stays = Number.isNaN(later) ? 0 : clamp(-25 * (later / base - 1.15), -5, 0);
  return Math.min(slow, stays);
}

/** A rate well above rest until shortly before speaks of exercise, and a fall after it of its end. */
function exerciseBefore(features: RecordingFeatures, base: number, row: number): number {
  const before = features.level[row - 25] ?? Number.NaN;
  return Number.isNaN(before) ? 0 : clamp(-15 * (before / base - 1.2), -5, 0);
}

/** Runs the model with a person's scales. `reach` rows on each side of a boundary are weighed for its place. */
export function segment(features: RecordingFeatures, person: PersonModel, reach = 45): Segmentation {
  const n = features.length;
  const negative = Number.NEGATIVE_INFINITY;
  // Cumulative evidence of holding against deep breathing: level early and late in a hold, and each band, with a
  // wider scale for the first seconds, in which the last breath and the rise after it (3.08) still swing.
  const late = new Float64Array(n + 1);
  const early = new Float64Array(n + 1);
  const calm = bandShapes.map(() => new Float64Array(n + 1));
  const settling = bandShapes.map(() => new Float64Array(n + 1));
  const shallow = new Float64Array(n);
  for (let t = 0; t < n; t++) {
    let low = 0;
    bandShapes.forEach((_, b) => {
      const value = features.bands[b]![t]!;
      const breathing = person.breathing[b]!;
      const holding = person.holding[b]!;
      const half = Math.max(holding, shallowShare * breathing);
      low += bandEvidence(b, value, half, breathing);
      calm[b]![t + 1] = calm[b]![t]! + bandEvidence(b, value, holding, breathing);
      settling[b]![t + 1] =
        settling[b]![t]! +
        bandEvidence(
          b,
          value,
          Math.max(half, settlingScaleBpm[b]!),
          Math.max(breathing, settlingScaleBpm[b]!),
          -0.5,
        );
    });
    const fraction = features.level[t]! / person.base[t]! - 1;
    const known = Number.isFinite(fraction);
    const settled = known ? levelEvidence(fraction, 60, person.levelSpread) : 0;
    late[t + 1] = late[t]! + settled;
    early[t + 1] = early[t]! + (known ? levelEvidence(fraction, 2, person.levelSpread) : 0);
    shallow[t] = low;
  }
  /** Only windows that lie wholly inside the hold speak for it, so its edges stay sharp. */
  const rhythmInside = (s: number, e: number): number => {
    let sum = 0;
    for (let b = 0; b < bandShapes.length; b++) {
      const from = s + bandSpan(b) - 1;
      if (from < e) {
        const settled = Math.min(e, from + settlingRows(b));
        sum += settling[b]![settled]! - settling[b]![from]! + calm[b]![e]! - calm[b]![settled]!;
      }
    }
    return sum;
  };
  const startScore = new Float64Array(n);
  const endScore = new Float64Array(n);
  const saturationScore = new Float64Array(n);
  for (let t = 0; t < n; t++) {
    startScore[t] =
      shapeEvidence(features.fallAfter[t]!, person.fall, -0.8, 4) +
      exerciseBefore(features, person.base[t]!, t);
    endScore[t] =
      shapeEvidence(features.riseAfter[t]!, person.rise, -1, 5) +
      quicknessEvidence(features, person.base[t]!, t);
  }
  for (const point of features.lowPoints) {
    for (let e = Math.max(0, Math.floor(point.row - 60)); e < Math.min(n, point.row); e++) {
      const z = (point.row - e - person.lagS) / person.lagSpreadS;
      const density = Math.exp(-0.5 * z * z) / (person.lagSpreadS * 2.5066) + 0.002;
      // Low points without a hold come about once an hour; deeper ones more seldom.
      const gain = Math.log((density * 3_600) / 1 + 1) - 0.5 + Math.min(2, 0.25 * (point.depthPercent - 2.5));
      if (z > -3 && z < 3 && gain > saturationScore[e]!) {
        saturationScore[e] = gain;
      }
    }
  }

  const { logDuration, logStartRate } = person;
  /** Everything of a hold over rows s .. e - 1 except the prior of its length. */
  const inside = (s: number, e: number): number => {
    const d = e - s;
    const split = Math.min(e, s + earlyRows);
    const half = s + Math.min(d, earlyRows >> 1);
    // Early evidence for the first half of the way, then late: the ramp of the level, in two steps.
    return (
      rhythmInside(s, e) +
      early[half]! -
      early[s]! +
      0.5 * (early[split]! - early[half]!) +
      0.5 * (late[split]! - late[half]!) +
      late[e]! -
      late[split]! +
      (d >= fallShownRows ? startScore[s]! : 0)
    );
  };
  // The part that depends on the start only, once a hold is longer than `headRows`.
  const head = new Float64Array(n);
  /** Level and rhythm of long holds up to a row, so that a hold is `head[start] + tail[end]`. */
  const tail = late.map((value, t) => value + calm.reduce((sum, band) => sum + band[t]!, 0));
  for (let s = 0; s < n; s++) {
    head[s] = s + headRows < n ? inside(s, s + headRows) - tail[s + headRows]! : negative;
  }
  const endGain = (e: number): number => endScore[e]! + saturationScore[e]!;

  // The best path. Breathing is a sum over deep and shallow, whose gain each row is the same for every path.
  const bestF = new Float64Array(n + 1).fill(negative);
  const bestEnd = new Float64Array(n + 1).fill(negative);
  const bestStartOf = new Int32Array(n + 1).fill(-1);
  /** Best path that is ready to hold at a row; `open` has the head of a long hold from there as well. */
  const bestReady = new Float64Array(n + 1).fill(negative);
  const open = new Float64Array(n + 1).fill(negative);
  const readyFrom = new Int32Array(n + 1);
  const gainOfRow = new Float64Array(n + 1);
  const cumulative = new Float64Array(n + 1);
  const stayDeep = Math.log1p(-toShallow);
  const stayLow = Math.log1p(-toDeep);
  const goShallow = Math.log(toShallow);
  const goDeep = Math.log(toDeep);
  const afterHold = { deep: Math.log(0.9), low: Math.log(0.1) };
  let deep = Math.log(0.85);
  let low = Math.log(0.15);
  bestF[0] = 0;
  bestReady[0] = 0;
  open[0] = head[0] ?? negative;
  for (let t = 1; t <= n; t++) {
    // A hold ends before row t (rows s .. t - 1 were held).
    let best = negative;
    let bestS = -1;
    if (t < n) {
      const shortFrom = Math.max(0, t - headRows + 1);
      for (let s = Math.max(0, t - longestHoldS); s < shortFrom; s++) {
        const path = open[s]! + logDuration[t - s]!;
        if (path > best) {
          best = path;
          bestS = s;
        }
      }
      best += tail[t]!;
      for (let s = shortFrom; s <= t - shortestHoldS; s++) {
        const path = bestReady[s]! + logDuration[t - s]! + inside(s, t);
        if (path > best) {
          best = path;
          bestS = s;
        }
      }
      best += endGain(t) + logStartRate;
    }
    bestEnd[t] = best;
    bestStartOf[t] = bestS;
    const before = logAdd(deep, low);
    const deepNow = logAdd(deep + stayDeep, low + goDeep);
    const lowNow = logAdd(low + stayLow, deep + goShallow) + shallow[t - 1]!;
    const after = logAdd(deepNow, lowNow);
    gainOfRow[t] = after - before;
    cumulative[t] = cumulative[t - 1]! + gainOfRow[t]!;
    const through = bestF[t - 1]! + gainOfRow[t]!;
    bestF[t] = Math.max(through, best);
    // After a hold people breathe deeply.
    deep = best > through ? afterHold.deep : deepNow - after;
    low = best > through ? afterHold.low : lowNow - after;
    // Ready to hold again: breathing for at least `shortestBreathingS` rows.
    const back = Math.max(0, t - shortestBreathingS);
    bestReady[t] = bestF[back]! + cumulative[t]! - cumulative[back]!;
    open[t] = t < n ? bestReady[t]! + head[t]! : negative;
    readyFrom[t] = back;
  }
  // A hold cut off by the end of the recording has no end and is not reported.

  // Walk the best path back.
  const paths: { s: number; e: number }[] = [];
  let t = n;
  while (t > 0) {
    const through = bestF[t - 1]! + gainOfRow[t]!;
    if (bestEnd[t]! > through && bestStartOf[t]! >= 0) {
      paths.push({ s: bestStartOf[t]!, e: t });
      t = readyFrom[bestStartOf[t]!]!;
    } else {
      t -= 1;
    }
  }
  paths.reverse();

  const holds = paths.map(({ s, e }, index): FoundHold => {
    const lowS = Math.max(0, s - reach, index > 0 ? paths[index - 1]!.e + 3 : 0);
    const highS = Math.min(e - shortestHoldS, s + reach);
    const lowE = Math.max(s + shortestHoldS, e - reach);
    const highE = Math.min(n - 1, e + reach, index + 1 < paths.length ? paths[index + 1]!.s - 3 : n - 1);
    const startMass = new Float64Array(highS - lowS + 1).fill(negative);
    const endMass = new Float64Array(highE - lowE + 1).fill(negative);
    let sum = negative;
    for (let a = lowS; a <= highS; a++) {
      for (let b = Math.max(lowE, a + shortestHoldS); b <= highE && b - a <= longestHoldS; b++) {
        // Against breathing over the same rows, so that rows outside do not matter.
        const value = logDuration[b - a]! + inside(a, b) + endGain(b) - (cumulative[b]! - cumulative[a]!);
        startMass[a - lowS] = logAdd(startMass[a - lowS]!, value);
        endMass[b - lowE] = logAdd(endMass[b - lowE]!, value);
        sum = logAdd(sum, value);
      }
    }
    const start = spreadOf(startMass, lowS);
    const end = spreadOf(endMass, lowE);
    return {
      startRow: start.middle,
      endRow: end.middle,
      startHalfWidth: start.halfWidth,
      endHalfWidth: end.halfWidth,
      // A rate below rest says the same all along, so it counts once, however long it lasts.
      logOdds: sum + logStartRate - Math.max(0, late[e]! - late[s]! - mostLevelGain),
      bestStart: s,
      bestEnd: e,
      evidence: {
        rhythm: rhythmInside(s, e),
        level: late[e]! - late[s]!,
        fall: e - s >= fallShownRows ? startScore[s]! : 0,
        rise: endScore[e]!,
        saturation: saturationScore[e]!,
      },
    };
  });
  return { holds, logLikelihood: bestF[n]! - cumulative[n]! };
}

/** Median and half-width of the central 68 % of log masses at whole rows from `first`, interpolated. */
function spreadOf(logMass: Float64Array, first: number): { middle: number; halfWidth: number } {
  let top = Number.NEGATIVE_INFINITY;
  for (const value of logMass) {
    top = Math.max(top, value);
  }
  const mass = logMass.map((value) => Math.exp(value - top));
  const all = mass.reduce((sum, value) => sum + value, 0);
  const at = (share: number): number => {
    let sum = 0;
    for (let i = 0; i < mass.length; i++) {
      const next = sum + mass[i]! / all;
      if (next >= share) {
        return first + i - 0.5 + (share - sum) / Math.max(1e-12, next - sum);
      }
      sum = next;
    }
    return first + mass.length - 1;
  };
  return { middle: at(0.5), halfWidth: (at(1 - normalTail(1)) - at(normalTail(1))) / 2 };
}
