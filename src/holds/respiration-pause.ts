// Where a breathing channel is worn (a chest band, an accelerometer), it decides: a hold is where it lies still beside
// this person's own breaths. A rule, so that it can be read; no recording with a band and long holds was at hand to learn from.

import type { SecondRow } from '../signal/second-rows.ts';

/** A breath shows within this many rows: 6 breaths a minute take ten seconds each, and pressing is not breathing. */
const windowRows = 8;
/** Of which so many must be known: a lost packet ends nothing. */
const knownRows = 6;
/** Still is less than this share of the usual swing. Contractions of the diaphragm move a band far less than a breath. */
const stillShare = 0.3;
/** The same of half seconds, in which panting shows that whole ones smooth away, and the heart somewhat. */
const quickStillShare = 0.35;
/** The usual swing is the middle one of the last this many rows. */
const usualRows = 600;
const learnRows = 30;
/**
 * Breaths of one posture differ by less than this from their middle one. Where a tenth of the rows went beyond it the person
 * was moving, and stillness must show for longer, and without a rhythm. Our choices, tried on real belts and pressures.
 */
const movingRatio = 3;
const movingShare = 0.1;
const afterMotionRows = 20;
/** Where the stir within seconds is more than this share of the swing, the person is walking or the like: no breath to learn from. */
const walkingShare = 0.3;
const walkingMemoryRows = 120;
const walkedShare = 0.2;
/** Stillness that comes and goes with a breath's rhythm is shallow breathing. */
const rhythm = 0.6;
const rhythmLags = { least: 2, most: 9 } as const;

const rangeOf = (low: readonly number[], high: readonly number[]): number => {
  const known = low.filter((value) => !Number.isNaN(value)).length;
  if (known < knownRows) return Number.NaN;
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let i = 0; i < low.length; i += 1) {
    if (low[i]! < least) least = low[i]!;
    if (high[i]! > most) most = high[i]!;
  }
  return most - least;
};

/** One half at the limit; steep, for a breath is several times what stillness is. */
const closedBy = (ratio: number): number => 1 / (1 + ratio ** 6);

/** The greatest likeness of a stretch with itself some rows later, 0 to 1. */
function rhythmOf(values: readonly number[]): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const own = values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length;
  if (!(own > 0)) return 0;
  let best = 0;
  // A slow drift is like itself at any lag: what counts is a rise after a dip.
  let dip = 1;
  for (let lag = 1; lag <= rhythmLags.most; lag += 1) {
    let sum = 0;
    for (let i = lag; i < values.length; i += 1) sum += (values[i]! - mean) * (values[i - lag]! - mean);
    const likeness = sum / (values.length - lag) / own;
    if (lag >= rhythmLags.least && dip < 0.2) best = Math.max(best, likeness);
    dip = Math.min(dip, likeness);
  }
  return best;
}

/**
 * Says of each row, as it comes, how likely the airway has been closed by the breathing channel: 0 to 1, undefined while it
 * cannot tell (no channel, too little of it). Looks back only: a hold is seen `windowRows` after its start. Bounded memory.
 */
export function createRespirationPause(): (row: SecondRow) => number | undefined {
  let pause = new RespirationPause();
  let sensor = 0;
  return (row) => {
    if (row.respirationSensor !== undefined && row.respirationSensor !== sensor) {
      // Another sensor: how far a breath moves it is to be learnt anew.
      sensor = row.respirationSensor;
      pause = new RespirationPause();
    }
    return pause.push(row);
  };
}

class RespirationPause {
  readonly #means: number[] = [];
  readonly #lows: number[] = [];
  readonly #highs: number[] = [];
  readonly #stirs: number[] = [];
  #slow: number[] = [];
  #quick: number[] = [];
  #usual = Number.NaN;
  #usualQuick = Number.NaN;
  #moved = false;
  #seen = 0;
  #stillRows = 0;
  /** Share of the last minutes' rows in which the person walked or the like. */
  #walking = 0;

  push(row: SecondRow): number | undefined {
    const { respiration } = row;
    if (respiration === undefined) return undefined;
    this.#keep(respiration, row.respirationLow ?? respiration, row.respirationHigh ?? respiration);
    this.#stirs.push(row.respirationStir ?? 0);
    if (this.#stirs.length > windowRows) this.#stirs.shift();
    // Not known now: lost on the way, or no longer worn.
    if (this.#means.length < windowRows || Number.isNaN(respiration)) return undefined;
    const means = this.#means.slice(-windowRows);
    const swing = rangeOf(means, means);
    if (Number.isNaN(swing)) {
      this.#stillRows = 0;
      return undefined;
    }
    const quick = rangeOf(this.#lows, this.#highs);
    this.#seen += 1;
    const isStill = swing < stillShare * this.#usual && quick < quickStillShare * this.#usualQuick;
    this.#stillRows = isStill ? this.#stillRows + 1 : 0;
    const isShallow = isStill && this.#isRhythmic();
    // Stillness teaches nothing of how this person breathes, once that is known.
    const isWalking = this.#usualStir() > walkingShare * swing;
    this.#walking += ((!isStill && isWalking ? 1 : 0) - this.#walking) / walkingMemoryRows;
    if (isShallow || (!isStill && !isWalking)) this.#learn(swing, quick);
    if (this.#slow.length < learnRows || !(this.#usual > 0)) return undefined;
    if (isShallow) return 0;
    if (isStill && this.#hasMoved && this.#stillRows < afterMotionRows) return undefined;
    const slow = closedBy(swing / (stillShare * this.#usual));
    if (!(this.#usualQuick > 0)) return slow;
    // A jerk within half a second can be panting or a contraction: no hold begins in it, and none ends by it alone.
    return Math.min(slow, Math.max(0.5, closedBy(quick / (quickStillShare * this.#usualQuick))));
  }

  #keep(mean: number, low: number, high: number): void {
    this.#means.push(mean);
    this.#lows.push(low);
    this.#highs.push(high);
    if (this.#means.length > afterMotionRows) this.#means.shift();
    if (this.#lows.length > windowRows) {
      this.#lows.shift();
      this.#highs.shift();
    }
  }

  /** The middle one of the window, or 0 where it isn't known. */
  #usualStir(): number {
    const known = this.#stirs.filter((stir) => !Number.isNaN(stir)).sort((a, b) => a - b);
    return known[known.length >> 1] ?? 0;
  }

  get #hasMoved(): boolean {
    return this.#moved || this.#walking > walkedShare;
  }

  /** Asked only after motion: the diaphragm's contractions late in a hold have a rhythm too. */
  #isRhythmic(): boolean {
    if (!this.#hasMoved || this.#stillRows < afterMotionRows - windowRows) return false;
    const known = this.#means
      .slice(-this.#stillRows - windowRows + 1)
      .filter((value) => !Number.isNaN(value));
    return known.length >= afterMotionRows - windowRows && rhythmOf(known) > rhythm;
  }

  #learn(swing: number, quick: number): void {
    this.#slow.push(swing);
    this.#quick.push(quick);
    if (this.#slow.length > usualRows) {
      this.#slow = this.#slow.slice(-usualRows);
      this.#quick = this.#quick.slice(-usualRows);
    }
    if (this.#seen % 15 !== 0 && this.#seen >= 60) return;
    const sorted = this.#slow.toSorted((a, b) => a - b);
    this.#usual = sorted[sorted.length >> 1]!;
    this.#usualQuick = this.#quick.toSorted((a, b) => a - b)[this.#quick.length >> 1]!;
    const quiet = sorted[Math.floor(sorted.length / 4)]!;
    const beyond = sorted.filter((each) => each > movingRatio * quiet).length;
    this.#moved = beyond >= movingShare * sorted.length;
  }
}

/** Log odds a row's scores are given instead of the network's, so that the band decides. */
const bandLogOdds = 4;

/** Rows' log odds of a closed airway by the breathing channel, both sides in view; NaN where it cannot tell. */
export function respirationLogOdds(rows: readonly SecondRow[]): Float64Array {
  const pause = createRespirationPause();
  const causal = rows.map((row) => pause(row));
  return Float64Array.from(rows, (_, i) => {
    // A row is still when any window that holds it is: the window that ends with it, and those after it.
    let closed = Number.NaN;
    for (let k = i; k < Math.min(rows.length, i + windowRows); k++) {
      const p = causal[k];
      if (p !== undefined) closed = Number.isNaN(closed) ? p : Math.max(closed, p);
    }
    return Number.isNaN(closed) ? Number.NaN : bandLogOdds * (2 * closed - 1);
  });
}
