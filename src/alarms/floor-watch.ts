// Decides from single saturation readings whether the floor is breached: short persistence against motion spikes,
// none against silence. A reading below the floor that nothing contradicts becomes an alarm by itself.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import { alarmLimits as limits } from './alarm-limits.ts';

/** What is remembered between readings. Times in session ms. */
export interface FloorWatch {
  readonly breached: boolean;
  /** Readings below the floor that are not yet confirmed. */
  readonly pending: { readonly sinceMs: number; readonly needMs: number; readonly deepCount: number } | null;
  /** First of the uninterrupted readings at or above the floor. */
  readonly okSinceMs: number | null;
  readonly okCount: number;
  readonly last: { readonly atMs: number; readonly percent: number } | null;
  /** The higher of the last two readings while breached: how deep it is, safe from one spike. */
  readonly confirmedPercent: number | null;
}

export const freshFloorWatch: FloorWatch = {
  breached: false,
  pending: null,
  okSinceMs: null,
  okCount: 0,
  last: null,
  confirmedPercent: null,
};

/** Takes in one usable reading (good or suspect; bad ones are no value and never come here). */
export function watchReading(
  watch: FloorWatch,
  atMs: number,
  percent: number,
  quality: SampleQuality,
  floorPercent: number,
): FloorWatch {
  const last = watch.last;
  const reading = { atMs, percent };
  const confirmedPercent = last === null ? percent : Math.max(last.percent, percent);

  if (percent >= floorPercent) {
    const okCount = watch.okCount + 1;
    const okSinceMs = watch.okSinceMs ?? atMs;
    // One reading just at the floor does not contradict one just below; a clear one or two do.
    const contradicted = okCount >= 2 || percent >= floorPercent + 1;
    const over = watch.breached && okCount >= 2 && atMs - okSinceMs >= limits.breachEndMs;
    return {
      breached: watch.breached && !over,
      pending: contradicted ? null : watch.pending,
      okSinceMs,
      okCount,
      last: reading,
      confirmedPercent,
    };
  }

  const below = { okSinceMs: null, okCount: 0, last: reading, confirmedPercent };
  if (watch.breached) return { ...below, breached: true, pending: null };

  const deep = percent <= floorPercent - limits.deepBelowFloorPercent;
  if (watch.pending !== null) {
    const pending = { ...watch.pending, deepCount: watch.pending.deepCount + (deep ? 1 : 0) };
    return settle({ ...below, breached: false, pending }, atMs);
  }
  const recent = last !== null && atMs - last.atMs <= limits.recentReadingMs ? last : null;
  const doubtful =
    quality !== 'good' ||
    recent === null ||
    recent.percent - percent >
      limits.jumpBasePercent + limits.jumpPercentPerSecond * ((atMs - recent.atMs) / 1000);
  const pending = {
    sinceMs: atMs,
    needMs: doubtful ? limits.breachDoubtfulPersistenceMs : limits.breachPersistenceMs,
    // Only after a gap: with recent readings above, a deep one came by a jump and must persist like any jump.
    deepCount: deep && recent === null ? 1 : Number.NEGATIVE_INFINITY,
  };
  return settle({ ...below, breached: false, pending }, atMs);
}

/** Time has passed: an uncontradicted low reading becomes a breach even if no further reading came. */
export function watchTime(watch: FloorWatch, nowMs: number): FloorWatch {
  return watch.pending === null ? watch : settle(watch, nowMs);
}

function settle(watch: FloorWatch, nowMs: number): FloorWatch {
  const pending = watch.pending;
  if (pending === null) return watch;
  if (nowMs - pending.sinceMs < pending.needMs && pending.deepCount < 2) return watch;
  return { ...watch, breached: true, pending: null };
}
