// Weighted curves of the fall family for holds that began with lungs in one state, quasi-random and re-drawn where the
// weights gather (adaptive importance sampling). Typed arrays made once a hold: this is most of what a pipeline costs.

import { type HoldPrior, traitCount } from './athlete-prior.ts';
import { cholesky, squaredDistance } from './cholesky.ts';
import { cellOf, columnAbove, percentAfter, rowOf, usedAt } from './fall-curve.ts';
import { lungStates } from './lung-states.ts';
import { MisfitFilter } from './misfit.ts';
import { haltonNormal } from './quasi-random.ts';
import {
  lagSecondsOf,
  logBloodOf,
  logLungOf,
  logUptakeOf,
  offsetSpreadKnownRest,
  shiftSecondsOf,
  usedAtStartOf,
} from './trait-values.ts';

/** Spread of a reading about its curve: noise, rounding to whole percent (0.29), and the family's own misfit. */
const readingSpread = 0.7;
/** Student t with so few degrees of freedom forgives a motion dip. */
const freedom = 4;
/** Readings a second apart repeat each other's errors (averaging 3-21 s, reference 4.04): each counts a fifth. */
const independence = 0.2;
/** Old readings fade, because no one curve of the family is right for a whole hold. Our choice. */
export const memoryS = 60;
/** Old blood and the resting reading colour the first readings of a hold; they count less. Our choice. */
const earlySpread = 1.2;
const earlyShare = 0.3;
/** Draws are spread by this factor over the fitted normal, so that its tails are covered. */
const inflation = 1.25;
/** Resting reading of the average model person: what an unbiased oximeter would show at rest. */
export const modelRestPercent = 97.7;
/**
 * A hold that may misfit teaches by its readings and its lowest one. These errors are half heeded, because each curve has the
 * filter's help. Our choice.
 */
const heededShare = 0.5;
/** Old blood counts less here too. Our choice. */
const earlyTrust = 0.5;
/** Spread of the lowest reading about what a curve foresaw, points, beside this share of what the filter leaves open. Our choice. */
const lowestSpread = 0.7;
const lowestMisfitShare = 0.3;
/**
 * The lowest reading comes so much sooner than the lag, with such a spread, seconds: the heart quickens with the first breath, and
 * emptied lungs are filled by it at once. Averaging flattens the low to some seconds. Our choice.
 */
const lowestSooner = {
  full: { byS: 1.5, spreadS: 4 },
  half: { byS: 1.5, spreadS: 4 },
  emptied: { byS: 2.5, spreadS: 7 },
} as const;

/** One reading, or the mean of several old ones. */
export interface HoldReading {
  /** Since the hold's start. */
  readonly atS: number;
  readonly percent: number;
  /** How much it counts, 0..1. */
  readonly trust: number;
  /** Weight of time: the seconds it stands for. */
  readonly spanS: number;
}

export interface CurveSetOptions {
  readonly prior: HoldPrior;
  readonly curveCount: number;
  /** Resting reading before the hold, or undefined. */
  readonly restPercent: number | undefined;
  /** One standard deviation of the hold's start. */
  readonly startUncertaintyS: number;
  /** The hold began so much later than the zero of its readings. */
  readonly startLaterS?: number;
  /** Curves may be wrong for a while (misfit.ts). */
  readonly mayMisfit: boolean;
  /** Multiplies how wrong their slope may be; 1 when left out. */
  readonly slopeErrorFactor?: number;
  /** Readings before this are mostly old blood; what is usual for these lungs when left out. */
  readonly earlyS?: number;
}

export class CurveSet {
  readonly count: number;
  /** See `LungState`. */
  readonly errorFactor: number;
  readonly #options: CurveSetOptions;
  readonly #priorMean: Float64Array;
  readonly #priorFactor: Float64Array;
  readonly #usedAtStart: number;
  readonly #earlyS: number;
  readonly #vectors: Float64Array;
  readonly #priorMinusDraw: Float64Array;
  readonly #likelihood: Float64Array;
  /** Where each curve lies in the table (fall-curve.ts). */
  readonly #cell: Int32Array;
  readonly #fraction: Float64Array;
  /** Where in the table each curve's turn was found last. */
  readonly #turnColumn: Uint8Array;
  readonly #ratePerS: Float64Array;
  readonly #shiftS: Float64Array;
  readonly #offset: Float64Array;
  readonly lagS: Float64Array;
  /** The display before the fall. */
  readonly top: Float64Array;
  readonly #scratch = new Float64Array(traitCount);
  readonly misfit: MisfitFilter | undefined;
  /** Weights within the set; they sum to 1. */
  readonly weights: Float64Array;
  /** Logarithm of how well this state explains the readings, up to a constant that all states share. */
  logEvidence = 0;

  constructor(options: CurveSetOptions) {
    const { curveCount: count, prior } = options;
    this.#options = options;
    this.count = count;
    this.#usedAtStart = usedAtStartOf(prior.lungs);
    this.#earlyS = options.earlyS ?? lungStates[prior.lungs].earlyS;
    this.errorFactor = lungStates[prior.lungs].errorFactor;
    this.#vectors = new Float64Array(count * traitCount);
    this.#priorMinusDraw = new Float64Array(count);
    this.#likelihood = new Float64Array(count);
    this.#cell = new Int32Array(count);
    this.#fraction = new Float64Array(count);
    this.#turnColumn = new Uint8Array(count);
    this.#ratePerS = new Float64Array(count);
    this.#shiftS = new Float64Array(count);
    this.#offset = new Float64Array(count);
    this.lagS = new Float64Array(count);
    this.top = new Float64Array(count);
    this.weights = new Float64Array(count);
    this.misfit = options.mayMisfit
      ? new MisfitFilter(count, lungStates[prior.lungs].slopeErrorFactor * (options.slopeErrorFactor ?? 1))
      : undefined;
    this.#priorMean = Float64Array.from(prior.mean);
    this.#priorFactor = Float64Array.from(cholesky(prior.covariance, traitCount));
    this.#draw(this.#priorMean, this.#priorFactor, 1);
    this.weigh();
  }

  get lungs(): HoldPrior['lungs'] {
    return this.#options.prior.lungs;
  }

  /** What this curve's display shows `atS` after the hold's start while it goes on. */
  displayed(index: number, atS: number): number {
    const used = this.#usedAtStart + Math.max(0, this.#ratePerS[index]! * (atS - this.#shiftS[index]!));
    const percent = percentAfter(this.#cell[index]!, this.#fraction[index]!, used);
    return Math.min(100, percent + this.#offset[index]!);
  }

  /** Writes every curve's `displayed` from `out[from]` on. */
  displayedInto(atS: number, out: Float64Array, from: number): void {
    for (let index = 0; index < this.count; index++) out[from + index] = this.displayed(index, atS);
  }

  /** Writes the lowest reading of every curve if breathing began at `atS` from `out[from]` on. */
  turnsInto(atS: number, out: Float64Array, from: number): void {
    for (let index = 0; index < this.count; index++)
      out[from + index] = this.displayed(index, atS + this.lagS[index]!);
  }

  /** Second at which breathing must begin for this curve's lowest reading to be `percent`. */
  turnTimeS(index: number, percent: number): number {
    const cell = this.#cell[index]!;
    const fraction = this.#fraction[index]!;
    const own = percent - this.#offset[index]!;
    const column = columnAbove(cell, fraction, own, this.#turnColumn[index]!);
    this.#turnColumn[index] = column;
    const used = usedAt(cell, fraction, own, column);
    const usedInHold = Math.max(0, used - this.#usedAtStart);
    return this.#shiftS[index]! + usedInHold / this.#ratePerS[index]! - this.lagS[index]!;
  }

  /** Writes the seconds left at `atS` until every curve, moved by its shift, would turn at `percent`. Shifts and seconds from `from` on. */
  secondsLeftInto(
    atS: number,
    percent: number,
    shifts: Float64Array,
    seconds: Float64Array,
    from: number,
  ): void {
    for (let index = 0; index < this.count; index++)
      seconds[from + index] = Math.max(0, this.turnTimeS(index, percent - shifts[from + index]!) - atS);
  }

  /** `sum` and the weights of the curves whose lowest reading lies so far below their top. Weights and readings from `from` on. */
  addWeightOfFallen(
    sum: number,
    lowest: Float64Array,
    fallenPercent: number,
    weights: Float64Array,
    from: number,
  ): number {
    let fallen = sum;
    for (let index = 0; index < this.count; index++)
      if (lowest[from + index]! < this.top[index]! - fallenPercent) fallen += weights[from + index]!;
    return fallen;
  }

  /** Writes the weights, times `share`, from `out[from]` on. */
  weightsInto(share: number, out: Float64Array, from: number): void {
    for (let index = 0; index < this.count; index++) out[from + index] = share * this.weights[index]!;
  }

  /**
   * Each curve's log likelihood, what it was times `fadeOld`, and this reading's times `fadeNew`. False where the reading says
   * nothing of it.
   */
  addReading(reading: HoldReading, fadeOld: number, fadeNew: number, endS: number): boolean {
    const { atS, percent, trust, spanS } = reading;
    const isEarly = atS < this.#earlyS;
    const { misfit } = this;
    // What comes after the end is told by its lowest reading: the way back has laws of its own.
    if (atS > endS) return false;
    if (misfit !== undefined) {
      misfit.expect(atS, spanS, isEarly ? trust * earlyTrust : trust);
      this.#hear(misfit, atS, percent);
      return true;
    }
    const weight = independence * trust * spanS * (isEarly ? earlyShare : 1);
    const spread = isEarly ? earlySpread : readingSpread;
    const logSpread = Math.log(spread);
    const likelihood = this.#likelihood;
    for (let index = 0; index < this.count; index++) {
      const error = (percent - this.displayed(index, atS)) / spread;
      const own = weight * (logStudent(error) - logSpread);
      likelihood[index] = likelihood[index]! * fadeOld + fadeNew * own;
    }
    return true;
  }

  #hear(misfit: MisfitFilter, atS: number, percent: number): void {
    const likelihood = this.#likelihood;
    const logSpread = Math.log(misfit.spread);
    for (let index = 0; index < this.count; index++) {
      const error = misfit.hear(index, percent - this.displayed(index, atS));
      likelihood[index] = likelihood[index]! + heededShare * (logStudent(error) - logSpread);
    }
  }

  /** The lowest reading, and how many seconds after the end at `endS` it came. */
  addLowest(percent: number, afterEndS: number, endS: number): void {
    const { misfit } = this;
    if (misfit === undefined) return;
    const { byS, spreadS } = lowestSooner[this.lungs];
    for (let index = 0; index < this.count; index++) {
      const lagS = this.lagS[index]!;
      const foreseen = this.displayed(index, endS + lagS) + misfit.ahead(index, lagS);
      const spread = Math.hypot(lowestSpread, lowestMisfitShare * misfit.spreadAhead(lagS));
      this.#likelihood[index] =
        this.#likelihood[index]! +
        logStudent((afterEndS + byS - lagS) / spreadS) +
        logStudent((percent - foreseen) / spread) -
        Math.log(spread);
    }
    this.weigh();
  }

  forget(): void {
    this.#likelihood.fill(0);
    this.misfit?.forget();
  }

  /** Weights and evidence from the likelihoods as they stand. */
  weigh(): void {
    const { weights } = this;
    let most = Number.NEGATIVE_INFINITY;
    for (let index = 0; index < this.count; index++)
      most = Math.max(most, this.#likelihood[index]! + this.#priorMinusDraw[index]!);
    let sum = 0;
    for (let index = 0; index < this.count; index++) {
      const weight = Math.exp(this.#likelihood[index]! + this.#priorMinusDraw[index]! - most);
      weights[index] = weight;
      sum += weight;
    }
    for (let index = 0; index < this.count; index++) weights[index] = weights[index]! / sum;
    this.logEvidence = most + Math.log(sum / this.count);
  }

  effectiveShare(): number {
    let sum = 0;
    for (let index = 0; index < this.count; index++) sum += this.weights[index]! * this.weights[index]!;
    return 1 / sum / this.count;
  }

  /** New curves where the weights have gathered. Their likelihoods must be added anew. */
  redraw(): void {
    const { mean, covariance } = this.moments();
    // A little of the prior keeps a nearly lost direction alive.
    for (let trait = 0; trait < traitCount; trait++)
      covariance[trait * traitCount + trait] = covariance[trait * traitCount + trait]! + 0.01;
    this.#draw(Float64Array.from(mean), Float64Array.from(cholesky(covariance, traitCount)), inflation);
  }

  /** Weighted mean and covariance of the traits. */
  moments(): { mean: number[]; covariance: number[] } {
    const mean = new Array<number>(traitCount).fill(0);
    const covariance = new Array<number>(traitCount * traitCount).fill(0);
    for (let index = 0; index < this.count; index++)
      for (let trait = 0; trait < traitCount; trait++)
        mean[trait] = mean[trait]! + this.weights[index]! * this.#vectors[index * traitCount + trait]!;
    for (let index = 0; index < this.count; index++) {
      const at = index * traitCount;
      const weight = this.weights[index]!;
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

  #draw(mean: Float64Array, factor: Float64Array, spread: number): void {
    const normal = new Float64Array(traitCount);
    // The logarithms of both densities' heights: evidence is compared between sets, so constants count.
    let heights = traitCount * Math.log(spread);
    for (let trait = 0; trait < traitCount; trait++)
      heights +=
        Math.log(factor[trait * (traitCount + 1)]!) - Math.log(this.#priorFactor[trait * (traitCount + 1)]!);
    this.misfit?.lagsChanged();
    for (let index = 0; index < this.count; index++) {
      const at = index * traitCount;
      let squared = 0;
      for (let trait = 0; trait < traitCount; trait++) {
        const value = standardDraw(index, trait);
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
      const distance = squaredDistance(
        this.#priorFactor,
        traitCount,
        this.#vectors,
        at,
        this.#priorMean,
        this.#scratch,
      );
      this.#priorMinusDraw[index] = 0.5 * squared - 0.5 * distance + heights;
    }
  }

  #makeCurve(index: number): void {
    const at = index * traitCount;
    const v = this.#vectors;
    const { startUncertaintyS, startLaterS = 0, restPercent, prior } = this.#options;
    const logLung = logLungOf(prior.lungs, v[at]!);
    const row = rowOf(logBloodOf(v[at + 2]!) - logLung);
    const offset =
      restPercent === undefined
        ? 1.2 * v[at + 4]!
        : restPercent - modelRestPercent + offsetSpreadKnownRest * v[at + 4]!;
    this.#cell[index] = cellOf(row);
    this.#fraction[index] = row - Math.floor(row);
    this.#ratePerS[index] = Math.exp(logUptakeOf(v[at + 1]!) - logLung);
    this.#shiftS[index] =
      startLaterS + shiftSecondsOf(prior.lungs, v[at + 3]!, v[at + 5]!, startUncertaintyS);
    this.#offset[index] = offset;
    this.lagS[index] = lagSecondsOf(v[at + 5]!);
    this.top[index] = Math.min(
      100,
      percentAfter(this.#cell[index]!, this.#fraction[index]!, this.#usedAtStart) + offset,
    );
  }
}

/** Most curves of one set. */
export const mostCurves = 320;
const draws = Float64Array.from({ length: mostCurves * traitCount }, (_, index) =>
  haltonNormal(Math.floor(index / traitCount), index % traitCount),
);
const standardDraw = (index: number, trait: number): number => draws[index * traitCount + trait]!;

/** Log density of Student's t with `freedom`, up to a constant. */
function logStudent(error: number): number {
  return -0.5 * (freedom + 1) * Math.log1p((error * error) / freedom);
}
