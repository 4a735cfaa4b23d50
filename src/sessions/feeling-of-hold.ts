// Which hold a person spoke of: what was said of a hold as it was seen live belongs to the hold found again later
// that shares most of its time, since its edges may have moved and its id may be another.

import type { HoldFeeling, HoldView } from '../../shared/views.ts';

interface Span {
  readonly startMs: number;
  readonly endMs: number;
}

/** What was said of the live hold that covers at least half of the shorter of the two; undefined when nothing was. */
export function feelingOfHold(span: Span, liveHolds: readonly HoldView[]): HoldFeeling | undefined {
  let best: { readonly sharedMs: number; readonly feeling: HoldFeeling } | undefined;
  for (const { start, end, feeling } of liveHolds) {
    if (feeling === undefined || end === null) continue;
    const sharedMs = Math.min(span.endMs, end.atMs) - Math.max(span.startMs, start.atMs);
    const shorterMs = Math.min(span.endMs - span.startMs, end.atMs - start.atMs);
    if (sharedMs <= 0 || sharedMs * 2 < shorterMs) continue;
    if (best === undefined || sharedMs > best.sharedMs) best = { sharedMs, feeling };
  }
  return best?.feeling;
}
