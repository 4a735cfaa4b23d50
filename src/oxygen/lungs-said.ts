// How full the lungs are, as people say it: each saying is of the hold under way, else of the next one, and of no other.

import type { HoldLungs } from '../../shared/schema-parts.ts';

/** A saying that no hold followed for so long is no longer heeded. Our choice: longer than any lead-in or recovery of a plan (30 min). */
const heededForMs = 2_700_000;

export interface LungsSaid {
  /** Undefined takes back what was said last. */
  say(atMs: number, lungs: HoldLungs | undefined): void;
  /** A hold ended: what was said before is used up. */
  ended(atMs: number): void;
  /** Of a hold that began at `startMs` and has been heard about until `untilMs`. */
  of(startMs: number, untilMs: number): HoldLungs | undefined;
  /** Of the next hold, if it began now. */
  next(nowMs: number): HoldLungs | undefined;
}

export function createLungsSaid(): LungsSaid {
  let sayings: { readonly atMs: number; readonly lungs: HoldLungs }[] = [];
  const of = (startMs: number, untilMs: number): HoldLungs | undefined =>
    sayings.findLast(({ atMs }) => atMs <= untilMs && atMs >= startMs - heededForMs)?.lungs;
  return {
    say(atMs, lungs) {
      if (lungs === undefined) sayings.pop();
      else sayings = [...sayings.slice(-9), { atMs, lungs }];
    },
    ended(endMs) {
      sayings = sayings.filter(({ atMs }) => atMs > endMs);
    },
    of,
    next: (nowMs) => of(nowMs, nowMs),
  };
}
