// How far a hold's boundary may be moved by hand: holds stay ordered, apart and inside the recording. Pure.

import type { HoldView } from '../../shared/views.ts';
import { shortestCorrectedHoldMs } from '../../src/sessions/apply-corrections.ts';

export interface Limits {
  readonly leastMs: number;
  readonly greatestMs: number;
}

type Span = Pick<HoldView, 'start' | 'end'>;

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
  let best: { fromMs: number; toMs: number } | null = null;
  let at = from;
  const consider = (untilMs: number) => {
    if (
      untilMs - at >= 4 * shortestCorrectedHoldMs &&
      (best === null || untilMs - at > best.toMs - best.fromMs)
    )
      best = { fromMs: at, toMs: untilMs };
  };
  for (const { start, end } of holds) {
    const endMs = end?.atMs ?? durationMs;
    if (endMs <= from || start.atMs >= to) continue;
    consider(start.atMs);
    at = Math.max(at, endMs);
  }
  consider(to);
  const found = best as { fromMs: number; toMs: number } | null;
  if (found === null) return null;
  const quarter = (found.toMs - found.fromMs) / 4;
  return { startMs: Math.round(found.fromMs + quarter), endMs: Math.round(found.toMs - quarter) };
}
