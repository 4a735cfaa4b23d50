// How far a hold's readings go their own way beside the curves of the family: an error of level and slope that drifts, told apart
// from the oximeter's own noise by a Kalman filter (Kalman 1960). All curves share its gains; each has its own errors.

/**
 * Spread of the error of a curve's slope, in % per second, and how many seconds it stays: no curve is right for a whole hold. Our
 * choice, after seeds 1 to 4 of the foreign generators (SIMULATED): with 0.045 and 25 s the 80 % interval held the truth in 90 and
 * 96 of 100, with these in some 82 and 93; narrower ones keep too few floors of who is known.
 */
const slopeSpread = 0.03;
const slopeStaysS = 40;
/** Spread of the error of level when a hold begins, points: what the resting reading leaves open. Our choice. */
const levelSpread = 0.5;
/** An oximeter's noise: its spread in points (our choice), and how long it stays, by averaging over 3 to 21 s (reference 4.04). */
const noiseSpread = 0.35;
const noiseStaysS = 8;
/** Variance of one reading alone: rounding to whole percents, and a little besides. */
const roundingVariance = 1 / 12;
const besidesVariance = 0.02;
/** An error beyond so many spreads is heeded as one of so many: a movement moves nothing far. Our choice. */
const mostHeeded = 3;
const leastTrust = 0.05;

/** What so many seconds after the newest reading come to for each curve: kept, because they rest on its lag alone. */
interface Later {
  aheadS: number;
  /** By how much its slope's error has then moved the level. */
  readonly bySlope: Float64Array;
  /** The variance that the level has gained besides. */
  readonly gained: Float64Array;
}

const createLater = (curveCount: number): Later => ({
  aheadS: Number.NaN,
  bySlope: new Float64Array(curveCount),
  gained: new Float64Array(curveCount),
});

export class MisfitFilter {
  readonly #level: Float64Array;
  readonly #slope: Float64Array;
  readonly #noise: Float64Array;
  readonly #slopeVariance: number;
  /** Of the two times that one answer asks for: now, and a reaction later. */
  readonly #laters: readonly [Later, Later];
  #nextLater: 0 | 1 = 0;
  #lastS: number | undefined;
  /** Covariances of level, slope and noise. */
  #levelLevel = 0;
  #levelSlope = 0;
  #slopeSlope = 0;
  #levelNoise = 0;
  #slopeNoise = 0;
  #noiseNoise = 0;
  /** Of the newest reading: what its error tells of each, its spread, and what the seconds before it changed. */
  #gains = { level: 0, slope: 0, noise: 0 };
  spread = 1;
  #carried = { levelBySlope: 0, slope: 1, noise: 1 };

  /** `slopeFactor` multiplies the spread of the slope's error. */
  constructor(curveCount: number, slopeFactor: number) {
    this.#level = new Float64Array(curveCount);
    this.#slope = new Float64Array(curveCount);
    this.#noise = new Float64Array(curveCount);
    this.#slopeVariance = (slopeSpread * slopeFactor) ** 2;
    this.#laters = [createLater(curveCount), createLater(curveCount)];
    this.forget();
  }

  /** As before any reading. */
  forget(): void {
    this.#level.fill(0);
    this.#slope.fill(0);
    this.#noise.fill(0);
    this.#lastS = undefined;
    this.#levelLevel = levelSpread ** 2;
    this.#slopeSlope = this.#slopeVariance;
    this.#noiseNoise = noiseSpread ** 2;
    this.#levelSlope = this.#levelNoise = this.#slopeNoise = 0;
    this.lagsChanged();
  }

  /** The curves' lags are others than before. */
  lagsChanged(): void {
    for (const later of this.#laters) later.aheadS = Number.NaN;
  }

  /** Before the curves hear of a reading that stands for `spanS` seconds and counts `trust` (0 to 1). */
  expect(atS: number, spanS: number, trust: number): void {
    this.#passTime(Math.max(0, atS - (this.#lastS ?? atS)));
    this.#lastS = atS;
    const own =
      (roundingVariance / Math.max(1, spanS) + besidesVariance) / Math.max(leastTrust, trust * trust);
    const variance = this.#levelLevel + this.#noiseNoise + 2 * this.#levelNoise + own;
    this.spread = Math.sqrt(variance);
    const level = this.#levelLevel + this.#levelNoise;
    const slope = this.#levelSlope + this.#slopeNoise;
    const noise = this.#levelNoise + this.#noiseNoise;
    this.#gains = { level: level / variance, slope: slope / variance, noise: noise / variance };
    this.#levelLevel -= this.#gains.level * level;
    this.#levelSlope -= this.#gains.level * slope;
    this.#levelNoise -= this.#gains.level * noise;
    this.#slopeSlope -= this.#gains.slope * slope;
    this.#slopeNoise -= this.#gains.slope * noise;
    this.#noiseNoise -= this.#gains.noise * noise;
  }

  #passTime(seconds: number): void {
    const slopeFade = fadeIn(seconds);
    const noiseFade = Math.exp(-seconds / noiseStaysS);
    const levelBySlope = levelBySlopeOf(slopeFade);
    this.#carried = { levelBySlope, slope: slopeFade, noise: noiseFade };
    const fresh = this.#slopeVariance;
    this.#levelLevel +=
      2 * levelBySlope * this.#levelSlope +
      levelBySlope ** 2 * this.#slopeSlope +
      fresh * wandered(seconds, slopeFade);
    this.#levelSlope =
      slopeFade * (this.#levelSlope + levelBySlope * this.#slopeSlope) +
      fresh * slopeStaysS * (1 - slopeFade) ** 2;
    this.#slopeSlope = slopeFade ** 2 * this.#slopeSlope + fresh * (1 - slopeFade ** 2);
    this.#levelNoise = noiseFade * (this.#levelNoise + levelBySlope * this.#slopeNoise);
    this.#slopeNoise *= slopeFade * noiseFade;
    this.#noiseNoise = noiseFade ** 2 * this.#noiseNoise + noiseSpread ** 2 * (1 - noiseFade ** 2);
  }

  /** One curve hears the reading: `off` is the reading less what the curve shows. Answers by how many spreads it surprised. */
  hear(index: number, off: number): number {
    const { levelBySlope, slope: slopeFade, noise: noiseFade } = this.#carried;
    const level = this.#level[index]! + levelBySlope * this.#slope[index]!;
    const slope = slopeFade * this.#slope[index]!;
    const noise = noiseFade * this.#noise[index]!;
    const error = off - level - noise;
    const most = mostHeeded * this.spread;
    const heeded = Math.max(-most, Math.min(most, error));
    this.#level[index] = level + this.#gains.level * heeded;
    this.#slope[index] = slope + this.#gains.slope * heeded;
    this.#noise[index] = noise + this.#gains.noise * heeded;
    return error / this.spread;
  }

  /** How far off a curve will be so many seconds after the newest reading, points. */
  ahead(index: number, aheadS: number): number {
    return this.#level[index]! + levelBySlopeOf(fadeIn(aheadS)) * this.#slope[index]!;
  }

  /** Spread of that, points. */
  spreadAhead(aheadS: number): number {
    const fade = fadeIn(aheadS);
    return this.#spreadOf(levelBySlopeOf(fade), this.#slopeVariance * wandered(aheadS, fade));
  }

  /** Writes both for every curve, each so much later as its lag is, from `shifts[from]` and `spreads[from]` on. */
  aheadInto(
    aheadS: number,
    lagS: Float64Array,
    shifts: Float64Array,
    spreads: Float64Array,
    from: number,
  ): void {
    const { bySlope, gained } = this.#laterBy(aheadS, lagS);
    const level = this.#level;
    const slope = this.#slope;
    for (let index = 0; index < level.length; index++) {
      shifts[from + index] = level[index]! + bySlope[index]! * slope[index]!;
      spreads[from + index] = this.#spreadOf(bySlope[index]!, gained[index]!);
    }
  }

  /** An answer asks for the same seconds at every reading, and exponentials are most of what they cost. */
  #laterBy(aheadS: number, lagS: Float64Array): Later {
    for (let i = 0; i < this.#laters.length; i++) {
      const known = this.#laters[i]!;
      if (known.aheadS === aheadS) return known;
    }
    const later = this.#laters[this.#nextLater];
    this.#nextLater = this.#nextLater === 0 ? 1 : 0;
    later.aheadS = aheadS;
    for (let index = 0; index < lagS.length; index++) {
      const ownS = aheadS + lagS[index]!;
      const fade = fadeIn(ownS);
      later.bySlope[index] = levelBySlopeOf(fade);
      later.gained[index] = this.#slopeVariance * wandered(ownS, fade);
    }
    return later;
  }

  /** Spread of how far off a curve will be. */
  #spreadOf(levelBySlope: number, gained: number): number {
    const variance =
      this.#levelLevel +
      2 * levelBySlope * this.#levelSlope +
      levelBySlope * levelBySlope * this.#slopeSlope +
      gained;
    return Math.sqrt(Math.max(0.01, variance));
  }
}

/** What is left of a slope's error after so many seconds, and by how much it has then moved the level. */
const fadeIn = (seconds: number): number => Math.exp(-seconds / slopeStaysS);
const levelBySlopeOf = (fade: number): number => slopeStaysS * (1 - fade);

/** Variance a level gains in some seconds by a slope of unit variance that it began without (integrated Ornstein-Uhlenbeck process). */
const wandered = (seconds: number, fade: number): number =>
  Math.max(0, slopeStaysS * slopeStaysS * ((2 * seconds) / slopeStaysS - 3 + 4 * fade - fade * fade));
