// Bayesian filter of one hold: weighted curves of the fall family, quasi-random and re-drawn where the weights gather
// (adaptive importance sampling). Deterministic: the same readings give the same posterior. Curves lie in typed arrays
// made once a hold, because this is most of what a pipeline costs.

import {
  type AthletePrior,
  driftBetweenHolds,
  lagSecondsOf,
  logBloodOf,
  logLungOf,
  logUptakeOf,
  offsetSpreadKnownRest,
  shiftSecondsOf,
  traitCount,
} from './athlete-prior.ts';
import { cholesky, squaredDistance } from './cholesky.ts';
import { percentAfter, rowOf, usedAt } from './fall-curve.ts';
import { haltonNormal, normalQuantile } from './quasi-random.ts';

/** Curves kept. Our choice: 320 leaves the quantiles steady to 0.2 points and costs well under a millisecond. */
const curveCount = 320;
/** Re-drawn when the effective number of curves falls below the first share, though not again at once, or the second. */
const leastEffectiveShare = 0.3;
const urgentEffectiveShare = 0.06;
const redrawEveryS = 8;
/** Readings older than the first are merged by the second, so that a long hold costs no more than a short one. */
const mergeAfterS = 24;
const mergeSpanS = 6;
/** Spread of a reading about its curve: noise, rounding to whole percent (0.29), and the family's own misfit. */
const readingSpread = 0.7;
/** Student t with so few degrees of freedom forgives a motion dip. */
const freedom = 4;
/** Readings a second apart repeat each other's errors (averaging 3-21 s, reference 4.04): each counts a quarter. */
const independence = 0.25;
/** Old readings fade, because no one curve of the family is right for a whole hold. Our choice. */
const memoryS = 60;
/** Old blood and the resting reading colour the first readings of a hold; they count less. Our choice. */
const earlyS = 35;
const earlySpread = 1.2;
const earlyShare = 0.3;
/** Window and share of the recent residual that is carried on. Our choice. */
const residualWindowS = 12;
const residualGain = 0.6;
/** After the turn the reading rises in about this time (recovery within 30-60 s, reference 3.28); roughly known. */
const recoveryS = 9;
const recoverySpread = 2.5;
/** Draws are spread by this factor over the fitted normal, so that its tails are covered. */
const inflation = 1.25;

/** The central 80 % and the middle. */
const quantileShares = [0.1, 0.5, 0.9] as const;
/** Values at `quantileShares`. */
export type Quantiles = readonly [number, number, number];

interface HoldReading {
  /** Since the hold's start. */
  readonly atS: number;
  readonly percent: number;
  /** How much it counts, 0..1. */
  readonly trust: number;
  /** Weight of time: the seconds it stands for. */
  readonly spanS: number;
}

export interface PosteriorOptions {
  readonly prior: AthletePrior;
  /** Resting reading before the hold, or undefined. */
  readonly restPercent?: number;
  /** One standard deviation of the hold's start. */
  readonly startUncertaintyS: number;
}

/** Resting reading of the average model person: what an unbiased oximeter would show at rest. */
const modelRestPercent = 97.7;

export class HoldPosterior {
  readonly #options: PosteriorOptions;
  readonly #priorFactor: readonly number[];
  readonly #vectors = new Float64Array(curveCount * traitCount);
  readonly #priorMinusDraw = new Float64Array(curveCount);
  readonly #likelihood = new Float64Array(curveCount);
  readonly #weights = new Float64Array(curveCount);
  /** Numbers of each curve, made from its traits. */
  readonly #row = new Float64Array(curveCount);
  readonly #ratePerS = new Float64Array(curveCount);
  readonly #shiftS = new Float64Array(curveCount);
  readonly #offset = new Float64Array(curveCount);
  readonly #lagS = new Float64Array(curveCount);
  readonly #top = new Float64Array(curveCount);
  /** By how much the newest readings lie off the weighted curve, newest first; made anew once weights have changed. */
  #residuals: { readonly atS: number; readonly percent: number }[] | undefined;
  #readings: HoldReading[] = [];
  /** Readings before this index are merged. */
  #mergedCount = 0;
  #redrawnAtS = 0;
  #takenCount = 0;
  readonly #scratch = new Float64Array(traitCount);
  #endS: number | undefined;

  constructor(options: PosteriorOptions) {
    this.#options = options;
    this.#priorFactor = cholesky(options.prior.covariance, traitCount);
    this.#draw(options.prior.mean, this.#priorFactor, 1);
    this.#weigh();
  }

  get readingCount(): number {
    return this.#takenCount;
  }

  /** The hold has ended at `endS`: later readings turn `lag` seconds after it. */
  setEnd(endS: number): void {
    this.#endS = endS;
    this.#reweighAll();
  }

  /** Takes in one reading. `trust` 1 for a good one, less for a doubtful one. */
  push(atS: number, percent: number, trust: number): void {
    const last = this.#readings[this.#readings.length - 1];
    const spanS = last === undefined ? 1 : Math.min(4, Math.max(0, atS - last.atS));
    const reading: HoldReading = { atS, percent, trust, spanS };
    this.#readings.push(reading);
    const fade = last === undefined ? 1 : Math.exp(-(atS - last.atS) / memoryS);
    this.#addLikelihood(reading, fade, 1);
    this.#weigh();
    this.#takenCount++;
    this.#merge(atS);
    const share = this.#effectiveShare();
    if (
      share < urgentEffectiveShare ||
      (share < leastEffectiveShare && atS - this.#redrawnAtS >= redrawEveryS)
    ) {
      this.#redraw();
      this.#redrawnAtS = atS;
    }
  }

  /** Weighted quantiles (`quantileShares`) of the lowest reading if breathing began at `atS`. */
  lowest(atS: number): Quantiles {
    const drift = this.#recentResidual(atS);
    for (let index = 0; index < curveCount; index++) scratchValues[index] = this.#turn(index, atS, drift);
    const quantiles = weightedQuantiles(scratchValues, this.#weights);
    const middle = quantiles[1];
    const now = this.#expected(atS) + drift;
    const spread = familyError(Math.max(0, now - middle));
    const widened = (which: 0 | 1 | 2): number => {
      const own = spread * normalQuantile(quantileShares[which]);
      return middle + Math.sign(own) * Math.hypot(quantiles[which] - middle, own);
    };
    return [widened(0), widened(1), widened(2)];
  }

  /** Weighted quantiles of the seconds left at `atS` until `floorPercent` would be touched. */
  secondsLeft(atS: number, floorPercent: number): Quantiles {
    const drift = this.#recentResidual(atS);
    for (let index = 0; index < curveCount; index++) {
      const used = usedAt(this.#row[index]!, floorPercent - drift - this.#offset[index]!);
      scratchValues[index] = Math.max(
        0,
        this.#shiftS[index]! + used / this.#ratePerS[index]! - this.#lagS[index]! - atS,
      );
    }
    return weightedQuantiles(scratchValues, this.#weights);
  }

  /** Chance that arterial blood has already fallen by a point from its height in this hold. */
  chanceFalling(atS: number): number {
    const drift = this.#recentResidual(atS);
    let falling = 0;
    for (let index = 0; index < curveCount; index++)
      if (this.#turn(index, atS, drift) < this.#top[index]! - 1) falling += this.#weights[index]!;
    return falling;
  }

  /** Chance that the lowest reading is below the floor if breathing began at `atS`. */
  chanceBelow(atS: number, floorPercent: number): number {
    const drift = this.#recentResidual(atS);
    let below = 0;
    for (let index = 0; index < curveCount; index++) {
      const turn = this.#turn(index, atS, drift);
      // The family's own error grows with how far ahead it must reach.
      const ahead = Math.max(0, this.#displayed(index, atS) + drift - turn);
      below += this.#weights[index]! * normalBelow((floorPercent - turn) / familyError(ahead));
    }
    return below;
  }

  /** Lowest reading of one curve if breathing began at `atS`. */
  #turn(index: number, atS: number, drift: number): number {
    return this.#displayed(index, atS + this.#lagS[index]!) + drift;
  }

  /** What the next hold of this athlete may expect: this posterior, widened by what changes between holds. */
  nextPrior(): AthletePrior {
    const { mean, covariance } = this.#moments();
    for (let trait = 0; trait < traitCount; trait++) {
      covariance[trait * traitCount + trait] =
        covariance[trait * traitCount + trait]! + driftBetweenHolds[trait]! ** 2;
    }
    // Never surer of nothing: no variance beyond the population's.
    const scale = Array.from({ length: traitCount }, (_, trait) =>
      Math.min(1, 1 / Math.sqrt(covariance[trait * traitCount + trait]!)),
    );
    for (let row = 0; row < traitCount; row++)
      for (let column = 0; column < traitCount; column++)
        covariance[row * traitCount + column] =
          covariance[row * traitCount + column]! * scale[row]! * scale[column]!;
    return { mean, covariance, holdCount: this.#options.prior.holdCount + 1 };
  }

  /**
   * By how much the last readings lie off the weighted curve (median), at most a point and a half: what the family
   * cannot follow at the end of a hold is carried on to the forecast.
   */
  #recentResidual(atS: number): number {
    this.#residuals ??= this.#newestResiduals();
    const within: number[] = [];
    for (const residual of this.#residuals)
      if (atS - residual.atS <= residualWindowS) within.push(residual.percent);
    if (within.length < 5) return 0;
    within.sort((one, other) => one - other);
    const middle = within[within.length >> 1]!;
    return Math.max(-1.5, Math.min(1.5, residualGain * middle));
  }

  #newestResiduals(): { readonly atS: number; readonly percent: number }[] {
    const residuals: { readonly atS: number; readonly percent: number }[] = [];
    const lastS = this.#readings[this.#readings.length - 1]?.atS ?? 0;
    for (
      let index = this.#readings.length - 1;
      index >= this.#mergedCount && residuals.length < 11;
      index--
    ) {
      const { atS, percent, trust } = this.#readings[index]!;
      if (lastS - atS > residualWindowS) break;
      if (trust < 1) continue;
      residuals.push({ atS, percent: percent - this.#expected(atS) });
    }
    return residuals;
  }

  /** Means of old readings stand for them, with their weights together. */
  #merge(nowS: number): void {
    const from = this.#mergedCount;
    const first = this.#readings[from];
    if (first === undefined || nowS - first.atS < mergeAfterS) return;
    let until = from;
    let weight = 0;
    let spanS = 0;
    let at = 0;
    let percent = 0;
    while (until < this.#readings.length && this.#readings[until]!.atS < first.atS + mergeSpanS) {
      const reading = this.#readings[until]!;
      const own = reading.trust * reading.spanS + 1e-9;
      weight += own;
      spanS += reading.spanS;
      at += own * reading.atS;
      percent += own * reading.percent;
      until++;
    }
    const merged = { atS: at / weight, percent: percent / weight, trust: weight / (spanS + 1e-9), spanS };
    this.#readings.splice(from, until - from, merged);
    this.#mergedCount = from + 1;
  }

  #expected(atS: number): number {
    let sum = 0;
    for (let index = 0; index < curveCount; index++)
      sum += this.#weights[index]! * this.#displayed(index, atS);
    return sum;
  }

  #displayed(index: number, atS: number): number {
    const used = this.#ratePerS[index]! * (atS - this.#shiftS[index]!);
    return Math.min(100, percentAfter(this.#row[index]!, used) + this.#offset[index]!);
  }

  #makeCurve(index: number): void {
    const at = index * traitCount;
    const v = this.#vectors;
    const { startUncertaintyS, restPercent } = this.#options;
    const logLung = logLungOf(v[at]!);
    const row = rowOf(logBloodOf(v[at + 2]!) - logLung);
    const offset =
      restPercent === undefined
        ? 1.2 * v[at + 4]!
        : restPercent - modelRestPercent + offsetSpreadKnownRest * v[at + 4]!;
    this.#row[index] = row;
    this.#ratePerS[index] = Math.exp(logUptakeOf(v[at + 1]!) - logLung);
    this.#shiftS[index] = shiftSecondsOf(v[at + 3]!, v[at + 5]!, startUncertaintyS);
    this.#offset[index] = offset;
    this.#lagS[index] = lagSecondsOf(v[at + 5]!);
    this.#top[index] = Math.min(100, percentAfter(row, 0) + offset);
  }

  /** Each curve's log likelihood, what it was times `fadeOld`, and this reading's times `fadeNew`. */
  #addLikelihood(reading: HoldReading, fadeOld: number, fadeNew: number): void {
    const { atS, percent } = reading;
    const endS = this.#endS ?? Number.POSITIVE_INFINITY;
    const isEarly = atS < earlyS;
    const weight = independence * reading.trust * reading.spanS;
    const heldWeight = isEarly ? weight * earlyShare : weight;
    const heldSpread = isEarly ? earlySpread : readingSpread;
    const heldLogSpread = Math.log(heldSpread);
    const likelihood = this.#likelihood;
    for (let index = 0; index < curveCount; index++) {
      const turnS = endS + this.#lagS[index]!;
      let own: number;
      if (atS <= turnS) {
        const error = (percent - this.#displayed(index, atS)) / heldSpread;
        own = heldWeight * (logStudent(error) - heldLogSpread);
      } else {
        const top = this.#top[index]!;
        const lowest = this.#displayed(index, turnS);
        const expected = top - (top - lowest) * Math.exp(-(atS - turnS) / recoveryS);
        const spread = readingSpread + recoverySpread * (1 - Math.exp(-(atS - turnS) / 3));
        own = weight * (logStudent((percent - expected) / spread) - Math.log(spread));
      }
      likelihood[index] = likelihood[index]! * fadeOld + fadeNew * own;
    }
  }

  #draw(mean: readonly number[], factor: readonly number[], spread: number): void {
    const normal = new Float64Array(traitCount);
    for (let index = 0; index < curveCount; index++) {
      const at = index * traitCount;
      let squared = 0;
      for (let trait = 0; trait < traitCount; trait++) {
        const value = standardDraws[at + trait]!;
        squared += value * value;
        normal[trait] = spread * value;
      }
      for (let row = 0; row < traitCount; row++) {
        let sum = mean[row]!;
        for (let column = 0; column <= row; column++)
          sum += factor[row * traitCount + column]! * normal[column]!;
        this.#vectors[at + row] = sum;
      }
      this.#makeCurve(index);
      // log prior - log density of the draw, up to a constant.
      this.#priorMinusDraw[index] =
        0.5 * squared -
        0.5 *
          squaredDistance(
            this.#priorFactor,
            traitCount,
            this.#vectors,
            at,
            this.#options.prior.mean,
            this.#scratch,
          );
    }
  }

  #redraw(): void {
    const { mean, covariance } = this.#moments();
    // A little of the prior keeps a nearly lost direction alive.
    for (let trait = 0; trait < traitCount; trait++)
      covariance[trait * traitCount + trait] = covariance[trait * traitCount + trait]! + 0.01;
    this.#draw(mean, cholesky(covariance, traitCount), inflation);
    this.#reweighAll();
  }

  #reweighAll(): void {
    const readings = this.#readings;
    const lastS = readings.length === 0 ? 0 : readings[readings.length - 1]!.atS;
    this.#likelihood.fill(0);
    for (const reading of readings)
      this.#addLikelihood(reading, 1, Math.exp(-(lastS - reading.atS) / memoryS));
    this.#weigh();
  }

  #weigh(): void {
    this.#residuals = undefined;
    let most = Number.NEGATIVE_INFINITY;
    for (let index = 0; index < curveCount; index++)
      most = Math.max(most, this.#likelihood[index]! + this.#priorMinusDraw[index]!);
    let sum = 0;
    for (let index = 0; index < curveCount; index++) {
      const weight = Math.exp(this.#likelihood[index]! + this.#priorMinusDraw[index]! - most);
      this.#weights[index] = weight;
      sum += weight;
    }
    for (let index = 0; index < curveCount; index++) this.#weights[index] = this.#weights[index]! / sum;
  }

  #effectiveShare(): number {
    let sum = 0;
    for (let index = 0; index < curveCount; index++) sum += this.#weights[index]! ** 2;
    return 1 / sum / curveCount;
  }

  #moments(): { mean: number[]; covariance: number[] } {
    const mean = new Array<number>(traitCount).fill(0);
    const covariance = new Array<number>(traitCount * traitCount).fill(0);
    for (let index = 0; index < curveCount; index++)
      for (let trait = 0; trait < traitCount; trait++)
        mean[trait] = mean[trait]! + this.#weights[index]! * this.#vectors[index * traitCount + trait]!;
    for (let index = 0; index < curveCount; index++) {
      const at = index * traitCount;
      const weight = this.#weights[index]!;
      for (let row = 0; row < traitCount; row++) {
        const one = weight * (this.#vectors[at + row]! - mean[row]!);
        for (let column = 0; column <= row; column++) {
          const cell = row * traitCount + column;
          covariance[cell] = covariance[cell]! + one * (this.#vectors[at + column]! - mean[column]!);
        }
      }
    }
    for (let row = 0; row < traitCount; row++)
      for (let column = row + 1; column < traitCount; column++)
        covariance[row * traitCount + column] = covariance[column * traitCount + row]!;
    return { mean, covariance };
  }
}

const standardDraws = Float64Array.from({ length: curveCount * traitCount }, (_, index) =>
  haltonNormal(Math.floor(index / traitCount), index % traitCount),
);

/** Spread of the lowest reading about its curve, points: half a point, and a sixth of what it must still fall. Our choice. */
function familyError(aheadPercent: number): number {
  return 0.5 + 0.2 * aheadPercent;
}

/** Log density of Student's t with `freedom`, up to a constant. */
function logStudent(error: number): number {
  return -0.5 * (freedom + 1) * Math.log1p((error * error) / freedom);
}

/** Standard normal distribution function; Abramowitz & Stegun 7.1.26, error below 1.5e-7 (from memory). */
function normalBelow(z: number): number {
  const x = Math.abs(z) / Math.SQRT2;
  const t = 1 / (1 + 0.3275911 * x);
  const tail =
    t *
    (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429)))) *
    Math.exp(-x * x);
  return z < 0 ? tail / 2 : 1 - tail / 2;
}

/**
 * Weighted quantiles of the curves' values. Sorted by the engine's own number sort, with each value's index in the
 * lowest nine bits of its mantissa: no comparing function, nothing allocated; values that differ by less than
 * 1e-13 of themselves may change places.
 */
function weightedQuantiles(values: Float64Array, weights: Float64Array): Quantiles {
  sortKeys.set(values);
  for (let index = 0; index < curveCount; index++) {
    const at = 2 * index + lowWord;
    sortBits[at] = (sortBits[at]! & ~indexMask) | index;
  }
  sortKeys.sort();
  const result: [number, number, number] = [Number.NaN, Number.NaN, Number.NaN];
  let sum = 0;
  let next = 0;
  let index = 0;
  for (let place = 0; place < curveCount && next < 3; place++) {
    index = sortBits[2 * place + lowWord]! & indexMask;
    sum += weights[index]!;
    while (next < 3 && sum >= quantileShares[next]! - 1e-12) {
      result[next] = values[index]!;
      next++;
    }
  }
  for (; next < 3; next++) result[next] = values[index]!;
  return result;
}

// Shared by all forecasts: each is made from beginning to end without interruption.
const scratchValues = new Float64Array(curveCount);
const sortKeys = new Float64Array(curveCount);
const sortBits = new Uint32Array(sortKeys.buffer);
const indexMask = 511;
/** Which of a number's two words holds the end of its mantissa on this machine. */
const lowWord = new Uint32Array(Float64Array.of(1).buffer)[0] === 0 ? 0 : 1;
