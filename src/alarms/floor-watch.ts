// Decides from single saturation readings whether the floor is breached: short persistence against spikes, none against
// silence. Doubt never talks it out of a breach that lasts; it is said beside it.

import type { AlarmDetail, SampleQuality } from '../../shared/schema-parts.ts';
import { alarmLimits as limits } from './alarm-limits.ts';

interface Reading {
  readonly atMs: number;
  readonly percent: number;
}

/** Readings below the floor that are not yet confirmed. */
interface PendingBreach {
  readonly sinceMs: number;
  readonly needMs: number;
  /** Low readings so far, and those that are deep and came after a gap. */
  readonly count: number;
  readonly deepCount: number;
  /** They came by a jump that blood cannot make. */
  readonly jumped: boolean;
}

/** What is remembered between readings of one kind of one sensor. Times in session ms. */
export interface FloorWatch {
  readonly breached: boolean;
  readonly pending: PendingBreach | null;
  /** First of the uninterrupted readings at or above the floor. */
  readonly okSinceMs: number | null;
  readonly okCount: number;
  readonly last: Reading | null;
  /** Last reading that blood could have reached from those believed before it, and those of `jumpWindowMs`. */
  readonly believed: Reading | null;
  readonly trail: readonly Reading[];
  /** What is doubted of the last reading, where it is below the floor. */
  readonly doubt: Extract<AlarmDetail, 'fellTooFast' | 'doubtful'> | null;
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
  trail: [],
  doubt: null,
  confirmedPercent: null,
};

/**
 * Takes in one usable reading (good or suspect; those that the sensor itself calls invalid never come here).
 * `doubtedBySensor` when the oximeter says that its signal is poor. Whatever else is doubted: readings below the floor
 * with none above it between them are a breach when they have lasted `breachDoubtfulPersistenceMs`.
 */
export function watchReading(
  watch: FloorWatch,
  atMs: number,
  percent: number,
  quality: SampleQuality,
  floorPercent: number,
  doubtedBySensor: boolean,
): FloorWatch {
  const { last } = watch;
  const reading = { atMs, percent };
  const possible = isPossible(watch, reading);
  const gap = last === null || atMs - last.atMs > limits.recentReadingMs;
  const believed = possible ? reading : watch.believed;
  const trail = possible ? withReading(gap ? [] : watch.trail, reading) : watch.trail;
  const confirmedPercent = last === null ? percent : Math.max(last.percent, percent);

  if (percent >= floorPercent) {
    const okCount = watch.okCount + 1;
    const okSinceMs = watch.okSinceMs ?? atMs;
    // One reading above does not contradict a fall, because noise has both; two do, and a jump back undoes a jump.
    const contradicted = okCount >= 2 || watch.pending?.jumped === true;
    const over = watch.breached && okCount >= 2 && atMs - okSinceMs >= limits.breachEndMs;
    // Field by field here and below, because spreads cost most of a reading's time.
    return {
      breached: watch.breached && !over,
      pending: contradicted ? null : watch.pending,
      okSinceMs,
      okCount,
      last: reading,
      believed,
      trail,
      doubt: null,
      confirmedPercent,
    };
  }

  const doubt = possible ? (doubtedBySensor ? 'doubtful' : null) : 'fellTooFast';
  const below = (breached: boolean, pending: PendingBreach | null): FloorWatch => ({
    breached,
    pending,
    okSinceMs: null,
    okCount: 0,
    last: reading,
    believed,
    trail,
    doubt,
    confirmedPercent,
  });
  if (watch.breached) return below(true, null);

  const deep = percent <= floorPercent - limits.deepBelowFloorPercent;
  const started = watch.pending ?? {
    sinceMs: atMs,
    needMs:
      possible && quality === 'good' && !gap
        ? limits.breachPersistenceMs
        : limits.breachDoubtfulPersistenceMs,
    count: 0,
    // Only after a gap is there nothing that speaks against a deep reading, but for the oximeter's own doubt.
    deepCount: gap && possible && !doubtedBySensor ? 0 : Number.NEGATIVE_INFINITY,
    jumped: true,
  };
  const pending = {
    ...started,
    count: started.count + 1,
    deepCount: started.deepCount + (deep ? 1 : 0),
    // A jump that has lasted long enough to be possible is from then on a fall.
    jumped: started.jumped && !possible,
  };
  return settle(below(false, pending), atMs);
}

/** Time has passed: an uncontradicted low reading becomes a breach even if no further reading came. */
export function watchTime(watch: FloorWatch, nowMs: number): FloorWatch {
  return watch.pending === null ? watch : settle(watch, nowMs);
}

/** Blood could have come there from each believed reading of the last seconds: small steps do not add up to a jump. */
function isPossible(watch: FloorWatch, { atMs, percent }: Reading): boolean {
  const { believed } = watch;
  if (believed === null) return true;
  if (percent < believed.percent - reach(atMs - believed.atMs)) return false;
  return watch.trail.every(
    (one) => atMs - one.atMs > limits.jumpWindowMs || percent >= one.percent - reach(atMs - one.atMs),
  );
}

function withReading(trail: readonly Reading[], reading: Reading): readonly Reading[] {
  const kept: Reading[] = [];
  for (let i = 0; i < trail.length; i++) {
    const one = trail[i]!;
    if (reading.atMs - one.atMs <= limits.jumpWindowMs) kept.push(one);
  }
  kept.push(reading);
  return kept;
}

function reach(elapsedMs: number): number {
  return limits.reachBasePercent + limits.reachPercentPerSecond * (elapsedMs / 1000);
}

function settle(watch: FloorWatch, nowMs: number): FloorWatch {
  const { pending } = watch;
  if (pending === null) return watch;
  const { count, deepCount, jumped, sinceMs, needMs } = pending;
  // One low reading with one above after it waits for a third; one that jumped there waits for a second, because when
  // silence follows a single spike, it is the lost signal that alarms.
  const confirmed = count >= 2 || (watch.okCount === 0 && !jumped);
  const fell = deepCount >= 2 || (confirmed && nowMs - sinceMs >= needMs);
  return fell ? { ...watch, breached: true, pending: null } : watch;
}
