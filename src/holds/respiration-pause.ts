// Where a breathing channel is worn (a chest band, an accelerometer), it decides: a hold is where it lies still beside
// this person's own breaths. A rule, so that it can be read; no recording with a band and long holds was at hand to learn from.

import type { SecondRow } from '../signal/second-rows.ts';

/** A breath shows within this many rows: 6 breaths a minute take ten seconds each, and pressing is not breathing. */
const windowRows = 8;
/** Still is less than this share of the usual swing. Contractions of the diaphragm move a band far less than a breath. */
const stillShare = 0.3;
/** The usual swing is the middle one of the last this many rows. */
const usualRows = 600;

const rangeOf = (values: readonly number[]): number => {
  let low = Number.POSITIVE_INFINITY;
  let high = Number.NEGATIVE_INFINITY;
  for (const value of values) {
    if (Number.isNaN(value)) return Number.NaN;
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  return high - low;
};

/**
 * Says of each row, as it comes, how likely the airway has been closed by the breathing channel: 0 to 1, undefined while it
 * cannot tell (no channel, too little of it). Looks back only: a hold is seen `windowRows` after its start. Bounded memory.
 */
export function createRespirationPause(): (row: SecondRow) => number | undefined {
  const values: number[] = [];
  let swings: number[] = [];
  let usual = Number.NaN;
  let seen = 0;
  return (row) => {
    if (row.respiration === undefined) return undefined;
    values.push(row.respiration);
    if (values.length > windowRows) values.shift();
    if (values.length < windowRows) return undefined;
    const swing = rangeOf(values);
    if (Number.isNaN(swing)) return undefined;
    seen += 1;
    // Stillness teaches nothing of how this person breathes, once that is known.
    if (!(swing < stillShare * usual)) swings.push(swing);
    if (swings.length > usualRows) swings = swings.slice(-usualRows);
    if (seen % 15 === 0 || seen < 60) usual = [...swings].sort((a, b) => a - b)[swings.length >> 1]!;
    if (swings.length < 30 || !(usual > 0)) return undefined;
    // One half at the limit; steep, for a breath is several times what stillness is.
    return 1 / (1 + (swing / (stillShare * usual)) ** 6);
  };
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
