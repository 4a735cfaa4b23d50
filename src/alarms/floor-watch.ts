// Decides from single saturation readings whether the floor is breached: short persistence against motion spikes,
// none against silence. A reading below the floor that nothing contradicts becomes an alarm by itself.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import { alarmLimits as limits } from './alarm-limits.ts';

interface Reading {
  readonly atMs: number;
  readonly percent: number;
}

/** Readings below the floor that are not yet confirmed. */
interface PendingBreach {
  readonly sinceMs: number;
  readonly needMs: number;
  /** What `needMs` becomes when the readings bear the marks of movement. */
  readonly movedNeedMs: number;
  /** Low readings so far, and those that are deep and came after a gap. */
  readonly count: number;
  readonly deepCount: number;
  /** They came by a jump that blood cannot make. */
  readonly jumped: boolean;
  /** ... and the pulse jumped too, or the oximeter itself doubts them. */
  readonly moved: boolean;
}

/** What is remembered between readings. Times in session ms. */
export interface FloorWatch {
  readonly breached: boolean;
  readonly pending: PendingBreach | null;
  /** First of the uninterrupted readings at or above the floor. */
  readonly okSinceMs: number | null;
  readonly okCount: number;
  readonly last: Reading | null;
  /** Last reading that blood could have reached from the one believed before it. */
  readonly believed: Reading | null;
  /** Slow mean of the oximeter's pulse rate, held while low readings are unconfirmed. */
  readonly pulseBpm: number | null;
  /** The higher of the last two readings: how deep a breach is, safe from one spike. */
  readonly confirmedPercent: number | null;
}

export const freshFloorWatch: FloorWatch = {
  breached: false,
  pending: null,
  okSinceMs: null,
  okCount: 0,
  last: null,
  believed: null,
  pulseBpm: null,
  confirmedPercent: null,
};

/**
 * Takes in one usable reading (good or suspect; bad ones are no value and never come here). `vigilant` in a hold and
 * the minute after it; `doubtedBySensor` when the oximeter itself says that its signal is poor.
 */
export function watchReading(
  watch: FloorWatch,
  atMs: number,
  percent: number,
  quality: SampleQuality,
  floorPercent: number,
  vigilant: boolean,
  doubtedBySensor: boolean,
): FloorWatch {
  const { last, believed } = watch;
  const reading = { atMs, percent };
  const possible = believed === null || percent >= believed.percent - reach(atMs - believed.atMs);
  const seen = {
    last: reading,
    believed: possible ? reading : believed,
    pulseBpm: watch.pulseBpm,
    confirmedPercent: last === null ? percent : Math.max(last.percent, percent),
  };

  if (percent >= floorPercent) {
    const okCount = watch.okCount + 1;
    const okSinceMs = watch.okSinceMs ?? atMs;
    // One reading above does not contradict a fall, because noise has both; two do, and a jump back undoes a jump.
    const jumpedBack = watch.pending?.jumped === true && percent >= floorPercent + 1;
    const contradicted = okCount >= 2 || jumpedBack;
    const over = watch.breached && contradicted && atMs - okSinceMs >= limits.breachEndMs;
    return {
      ...seen,
      breached: watch.breached && !over,
      pending: contradicted ? null : watch.pending,
      okSinceMs,
      okCount,
    };
  }

  const below = { ...seen, okSinceMs: null, okCount: 0 };
  if (watch.breached) return { ...below, breached: true, pending: null };

  const deep = percent <= floorPercent - limits.deepBelowFloorPercent;
  const gap = last === null || atMs - last.atMs > limits.recentReadingMs;
  const soon = quality === 'good' && !gap ? limits.breachPersistenceMs : limits.breachDoubtfulPersistenceMs;
  const started = watch.pending ?? {
    sinceMs: atMs,
    needMs: limits.breachDoubtfulPersistenceMs,
    movedNeedMs: vigilant ? limits.breachMovedInHoldMs : limits.breachMovedMs,
    count: 0,
    // Only after a gap is there nothing that speaks against a deep reading.
    deepCount: gap ? 0 : Number.NEGATIVE_INFINITY,
    jumped: true,
    moved: false,
  };
  const believable = possible || gap;
  // A jump that has lasted long enough to be possible is judged from then on like a fall.
  const nowBelieved = started.jumped && believable;
  const jumped = started.jumped && !believable;
  const moved = jumped && (started.moved || doubtedBySensor);
  const pending = {
    ...started,
    sinceMs: nowBelieved ? atMs : started.sinceMs,
    needMs: nowBelieved ? soon : moved ? started.movedNeedMs : started.needMs,
    count: started.count + 1,
    deepCount: started.deepCount + (deep ? 1 : 0),
    jumped,
    moved,
  };
  return settle({ ...below, breached: false, pending }, atMs);
}

/**
 * Takes in the oximeter's pulse rate. Movement that fakes a fall spoils the pulse as well (common practice, no source),
 * so a fall by a jump with a steady pulse is believed soon and one with a jumping pulse late.
 */
export function watchPulse(watch: FloorWatch, pulseBpm: number): FloorWatch {
  const { pending } = watch;
  if (watch.pulseBpm === null) return { ...watch, pulseBpm };
  const deviates = Math.abs(pulseBpm / watch.pulseBpm - 1) > limits.movedPulseFraction;
  if (pending === null) return { ...watch, pulseBpm: watch.pulseBpm + 0.3 * (pulseBpm - watch.pulseBpm) };
  if (!pending.jumped || pending.moved || !deviates) return watch;
  return { ...watch, pending: { ...pending, moved: true, needMs: pending.movedNeedMs } };
}

/** Time has passed: an uncontradicted low reading becomes a breach even if no further reading came. */
export function watchTime(watch: FloorWatch, nowMs: number): FloorWatch {
  return watch.pending === null ? watch : settle(watch, nowMs);
}

/** Low readings came by a jump and have lasted long enough that someone should look. */
export function hasUnexplainedFall(watch: FloorWatch, nowMs: number): boolean {
  return watch.pending?.moved === true && nowMs - watch.pending.sinceMs >= limits.jumpToldMs;
}

function reach(elapsedMs: number): number {
  return limits.reachBasePercent + limits.reachPercentPerSecond * (elapsedMs / 1000);
}

function settle(watch: FloorWatch, nowMs: number): FloorWatch {
  const pending = watch.pending;
  if (pending === null) return watch;
  const lasted = nowMs - pending.sinceMs >= pending.needMs;
  // One low reading with one above after it waits for a third.
  const confirmed = lasted && (pending.count >= 2 || watch.okCount === 0);
  return confirmed || pending.deepCount >= 2 ? { ...watch, breached: true, pending: null } : watch;
}
