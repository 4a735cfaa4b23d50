// A forecaster that nobody can have: it knows the generator itself (SIMULATED), how its people are spread and how its oximeters err,
// and weighs thousands of its holds by the readings. What it gives up bounds what any forecast with those readings can.

import { type PlannedHold, type Reading, shownAsFloor } from './planned-holds.ts';

/** One thinkable hold without the oximeter's bias: by whole seconds, percent. */
export interface ThinkableHold {
  /** Holds of one person share it: what one hold says of the person counts in the next. */
  readonly person: number;
  readonly displayed: Float64Array;
  readonly lowestIfStopped: Float64Array;
  /** The way to the finger takes so much longer than in `displayed`. */
  readonly laterS: number;
}

/** An oximeter's errors: noise that fades by `fading` a second, fed by `noiseStep`, and a bias that stays; percent. */
export interface OximeterErrors {
  readonly fading: number;
  readonly noiseStep: number;
  readonly biasMean: number;
  readonly biasSpread: number;
}

export interface ThinkableSet {
  readonly holds: readonly ThinkableHold[];
  readonly errors: OximeterErrors;
  /** How far a thinkable hold may lie off the true one, because there are only so many of them; percent. */
  readonly coarseness: number;
}

/** From the advice to the first breath, as who obeys in the accuracy bench. */
export const obeyingReactionS = 1;
/** Weights that one hold left count this much in the next, because the set is coarse. Our choice. */
const carriedShare = 0.5;

const valueAt = (values: Float64Array, second: number): number => {
  const place = Math.max(0, Math.min(values.length - 1.000001, second));
  const low = Math.floor(place);
  return values[low]! + (place - low) * (values[low + 1]! - values[low]!);
};

/** Normal distribution function, to 1e-7 (Abramowitz and Stegun 1964, 26.2.17). */
function normalBelow(z: number): number {
  const t = 1 / (1 + 0.2316419 * Math.abs(z));
  const density = 0.3989422804014327 * Math.exp(-0.5 * z * z);
  const tail =
    density *
    t *
    (0.31938153 + t * (-0.356563782 + t * (1.781477937 + t * (-1.821255978 + t * 1.330274429))));
  return z > 0 ? 1 - tail : tail;
}

/** Follows one hold. Weights are by thinkable hold. */
export class ThinkingForecaster {
  readonly #set: ThinkableSet;
  readonly #logWeights: Float64Array;
  readonly #noise: Float64Array;
  readonly #bias: Float64Array;
  /** Variances of noise and bias and what they share: the same for all, because all are linear (Kalman 1960). */
  #vNoise: number;
  #vBias: number;
  #shared = 0;
  #lastS: number | undefined;
  #isWhole = true;

  constructor(set: ThinkableSet, carried?: readonly number[]) {
    this.#set = set;
    const { errors, holds } = set;
    this.#logWeights = Float64Array.from(holds, (_, index) => carried?.[index] ?? 0);
    this.#noise = new Float64Array(holds.length);
    this.#bias = new Float64Array(holds.length).fill(errors.biasMean);
    this.#vNoise = errors.noiseStep ** 2 / (1 - errors.fading ** 2);
    this.#vBias = errors.biasSpread ** 2;
  }

  push({ atS, percent }: Reading): void {
    const { errors, holds, coarseness } = this.#set;
    const fading = errors.fading ** Math.max(0, atS - (this.#lastS ?? atS));
    this.#lastS = atS;
    const stationary = errors.noiseStep ** 2 / (1 - errors.fading ** 2);
    this.#vNoise = fading ** 2 * this.#vNoise + (1 - fading ** 2) * stationary;
    this.#shared *= fading;
    if (percent % 1 > 0) this.#isWhole = false;
    // A value rounded to a step has a twelfth of its square.
    const rounding = (this.#isWhole ? 1 : 0.01) / 12;
    const spread = this.#vNoise + this.#vBias + 2 * this.#shared + rounding + coarseness ** 2;
    const noiseGain = (this.#vNoise + this.#shared) / spread;
    const biasGain = (this.#vBias + this.#shared) / spread;
    holds.forEach(({ displayed, laterS }, index) => {
      this.#noise[index] = this.#noise[index]! * fading;
      const shown = Math.min(
        100,
        valueAt(displayed, atS - laterS) + this.#bias[index]! + this.#noise[index]!,
      );
      // Movements and lost fingers are rare in a hold: beyond three spreads an error says no more.
      const most = 3 * Math.sqrt(spread);
      const error = Math.max(-most, Math.min(most, percent - shown));
      this.#noise[index] = this.#noise[index]! + noiseGain * error;
      this.#bias[index] = this.#bias[index]! + biasGain * error;
      this.#logWeights[index] = this.#logWeights[index]! - (0.5 * error * error) / spread;
    });
    const [noise, bias, both] = [this.#vNoise, this.#vBias, this.#shared];
    this.#vNoise = noise - noiseGain * (noise + both);
    this.#vBias = bias - biasGain * (bias + both);
    this.#shared = both - noiseGain * (bias + both);
  }

  /** Chance that the lowest reading shows less than the floor if breathing begins at `atS`. */
  chanceBelow(atS: number, floorPercent: number): number {
    const spread = Math.hypot(Math.sqrt(this.#vBias), this.#set.coarseness);
    const most = this.#logWeights.reduce((one, other) => Math.max(one, other), Number.NEGATIVE_INFINITY);
    let [below, sum] = [0, 0];
    this.#set.holds.forEach(({ lowestIfStopped }, index) => {
      const weight = Math.exp(this.#logWeights[index]! - most);
      if (weight < 1e-6) return;
      sum += weight;
      const lowest = valueAt(lowestIfStopped, atS) + this.#bias[index]!;
      below += weight * normalBelow((shownAsFloor(floorPercent) - lowest) / spread);
    });
    return below / sum;
  }

  /** Logarithms of weights for the person's next hold: each thinkable hold by how well its person did in this one. */
  carried(): number[] {
    const best = new Map<number, number>();
    this.#set.holds.forEach(({ person, laterS }, index) => {
      const key = person * 100 + laterS;
      best.set(key, Math.max(best.get(key) ?? Number.NEGATIVE_INFINITY, this.#logWeights[index]!));
    });
    const most = [...best.values()].reduce((one, other) => Math.max(one, other), Number.NEGATIVE_INFINITY);
    return this.#set.holds.map(
      ({ person, laterS }) => carriedShare * Math.max(-12, best.get(person * 100 + laterS)! - most),
    );
  }
}

/** By second of the hold, from each reading on: the chance if breathing began a reaction later. */
export interface ChanceCourse {
  readonly atS: number;
  readonly chance: number;
}

/** What this forecaster would have said in each hold of a session. Without `isRemembered` each hold is its athlete's first. */
export function chancesIn(
  set: ThinkableSet,
  readings: readonly Reading[],
  holds: readonly PlannedHold[],
  floorPercent: number,
  isRemembered: boolean,
): ChanceCourse[][] {
  let carried: number[] | undefined;
  return holds.map(({ startS, endS }) => {
    const forecaster = new ThinkingForecaster(set, carried);
    const chances = readings
      .filter(({ atS }) => atS >= startS && atS <= endS)
      .map(({ atS, percent }) => {
        forecaster.push({ atS: atS - startS, percent });
        const heldS = atS - startS;
        return { atS: heldS, chance: forecaster.chanceBelow(heldS + obeyingReactionS, floorPercent) };
      });
    if (isRemembered) carried = forecaster.carried();
    return chances;
  });
}
