// Which saturation readings count as a hold's own when its lowest is asked for, live and afterwards: one rule, so that one
// number is shown wherever it is. MEASURES.md says it too (`spo2LowestPercent`).

import type { Sample } from '../samples/sample.ts';

/** What a finger shows before that was breathed before the hold. A choice. */
const fromStartMs = 10_000;
/** Finger saturation trails the lungs by up to 40 s and more (3.23-3.27), so its lowest comes late. */
const afterEndMs = 60_000;
/** For the same reason the first seconds of the hold after still show this one. A choice, as above. */
const intoNextMs = 10_000;

/** The boundaries that matter, session time; infinite where there is none. */
export interface HoldBetween {
  readonly startMs: number;
  /** The end; of a hold under way or cut off, infinity. */
  readonly endMs: number;
  /** The start of the hold after. */
  readonly nextStartMs: number;
}

/** The last moment whose reading is this hold's. */
export const belongsUntilMs = ({ endMs, nextStartMs }: Omit<HoldBetween, 'startMs'>): number =>
  Math.min(endMs + afterEndMs, nextStartMs + intoNextMs);

/** Whether a reading can be the hold's lowest: usable, and neither breathed before the hold nor of the next. */
export const countsForLowest = (
  { channel, quality, atMs }: Pick<Sample, 'channel' | 'quality' | 'atMs'>,
  hold: HoldBetween,
): boolean =>
  channel === 'spo2Percent' &&
  quality === 'good' &&
  atMs >= hold.startMs + fromStartMs &&
  atMs <= belongsUntilMs(hold);
