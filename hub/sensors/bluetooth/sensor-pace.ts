// How often a sensor does something, learnt from when it did: sends a reading, or advertises. Pure.

export interface Pace {
  readonly lastAtMs: number;
  /** The newest distances between two times, oldest first. */
  readonly gapsMs: readonly number[];
}

export const unknownPace: Pace = { lastAtMs: Number.NEGATIVE_INFINITY, gapsMs: [] };

const keptGaps = 5;
/** Fewer tell nothing yet. */
const leastGaps = 3;

/**
 * Takes the next time. Times less than `leastGapMs` apart count as one: a burst, or an advertisement and its answer.
 * A gap longer than `longestGapMs` is an absence, not a pace.
 */
export function stepPace(pace: Pace, atMs: number, leastGapMs: number, longestGapMs: number): Pace {
  const gapMs = atMs - pace.lastAtMs;
  if (gapMs < leastGapMs) return pace;
  if (gapMs > longestGapMs) return { lastAtMs: atMs, gapsMs: [] };
  return { lastAtMs: atMs, gapsMs: [...pace.gapsMs.slice(1 - keptGaps), gapMs] };
}

/** The usual gap: the second longest of the last few, so that one lost packet does not count; null while unknown. */
export function usualGapMs(pace: Pace): number | null {
  if (pace.gapsMs.length < leastGaps) return null;
  return pace.gapsMs.toSorted((a, b) => b - a)[1]!;
}

/** The shortest gap seen, which some overheard advertisements cannot lengthen; null before two were heard. */
export const shortestGapMs = (pace: Pace): number | null =>
  pace.gapsMs.length === 0 ? null : Math.min(...pace.gapsMs);
