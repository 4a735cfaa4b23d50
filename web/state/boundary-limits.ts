// How far a hold's boundary may be moved by hand: holds stay ordered, apart and inside the recording. Pure.

import { shortestCorrectedHoldMs } from '../../src/sessions/apply-corrections.ts';

export interface Limits {
  readonly leastMs: number;
  readonly greatestMs: number;
}

interface Span {
  readonly start: { readonly atMs: number };
  readonly end: { readonly atMs: number } | null;
}

/** `holds` in time order; `index` says whose boundary. */
export function boundaryLimits(
  holds: readonly Span[],
  index: number,
  boundary: 'start' | 'end',
  durationMs: number,
): Limits {
  const hold = holds[index]!;
  if (boundary === 'start')
    return {
      leastMs: holds[index - 1]?.end?.atMs ?? 0,
      greatestMs: (hold.end?.atMs ?? durationMs) - shortestCorrectedHoldMs,
    };
  return {
    leastMs: hold.start.atMs + shortestCorrectedHoldMs,
    greatestMs: holds[index + 1]?.start.atMs ?? durationMs,
  };
}

export const withinLimits = (atMs: number, { leastMs, greatestMs }: Limits): number =>
  Math.round(Math.min(greatestMs, Math.max(leastMs, atMs)));

/** The middle half of what is free round the middle of a range, for a new hold; null where nothing is free. */
export function freeSpan(
  holds: readonly Span[],
  fromMs: number,
  toMs: number,
  durationMs: number,
): { startMs: number; endMs: number } | null {
  const from = Math.max(0, fromMs);
  const to = Math.min(durationMs, toMs);
  const free: { readonly fromMs: number; readonly lengthMs: number }[] = [];
  let at = from;
  for (const { start, end } of holds) {
    const endMs = end?.atMs ?? durationMs;
    if (endMs <= from || start.atMs >= to) continue;
    free.push({ fromMs: at, lengthMs: start.atMs - at });
    at = Math.max(at, endMs);
  }
  free.push({ fromMs: at, lengthMs: to - at });
  // The first of several that are as long.
  const longest = free.reduce((best, each) => (each.lengthMs > best.lengthMs ? each : best));
  if (longest.lengthMs < 4 * shortestCorrectedHoldMs) return null;
  const quarter = longest.lengthMs / 4;
  return {
    startMs: Math.round(longest.fromMs + quarter),
    endMs: Math.round(longest.fromMs + longest.lengthMs - quarter),
  };
}
