// The sign of breathing on which a hold that a person marked as begun counts as probably over: clear, lasting, and never the
// mere lack of signs of a hold. Two kinds: breathing seen by signals that show it, and a saturation that fell and is back.

import type { SecondRow } from '../signal/second-rows.ts';

/** Breathing must be seen without a break for this long, rows. A choice: a phase of contractions or movement is shorter. */
const breathingRows = 30;
/** The airway counts as open in a row below this probability. A choice. */
const openBelow = 0.15;
/** From here on a row speaks for a hold again. */
const closedFrom = 0.5;

/**
 * Saturation falls so far, points, and comes back by as much: it cannot rise while nobody breathes. A choice, above noise,
 * rounding and drift of the display.
 */
const fallPercent = 5;
/**
 * What blood does takes time; a finger that moves jumps. A second's step of more than this on the way down, or a low of
 * fewer rows than this, is movement. The steepest published fall is 0.35 %/s (reference 2.29 and 3.11); a choice beside it.
 */
const mostStepPercent = 2;
const lowRows = 8;
/** Back for this long, rows. A choice: longer than most movements. */
const backRows = 20;
/** So much of the rise may be lost again while it counts as back. */
const lostAgainPercent = 2;

export type BreathingSign = 'breathing' | 'saturationBack';

export interface BreathingSigns {
  /**
   * Takes a row of the hold; `closed` is the probability that the airway is closed, `canTell` whether these signals show
   * breathing, and have shown the hold too. Returns the sign that stands.
   */
  push(row: SecondRow, closed: number, canTell: boolean): BreathingSign | undefined;
  /** Where the saturation was lowest, ms; for a hold that ends by it. */
  readonly lowestAtMs: number | undefined;
}

/** Makes a watch for one hold from its beginning. Constant memory. */
export function createBreathingSigns(): BreathingSigns {
  const saturation = createSaturationBack();
  let openRows = 0;
  return {
    push(row, closed, canTell) {
      if (!canTell || closed >= closedFrom) openRows = 0;
      // Between the two it neither grows nor is lost, once it stands.
      else if (closed < openBelow) openRows += 1;
      else if (openRows < breathingRows) openRows = 0;
      const isBack = saturation.push(row.atMs, row.spo2Percent);
      if (openRows >= breathingRows) return 'breathing';
      // A signal that shows breathing, and sees none, outweighs the finger.
      return isBack && !(canTell && closed >= closedFrom) ? 'saturationBack' : undefined;
    },
    get lowestAtMs() {
      return saturation.lowestAtMs;
    },
  };
}

/** True while saturation is back from a fall that took its time. */
function createSaturationBack() {
  let before = Number.NaN;
  let height = Number.NEGATIVE_INFINITY;
  let lowest = Number.POSITIVE_INFINITY;
  let lowestAtMs: number | undefined;
  let rowsLow = 0;
  let rowsBack = 0;
  let highestBack = Number.NEGATIVE_INFINITY;
  const begin = (percent: number): void => {
    height = percent;
    lowest = percent;
    lowestAtMs = undefined;
    rowsLow = 0;
    rowsBack = 0;
    highestBack = Number.NEGATIVE_INFINITY;
  };
  return {
    push(atMs: number, percent: number): boolean {
      if (Number.isNaN(percent)) {
        // What happened unseen may have been a jump.
        before = Number.NaN;
        if (rowsBack === 0) begin(Number.NEGATIVE_INFINITY);
        return rowsBack >= backRows;
      }
      const fellBy = before - percent;
      before = percent;
      if (fellBy > mostStepPercent || height === Number.NEGATIVE_INFINITY) {
        begin(percent);
        return false;
      }
      if (percent > height && rowsLow === 0) height = percent;
      if (percent < lowest) {
        lowest = percent;
        lowestAtMs = atMs;
        rowsBack = 0;
        highestBack = Number.NEGATIVE_INFINITY;
      }
      if (height - percent >= fallPercent) rowsLow += 1;
      const isUp = rowsLow >= lowRows && percent - lowest >= fallPercent;
      if (isUp) {
        rowsBack += 1;
        highestBack = Math.max(highestBack, percent);
      } else if (highestBack - percent > lostAgainPercent) {
        rowsBack = 0;
        highestBack = Number.NEGATIVE_INFINITY;
      }
      return rowsBack >= backRows;
    },
    get lowestAtMs() {
      return lowestAtMs;
    },
  };
}
