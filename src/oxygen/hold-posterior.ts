// Bayesian filter of one hold: what its readings say of the fall, as a mixture over full, half and emptied lungs where
// nobody said which. Deterministic: the same readings give the same posterior.

import type { HoldLungs } from '../../shared/schema-parts.ts';
import { type AthletePrior, type HoldPrior, holdPriorOf, lungShares } from './athlete-prior.ts';
import { CurveSet, type HoldReading, memoryS } from './curve-set.ts';
import { holdLungs, lungStates } from './lung-states.ts';
import { normalQuantile } from './quasi-random.ts';
import { recentLevel } from './recent-level.ts';
import {
  mostWeighted,
  normalBelow,
  orderInto,
  type Quantiles,
  type Shares,
  weightedQuantiles,
} from './weighted-quantiles.ts';

/**
 * Curves kept when the lungs are known, and for each state when they are not. Our choice: 320 in all leave the quantiles
 * steady to 0.2 points and cost well under a millisecond; a state that the readings rule out costs nothing more.
 */
const knownCurveCount = 320;
const curveCounts: Readonly<Record<HoldLungs, number>> = { full: 176, half: 88, emptied: 56 };
/**
 * Where nobody said the lungs, all states believe a reading from the same second on, that of emptied lungs. With each its own, a flat display
 * between 20 and 35 s made emptied lungs five times likelier: full ones, doubting it still, had foretold it less sharply.
 */
const unsaidEarlyS = lungStates.emptied.earlyS;
/** A state less likely than this is dropped for the rest of the hold. Our choice: a tenth of the accepted risk. */
const ruledOutShare = 0.002;
/** Re-drawn when the effective number of curves falls below the first share, though not again at once, or the second. */
const leastEffectiveShare = 0.3;
const urgentEffectiveShare = 0.06;
const redrawEveryS = 8;
/** Readings older than the first are merged by the second, so that a long hold costs no more than a short one. */
const mergeAfterS = 24;
const mergeSpanS = 6;
/**
 * Where curves are bent (a fall from a low saturation that nobody announced), they are moved by this share of how far the newest readings lie off them, at most so many
 * points, and may not misfit otherwise: bent to the newest readings, they took nine dips of people at rest for holds (noneeg, 6.4 h).
 */
const movedShare = 0.6;
const mostMovedPercent = 1.5;
/** The lag is read off the lowest reading only after a clear fall and a clear rise, points. Our choice. */
const clearFallPercent = 3;
const clearRisePercent = 2;

/** A fall in the blood that counts as one, points: what the display will show as one or two steps. Our choice. */
const fallenPercent = 1.5;

export interface PosteriorOptions {
  readonly prior: AthletePrior;
  /** How full the lungs were, if somebody said. */
  readonly lungs?: HoldLungs;
  /** Resting reading before the hold, or undefined. */
  readonly restPercent?: number;
  /** One standard deviation of the hold's start. */
  readonly startUncertaintyS: number;
  /** Curves may be wrong for a while (misfit.ts); else they are bent to the newest readings. True when left out. */
  readonly mayMisfit?: boolean;
  /** Multiplies how wrong their slope may be. */
  readonly slopeErrorFactor?: number;
  /** The hold began so much later than said, by the lungs it may have begun with: of a start that is only assumed. */
  readonly startLaterS?: Readonly<Record<HoldLungs, number>>;
}

interface State {
  readonly curves: CurveSet;
  /** Before any reading. */
  readonly logPrior: number;
  redrawnAtS: number;
  /** Now; all states' shares sum to 1. */
  share: number;
}

/** What follows if breathing began at `atS`. */
interface Ahead {
  atS: number;
  /** Each curve's lowest reading, moved by its shift, points. */
  readonly lowest: Float64Array;
  readonly shifts: Float64Array;
  /** Spread of its lowest reading about the curve, points, before the athlete's own scale. */
  readonly spreads: Float64Array;
  /** Of `lowest`, once asked for. */
  readonly order: Uint16Array;
  isOrdered: boolean;
}

const createAhead = (): Ahead => ({
  atS: Number.NaN,
  lowest: new Float64Array(mostWeighted),
  shifts: new Float64Array(mostWeighted),
  spreads: new Float64Array(mostWeighted),
  order: new Uint16Array(mostWeighted),
  isOrdered: false,
});

export class HoldPosterior {
  /** Put in one by one, here and where some are ruled out: the engine then knows one kind of array, and compiles what asks it once. */
  #states: State[] = [];
  /** Weights of all states' curves one after the other; they sum to 1. Made anew once weights have changed. */
  readonly #weights = new Float64Array(mostWeighted);
  #curveCount = 0;
  /** Of the two times that one answer asks for: now, and a reaction later. */
  readonly #aheads: readonly [Ahead, Ahead] = [createAhead(), createAhead()];
  #nextAhead: 0 | 1 = 0;
  readonly #readings: HoldReading[] = [];
  /** Readings before this index are merged. */
  #mergedCount = 0;
  #takenCount = 0;
  #endS = Number.POSITIVE_INFINITY;
  readonly #errorScale: number;
  readonly #mayMisfit: boolean;

  constructor(options: PosteriorOptions) {
    const { prior, lungs, restPercent, startUncertaintyS } = options;
    this.#errorScale = prior.errorScale;
    this.#mayMisfit = options.mayMisfit ?? true;
    const shares = lungShares(prior);
    for (const state of lungs === undefined ? holdLungs : [lungs])
      this.#states.push({
        curves: new CurveSet({
          prior: holdPriorOf(prior, state),
          curveCount: lungs === undefined ? curveCounts[state] : knownCurveCount,
          restPercent,
          startUncertaintyS,
          startLaterS: options.startLaterS?.[state] ?? 0,
          mayMisfit: this.#mayMisfit,
          slopeErrorFactor: options.slopeErrorFactor ?? 1,
          ...(lungs === undefined && { earlyS: unsaidEarlyS }),
        }),
        logPrior: lungs === undefined ? Math.log(shares[state]) : 0,
        redrawnAtS: 0,
        share: 1,
      });
    this.#weigh();
  }

  get readingCount(): number {
    return this.#takenCount;
  }

  /** The likeliest state of the lungs and its chance. */
  get lungs(): { readonly likeliest: HoldLungs; readonly chance: number } {
    const best = this.#best();
    return { likeliest: best.curves.lungs, chance: best.share };
  }

  /** The hold has ended at `endS`: later readings turn `lag` seconds after it. */
  setEnd(endS: number): void {
    this.#endS = endS;
    for (const state of this.#states) this.#addAllReadings(state.curves);
    this.#weigh();
  }

  /** Takes in one reading. `trust` 1 for a good one, less for a doubtful one. */
  push(atS: number, percent: number, trust: number): void {
    const last = this.#readings[this.#readings.length - 1];
    const spanS = last === undefined ? 1 : Math.min(4, Math.max(0, atS - last.atS));
    const reading: HoldReading = { atS, percent, trust, spanS };
    this.#readings.push(reading);
    const fade = last === undefined || this.#mayMisfit ? 1 : Math.exp(-(atS - last.atS) / memoryS);
    this.#takenCount++;
    this.#merge(atS);
    for (let i = 0; i < this.#states.length; i++) {
      const state = this.#states[i]!;
      const { curves } = state;
      if (curves.addReading(reading, fade, 1, this.#endS)) curves.weigh();
      const share = curves.effectiveShare();
      if (
        share < urgentEffectiveShare ||
        (share < leastEffectiveShare && atS - state.redrawnAtS >= redrawEveryS)
      ) {
        curves.redraw();
        this.#addAllReadings(curves);
        state.redrawnAtS = atS;
      }
    }
    this.#weigh();
  }

  /** Weighted quantiles of the lowest reading if breathing began at `atS`. */
  lowest(atS: number, shares: Shares): Quantiles {
    const ahead = this.#ahead(atS);
    if (!ahead.isOrdered) {
      orderInto(ahead.order, ahead.lowest, this.#curveCount);
      ahead.isOrdered = true;
    }
    const quantiles = weightedQuantiles(ahead.lowest, this.#weights, ahead.order, this.#curveCount, shares);
    const middle = quantiles[1];
    const spread =
      this.#errorScale * Math.sqrt(weightedMeanSquare(ahead.spreads, this.#weights, this.#curveCount));
    return [
      widened(middle, quantiles[0], spread, shares[0]),
      widened(middle, middle, spread, shares[1]),
      widened(middle, quantiles[2], spread, shares[2]),
    ];
  }

  /** Weighted quantiles of the seconds left at `atS` until `floorPercent` would be touched. */
  secondsLeft(atS: number, floorPercent: number, shares: Shares): Quantiles {
    const { shifts } = this.#ahead(atS);
    let at = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves } = this.#states[i]!;
      curves.secondsLeftInto(atS, floorPercent, shifts, scratchValues, at);
      at += curves.count;
    }
    orderInto(scratchOrder, scratchValues, at);
    return weightedQuantiles(scratchValues, this.#weights, scratchOrder, at, shares);
  }

  /** Chance that arterial blood has already fallen by a point and a half from its height in this hold. */
  chanceFalling(atS: number): number {
    const { lowest } = this.#ahead(atS);
    let falling = 0;
    let at = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves } = this.#states[i]!;
      falling = curves.addWeightOfFallen(falling, lowest, fallenPercent, this.#weights, at);
      at += curves.count;
    }
    return falling;
  }

  /** Chance that the lowest reading is below the floor if breathing began at `atS`. */
  chanceBelow(atS: number, floorPercent: number): number {
    const { lowest, spreads } = this.#ahead(atS);
    return weightBelow(floorPercent, this.#errorScale, lowest, spreads, this.#weights, 0, this.#curveCount);
  }

  /** The same if the lungs were in another state than this one; 0 where they can be in no other. */
  chanceBelowUnless(lungs: HoldLungs, atS: number, floorPercent: number): number {
    const { lowest, spreads } = this.#ahead(atS);
    let below = 0;
    let all = 0;
    let from = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves, share } = this.#states[i]!;
      const until = from + curves.count;
      if (curves.lungs !== lungs) {
        all += share;
        below += weightBelow(floorPercent, this.#errorScale, lowest, spreads, this.#weights, from, until);
      }
      from = until;
    }
    return all === 0 ? 0 : below / all;
  }

  /** What the hold taught, to be given to `taughtBy`; the readings after its end are in. */
  taught(): HoldPrior {
    const lowest = this.#lowestAfterEnd();
    const best = this.#best();
    if (lowest !== undefined) best.curves.addLowest(lowest.percent, lowest.afterEndS, this.#endS);
    return { lungs: best.curves.lungs, ...best.curves.moments() };
  }

  #best(): State {
    return this.#states.reduce((best, state) => (state.share > best.share ? state : best));
  }

  /** The lowest reading after the end, and the middle of the time in which it stood there, where fall and rise were clear. */
  #lowestAfterEnd(): { readonly percent: number; readonly afterEndS: number } | undefined {
    const after = this.#readings.filter(({ atS, trust }) => atS >= this.#endS && trust === 1);
    const first = after[0];
    const last = after[after.length - 1];
    if (first === undefined || last === undefined) return undefined;
    const lowest = Math.min(...after.map(({ percent }) => percent));
    const highest = Math.max(...this.#readings.map(({ percent }) => percent));
    const isClear =
      highest - lowest >= clearFallPercent &&
      last.percent - lowest >= clearRisePercent &&
      first.percent - lowest >= 1;
    if (!isClear) return undefined;
    const low = after.filter(({ percent }) => percent <= lowest + 0.5);
    const afterEndS = (low[0]!.atS + low[low.length - 1]!.atS) / 2 - this.#endS;
    // One reading alone may be an error: the third lowest is not.
    const inOrder = after.map(({ percent }) => percent).sort((one, other) => one - other);
    return { percent: inOrder[Math.min(inOrder.length - 1, 2)]!, afterEndS };
  }

  /**
   * What follows if breathing began at `atS`, which may lie some seconds ahead of the newest reading. Kept for the two times that
   * are asked for last.
   */
  #ahead(atS: number): Ahead {
    for (let i = 0; i < this.#aheads.length; i++) {
      const known = this.#aheads[i]!;
      if (known.atS === atS) return known;
    }
    const ahead = this.#aheads[this.#nextAhead];
    this.#nextAhead = this.#nextAhead === 0 ? 1 : 0;
    ahead.atS = atS;
    ahead.isOrdered = false;
    let at = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves } = this.#states[i]!;
      curves.turnsInto(atS, ahead.lowest, at);
      at += curves.count;
    }
    if (this.#mayMisfit) this.#moveByMisfit(ahead);
    else this.#moveAll(ahead);
    return ahead;
  }

  /** Each curve goes on as far off, and as differently steep, as the readings have been. */
  #moveByMisfit({ atS, lowest, shifts, spreads }: Ahead): void {
    const newestS = this.#readings[this.#readings.length - 1]?.atS ?? atS;
    let at = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves } = this.#states[i]!;
      curves.misfit!.aheadInto(atS - newestS, curves.lagS, shifts, spreads, at);
      at += curves.count;
    }
    addTo(lowest, shifts, at);
  }

  /** All curves start nearer to where the newest readings stand. */
  #moveAll({ atS, lowest, shifts, spreads }: Ahead): void {
    const newest = this.#readings[this.#readings.length - 1];
    const level = recentLevel(this.#readings, this.#mergedCount);
    const off =
      newest === undefined || level === undefined ? 0 : movedShare * (level - this.#expected(newest.atS));
    const moved = Math.max(-mostMovedPercent, Math.min(mostMovedPercent, off));
    const shownPercent = this.#expected(atS) + moved;
    let at = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves } = this.#states[i]!;
      for (let index = 0; index < curves.count; index++, at++) {
        shifts[at] = moved;
        lowest[at] = lowest[at]! + moved;
        // The family's own error grows with how far ahead it must reach.
        spreads[at] = curves.errorFactor * familyError(Math.max(0, shownPercent - lowest[at]!));
      }
    }
  }

  /** Means of old readings stand for them, with their weights together. */
  #merge(nowS: number): void {
    // Readings after the end stay as they are: the time of the lowest is read off them.
    if (nowS > this.#endS) return;
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
    let at = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves } = this.#states[i]!;
      for (let index = 0; index < curves.count; index++, at++) {
        const weight = this.#weights[at]!;
        if (weight > 1e-7) sum += weight * curves.displayed(index, atS);
      }
    }
    return sum;
  }

  #addAllReadings(curves: CurveSet): void {
    const readings = this.#readings;
    const lastS = readings.length === 0 ? 0 : readings[readings.length - 1]!.atS;
    curves.forget();
    for (let i = 0; i < readings.length; i++) {
      const reading = readings[i]!;
      curves.addReading(
        reading,
        1,
        this.#mayMisfit ? 1 : Math.exp(-(lastS - reading.atS) / memoryS),
        this.#endS,
      );
    }
    curves.weigh();
  }

  /** Shares of the states, and the weights of all curves together. */
  #weigh(): void {
    for (const ahead of this.#aheads) ahead.atS = Number.NaN;
    let most = Number.NEGATIVE_INFINITY;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves, logPrior } = this.#states[i]!;
      most = Math.max(most, logPrior + curves.logEvidence);
    }
    let sum = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const state = this.#states[i]!;
      state.share = Math.exp(state.logPrior + state.curves.logEvidence - most);
      sum += state.share;
    }
    const likely: State[] = [];
    let kept = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const state = this.#states[i]!;
      state.share /= sum;
      if (state.share < ruledOutShare) continue;
      likely.push(state);
      kept += state.share;
    }
    if (likely.length < this.#states.length) {
      this.#states = likely;
      for (const state of likely) state.share /= kept;
    }
    let at = 0;
    for (let i = 0; i < this.#states.length; i++) {
      const { curves, share } = this.#states[i]!;
      curves.weightsInto(share, this.#weights, at);
      at += curves.count;
    }
    this.#curveCount = at;
  }
}

/** A quantile `at` of the curves as it is once what each leaves open is added, a normal spread about its own. */
function widened(middle: number, at: number, spread: number, share: number): number {
  const own = spread * normalQuantile(share);
  return middle + Math.sign(own) * Math.hypot(at - middle, own);
}

/*
 * Loops over all curves stand by themselves, here and in curve-set.ts: the engine compiles each once and small. In the functions
 * that ask them they were compiled with all that stands around them, and anew for each, longer than many a hold's sums take.
 */

function addTo(sums: Float64Array, values: Float64Array, count: number): void {
  for (let index = 0; index < count; index++) sums[index] = sums[index]! + values[index]!;
}

function weightedMeanSquare(values: Float64Array, weights: Float64Array, count: number): number {
  let sum = 0;
  for (let index = 0; index < count; index++) sum += weights[index]! * (values[index]! * values[index]!);
  return sum;
}

function weightBelow(
  floorPercent: number,
  errorScale: number,
  lowest: Float64Array,
  spreads: Float64Array,
  weights: Float64Array,
  from: number,
  until: number,
): number {
  let below = 0;
  for (let index = from; index < until; index++) {
    const weight = weights[index]!;
    if (weight < 1e-7) continue;
    below += weight * normalBelow((floorPercent - lowest[index]!) / (errorScale * spreads[index]!));
  }
  return below;
}

/** Spread of the lowest reading about its curve where a hold is only assumed, points: half a point, and a sixth of what it must still fall. Our choice. */
function familyError(aheadPercent: number): number {
  return 0.45 + 0.17 * aheadPercent;
}

// Shared by all forecasts: each is made from beginning to end without interruption.
const scratchValues = new Float64Array(mostWeighted);
const scratchOrder = new Uint16Array(mostWeighted);
