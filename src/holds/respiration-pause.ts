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
  return spanOf(low, high);
};

function spanOf(low: readonly number[], high: readonly number[]): number {
  let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  for (let i = 0; i < low.length; i += 1) {
    if (low[i]! < least) least = low[i]!;
    if (high[i]! > most) most = high[i]!;
  }
  return most - least;
}

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

/** A gap in a breathing channel no longer than this may lie within one stillness. Our choice. */
const longestGapRows = 20;
/**
 * So many rows beside a gap show stillness, where a whole window on its other side does: the swing of 6 breaths a minute within five
 * is more than still even at its turning points. Worked out for sines.
 */
const besideGapRows = 5;

interface PauseStream {
  /** How likely the airway has been closed, 0 to 1. */
  push(row: SecondRow): number | undefined;
  /** Do these rows, fewer than a window, lie as still as a held breath beside this person's own breaths? */
  liesStill(rows: readonly SecondRow[]): boolean;
}

/**
 * Says of each row, as it comes, how likely the airway has been closed by the breathing channel: 0 to 1, undefined while it
 * cannot tell (no channel, too little of it). Looks back only: a hold is seen `windowRows` after its start. Bounded memory.
 */
export function createRespirationPause(): (row: SecondRow) => number | undefined {
  const stream = createPauseStream();
  return (row) => stream.push(row);
}

function createPauseStream(): PauseStream {
  let pause = new RespirationPause();
  let sensor = 0;
  return {
    push(row) {
      if (row.respirationSensor !== undefined && row.respirationSensor !== sensor) {
        // Another sensor: how far a breath moves it is to be learnt anew.
        sensor = row.respirationSensor;
        pause = new RespirationPause();
      }
      return pause.push(row);
    },
    liesStill: (rows) => pause.liesStill(rows),
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

  liesStill(rows: readonly SecondRow[]): boolean {
    const means = rows.map(({ respiration = Number.NaN }) => respiration);
    const lows = rows.map(({ respirationLow }, i) => respirationLow ?? means[i]!);
    const highs = rows.map(({ respirationHigh }, i) => respirationHigh ?? means[i]!);
    return (
      !this.#hasMoved &&
      spanOf(means, means) < stillShare * this.#usual &&
      spanOf(lows, highs) < quickStillShare * this.#usualQuick
    );
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
  const { causal, besideGaps } = judged(rows);
  return Float64Array.from(rows, (_, i) => {
    // A row is still when any window that holds it is: the window that ends with it, and those after it.
    let closed = besideGaps.get(i) ?? Number.NaN;
    for (let k = i; k < Math.min(rows.length, i + windowRows); k++) {
      const p = causal[k];
      if (p !== undefined) closed = Number.isNaN(closed) ? p : Math.max(closed, p);
    }
    return Number.isNaN(closed) ? Number.NaN : bandLogOdds * (2 * closed - 1);
  });
}

/**
 * Each row by the window that ends with it. `besideGaps`: rows next to a gap that no whole window holds, because the gap broke into
 * it, and that lie still as the whole windows on its other side do. Without them a gap soon after a hold's start, or shortly before
 * its end, would be taken for breathing, and the hold for that much shorter.
 */
function judged(rows: readonly SecondRow[]): {
  readonly causal: readonly (number | undefined)[];
  readonly besideGaps: ReadonlyMap<number, number>;
} {
  const stream = createPauseStream();
  const besideGaps = new Map<number, number>();
  const causal: (number | undefined)[] = [];
  const isKnown = (i: number): boolean => Number.isFinite(rows[i]?.respiration);
  let gap: Gap | undefined;
  for (let i = 0; i < rows.length; i += 1) {
    if (i > 0 && isKnown(i - 1) && !isKnown(i) && rows[i]!.respiration !== undefined) {
      const from = stillFrom(rows, i, isKnown, stream);
      gap = { at: i, ends: i, before: causal[i - 1] ?? 0, still: { from, to: i } };
    }
    causal.push(stream.push(rows[i]!));
    if (gap === undefined) continue;
    if (!isKnown(i) && i === gap.ends) gap.ends = i + 1;
    const since = i + 1 - gap.ends;
    if (gap.ends - gap.at > longestGapRows || since > windowRows) gap = undefined;
    else if (since > 0) takeBeside(gap, rows, i, causal[i], stream, besideGaps);
  }
  return { causal, besideGaps };
}

interface Gap {
  readonly at: number;
  ends: number;
  /** What the window that ended with it said. */
  readonly before: number;
  /** Rows up to the gap that lie still. */
  readonly still: { readonly from: number; readonly to: number };
}

/** Where the stillness up to row `end` begins; `end` itself where it is too short to be one. */
function stillFrom(
  rows: readonly SecondRow[],
  end: number,
  isKnown: (i: number) => boolean,
  stream: PauseStream,
): number {
  let from = end;
  while (
    from > 0 &&
    end - from < windowRows &&
    isKnown(from - 1) &&
    stream.liesStill(rows.slice(from - 1, end))
  )
    from -= 1;
  return end - from >= besideGapRows ? from : end;
}

/** `i`: a row soon after the gap, `now` what the window that ends with it says. */
function takeBeside(
  gap: Gap,
  rows: readonly SecondRow[],
  i: number,
  now: number | undefined,
  stream: PauseStream,
  besideGaps: Map<number, number>,
): void {
  if (now !== undefined && now >= 0.5) {
    for (let row = gap.still.from; row < gap.still.to; row += 1) besideGaps.set(row, now);
  } else if (now === undefined && gap.before >= 0.5 && i + 1 - gap.ends >= besideGapRows) {
    if (!stream.liesStill(rows.slice(gap.ends, i + 1))) return;
    for (let row = gap.ends; row <= i; row += 1) besideGaps.set(row, gap.before);
  }
}
