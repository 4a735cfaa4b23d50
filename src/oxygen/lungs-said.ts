// How full the lungs are, as people say it: each saying is of the hold under way, else of the next one, and of no other.

import type { HoldLungs } from '../../shared/schema-parts.ts';

/** A saying that no hold followed for so long is no longer heeded. Our choice: longer than any lead-in or recovery of a plan (30 min). */
const heededForMs = 2_700_000;
/**
 * Of a fall that nobody and no detector names it is heeded for less: who said it and rests would be called at falls of rest for all that time.
 * Our choice: longer than most recoveries between holds.
 */
const heededOfFallMs = 600_000;

export interface LungsSaid {
  /** Undefined takes back what was said last. */
  say(atMs: number, lungs: HoldLungs | undefined): void;
  /** A hold ended: what was said before is used up. */
  ended(atMs: number): void;
  /** Of a hold that began at `startMs` and has been heard about until `untilMs`. */
  of(startMs: number, untilMs: number): HoldLungs | undefined;
  /** Of a fall that nobody names, taken to have begun at `startMs`. */
  ofFall(startMs: number, untilMs: number): HoldLungs | undefined;
  /** Of the next hold, if it began now. */
  next(nowMs: number): HoldLungs | undefined;
}

export function createLungsSaid(): LungsSaid {
  let sayings: { readonly atMs: number; readonly lungs: HoldLungs }[] = [];
  const newest = (startMs: number, untilMs: number, forMs: number): HoldLungs | undefined =>
    sayings.findLast(({ atMs }) => atMs <= untilMs && atMs >= startMs - forMs)?.lungs;
  return {
    say(atMs, lungs) {
      if (lungs === undefined) sayings.pop();
      else sayings = [...sayings.slice(-9), { atMs, lungs }];
    },
    ended(endMs) {
      sayings = sayings.filter(({ atMs }) => atMs > endMs);
    },
    of: (startMs, untilMs) => newest(startMs, untilMs, heededForMs),
    ofFall: (startMs, untilMs) => newest(startMs, untilMs, heededOfFallMs),
    next: (nowMs) => newest(nowMs, nowMs, heededForMs),
  };
}
