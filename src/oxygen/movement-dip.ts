// Readings that fell at once, as no blood does: a movement or a slipping probe. For some seconds they tell a hold's curves nothing; the
// forecast goes on from before. The floor alarm does not ask here.

/** So far down, so fast, is no fall in the blood. Our choice: the steepest falls are of some 1 % a second (emptied lungs), and are averaged over 3 s and more (reference 4.04). */
const leastDropPercent = 3;
const leastDropPerS = 2;
/** A low that lasts longer is heeded. Our choice: a slipped probe is felt or comes back, and a fall while it lies is foreseen from before. */
const longestS = 12;
/** Meanwhile the blood may have fallen so fast. A reading this near to where that leads is heeded. */
const meanwhilePerS = 0.4;
const nearPercent = 1;
/** After a dip none is believed for so long: of two oximeters, one that shows less would never be heard. */
const trustedAfterS = 30;

export interface MovementDip {
  /** Takes in the next reading in time order and says whether it is of such a dip. */
  isOfDip(atMs: number, percent: number): boolean;
}

export function createMovementDip(): MovementDip {
  let last: { readonly atMs: number; readonly percent: number } | undefined;
  /** Where the reading stood before a dip, while it lasts. */
  let before: { readonly atMs: number; readonly percent: number } | undefined;
  let endedMs = Number.NEGATIVE_INFINITY;
  const begins = (atMs: number, percent: number): boolean => {
    if (last === undefined || atMs - endedMs < trustedAfterS * 1_000) return false;
    const drop = last.percent - percent;
    // Readings of one moment, or a little late, are of the second that they stand for.
    return drop >= leastDropPercent && drop >= (leastDropPerS * Math.max(1_000, atMs - last.atMs)) / 1_000;
  };
  return {
    isOfDip(atMs, percent) {
      if (before === undefined && begins(atMs, percent)) before = last;
      last = { atMs, percent };
      if (before === undefined) return false;
      const sinceS = (atMs - before.atMs) / 1_000;
      const isLow = percent < before.percent - nearPercent - meanwhilePerS * sinceS;
      if (isLow && sinceS <= longestS) return true;
      before = undefined;
      endedMs = atMs;
      return false;
    },
  };
}
