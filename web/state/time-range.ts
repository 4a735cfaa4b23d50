// The stretch of a recording that is shown, and how zooming and moving change it. Pure; seconds throughout.

export interface TimeRange {
  readonly fromSeconds: number;
  readonly toSeconds: number;
}

/** Closer than this a one-per-second signal is a handful of dots. */
export const leastWidthSeconds = 10;

/** Keeps the range inside the whole and no narrower than the least width, moving it rather than cutting it. */
export function fitRange(range: TimeRange, whole: TimeRange): TimeRange {
  const wholeWidth = Math.max(leastWidthSeconds, whole.toSeconds - whole.fromSeconds);
  const width = Math.min(wholeWidth, Math.max(leastWidthSeconds, range.toSeconds - range.fromSeconds));
  const fromSeconds = Math.min(
    Math.max(range.fromSeconds, whole.fromSeconds),
    whole.fromSeconds + wholeWidth - width,
  );
  return { fromSeconds, toSeconds: fromSeconds + width };
}

/** Zooms by `factor` (below 1 is closer) so that the time at `anchorSeconds` stays where it is. */
export function zoomRange(
  range: TimeRange,
  factor: number,
  anchorSeconds: number,
  whole: TimeRange,
): TimeRange {
  const width = range.toSeconds - range.fromSeconds;
  const wholeWidth = Math.max(leastWidthSeconds, whole.toSeconds - whole.fromSeconds);
  const newWidth = Math.min(wholeWidth, Math.max(leastWidthSeconds, width * factor));
  const share = width > 0 ? (anchorSeconds - range.fromSeconds) / width : 0.5;
  const fromSeconds = anchorSeconds - share * newWidth;
  return fitRange({ fromSeconds, toSeconds: fromSeconds + newWidth }, whole);
}

/** Moves by seconds; later is positive. */
export function moveRange(range: TimeRange, bySeconds: number, whole: TimeRange): TimeRange {
  return fitRange(
    { fromSeconds: range.fromSeconds + bySeconds, toSeconds: range.toSeconds + bySeconds },
    whole,
  );
}

/** Zooms round the middle. */
export const zoomMiddle = (range: TimeRange, factor: number, whole: TimeRange): TimeRange =>
  zoomRange(range, factor, (range.fromSeconds + range.toSeconds) / 2, whole);

/** Moves by a share of the width that is shown. */
const moveByShare = (range: TimeRange, share: number, whole: TimeRange): TimeRange =>
  moveRange(range, share * (range.toSeconds - range.fromSeconds), whole);

const keyActions: Readonly<Record<string, (range: TimeRange, whole: TimeRange) => TimeRange>> = {
  ArrowLeft: (range, whole) => moveByShare(range, -0.15, whole),
  ArrowRight: (range, whole) => moveByShare(range, 0.15, whole),
  '+': (range, whole) => zoomMiddle(range, 0.7, whole),
  '=': (range, whole) => zoomMiddle(range, 0.7, whole),
  '-': (range, whole) => zoomMiddle(range, 1 / 0.7, whole),
  '0': (_range, whole) => whole,
  Home: (range, whole) => moveByShare(range, -1e6, whole),
  End: (range, whole) => moveByShare(range, 1e6, whole),
};

/** What a key makes of the range; null for keys that do nothing to it. */
export const rangeAfterKey = (key: string, range: TimeRange, whole: TimeRange): TimeRange | null =>
  Object.hasOwn(keyActions, key) ? keyActions[key]!(range, whole) : null;
