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
  /** Low readings so far, and those that are deep and came after a gap. */
  readonly count: number;
  readonly deepCount: number;
  /** They came by a jump that blood cannot make. */
  readonly jumped: boolean;
}

/** What is remembered between readings. Times in session ms. */
export interface FloorWatch {
  readonly breached: boolean;
  readonly pending: PendingBreach | null;
  /** First of the uninterrupted readings at or above the floor. */
  readonly okSinceMs: number | null;
  readonly okCount: number;
  readonly last: Reading | null;
  /** Last reading that blood could have reached from those believed before it. */
  readonly believed: Reading | null;
  /** Believed readings of the last `trailMs`, oldest first: how saturation has been falling. */
  readonly trail: readonly Reading[];
  /** Slow mean of the oximeter's pulse rate, held while readings are not believed. */
  readonly pulseBpm: number | null;
  readonly lastPulseBpm: number | null;
  /** Since when neither saturation nor pulse has changed at all. */
  readonly sameSinceMs: number | null;
  /** While readings are not believed: the pulse jumped too, or the oximeter itself doubts them. */
  readonly moved: boolean;
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
  pulseBpm: null,
  lastPulseBpm: null,
  sameSinceMs: null,
  moved: false,
  confirmedPercent: null,
};

/**
 * Takes in one usable reading (good or suspect; bad ones are no value and never come here). `doubtedBySensor`
 * when the oximeter itself says that its signal is poor.
 */
export function watchReading(
  watch: FloorWatch,
  atMs: number,
  percent: number,
  quality: SampleQuality,
  floorPercent: number,
  doubtedBySensor: boolean,
): FloorWatch {
  const { last, believed } = watch;
  const reading = { atMs, percent };
  const changed = last === null || percent !== last.percent;
  // A display that stood still and moves again: what it showed meanwhile is no evidence.
  const thawed =
    changed &&
    watch.lastPulseBpm !== null &&
    watch.sameSinceMs !== null &&
    atMs - watch.sameSinceMs >= limits.frozenMs;
  const possible = thawed
    ? believed === null || percent >= believed.percent - reach(atMs - (watch.sameSinceMs ?? atMs))
    : isPossible(watch, reading);
  const gap = last === null || thawed || atMs - last.atMs > limits.recentReadingMs;
  // A movement is over with the first high reading, not as soon as blood could have followed it.
  const moved = (!possible || watch.pending?.jumped === true) && (watch.moved || doubtedBySensor);
  const believable = possible && !moved;
  const seen = {
    last: reading,
    believed: believable ? reading : believed,
    trail: believable ? withReading(gap ? [] : watch.trail, reading) : watch.trail,
    pulseBpm: thawed ? null : watch.pulseBpm,
    lastPulseBpm: watch.lastPulseBpm,
    sameSinceMs: changed ? atMs : watch.sameSinceMs,
    moved,
    confirmedPercent: last === null ? percent : Math.max(last.percent, percent),
  };

  if (percent >= floorPercent) {
    const okCount = watch.okCount + 1;
    const okSinceMs = watch.okSinceMs ?? atMs;
    // One reading above does not contradict a fall, because noise has both; two do, and a jump back undoes a jump.
    const jumpedBack = watch.pending?.jumped === true && percent >= floorPercent;
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
  const soon = quality === 'good' && !gap ? limits.breachPersistenceMs : limits.breachDoubtfulPersistenceMs;
  const started = watch.pending ?? {
    sinceMs: atMs,
    needMs: limits.breachDoubtfulPersistenceMs,
    count: 0,
    // Only after a gap is there nothing that speaks against a deep reading, but for the oximeter's own doubt.
    deepCount: gap && possible && !doubtedBySensor ? 0 : Number.NEGATIVE_INFINITY,
    jumped: true,
  };
  const counts = believable || mayBeBelow(watch, atMs, floorPercent);
  // A jump that has lasted long enough to be possible is judged from then on like a fall.
  const nowBelieved = started.jumped && counts;
  const pending = {
    sinceMs: nowBelieved ? atMs : started.sinceMs,
    needMs: nowBelieved ? soon : started.needMs,
    count: started.count + 1,
    deepCount: started.deepCount + (deep ? 1 : 0),
    jumped: started.jumped && !counts,
  };
  return settle({ ...below, breached: false, pending }, atMs);
}

/**
 * Takes in the oximeter's pulse rate. Movement that fakes a fall spoils the pulse as well (common practice, no source),
 * so a fall by a jump with a steady pulse is believed sooner than one with a jumping pulse.
 */
export function watchPulse(watch: FloorWatch, pulseBpm: number): FloorWatch {
  const seen =
    pulseBpm === watch.lastPulseBpm
      ? watch
      : { ...watch, lastPulseBpm: pulseBpm, sameSinceMs: watch.last?.atMs ?? null };
  if (watch.pulseBpm === null) return { ...seen, pulseBpm };
  if (watch.last === watch.believed && watch.pending?.jumped !== true)
    return { ...seen, pulseBpm: watch.pulseBpm + 0.3 * (pulseBpm - watch.pulseBpm) };
  const deviates = Math.abs(pulseBpm / watch.pulseBpm - 1) > limits.movedPulseFraction;
  return deviates && !watch.moved ? { ...seen, moved: true } : seen;
}

/** Time has passed: an uncontradicted low reading becomes a breach even if no further reading came. */
export function watchTime(watch: FloorWatch, nowMs: number): FloorWatch {
  return watch.pending === null ? watch : settle(watch, nowMs);
}

/** For how long low readings have stood that came by a jump, ms; 0 when there are none. */
export function unexplainedFallMs(watch: FloorWatch, nowMs: number): number {
  return watch.pending?.jumped === true ? nowMs - watch.pending.sinceMs : 0;
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

/**
 * While readings are not believed, blood goes on falling as it did: whether it may be below the floor by now. Then
 * doubt counts for the alarm. Medians, because a movement's first readings are often still believed.
 */
function mayBeBelow(watch: FloorWatch, atMs: number, floorPercent: number): boolean {
  const { trail } = watch;
  if (trail.length === 0) return true;
  const now = middleOf(trail.slice(-5));
  const before = middleOf(trail.slice(0, 5));
  const perMs =
    trail.length < 10
      ? limits.unknownFallPercentPerSecond / 1_000
      : Math.max(0, before.percent - now.percent) / (now.atMs - before.atMs);
  return now.percent - limits.nearFloorPercent - perMs * (atMs - now.atMs) < floorPercent;
}

/** Median of the saturations, at the middle of their times. */
function middleOf(readings: readonly Reading[]): Reading {
  const half = readings.length >> 1;
  const percents = readings.map((one) => one.percent).sort((one, other) => one - other);
  return { atMs: readings[half]!.atMs, percent: percents[half]! };
}

function withReading(trail: readonly Reading[], reading: Reading): readonly Reading[] {
  return [...trail.filter((one) => reading.atMs - one.atMs <= limits.trailMs), reading];
}

function reach(elapsedMs: number): number {
  return limits.reachBasePercent + limits.reachPercentPerSecond * (elapsedMs / 1000);
}

function settle(watch: FloorWatch, nowMs: number): FloorWatch {
  const { pending, last } = watch;
  if (pending === null || last === null) return watch;
  const fell = { ...watch, breached: true, pending: null };
  if (pending.deepCount >= 2) return fell;
  if (pending.jumped) {
    const frozen = watch.sameSinceMs !== null && last.atMs - watch.sameSinceMs >= limits.frozenMs;
    const needMs = frozen ? limits.breachFrozenMs : watch.moved ? limits.breachMovedMs : limits.breachJumpMs;
    // Silence confirms a fall, but not a jump: then it is the lost signal that alarms.
    return last.atMs - pending.sinceMs >= needMs ? fell : watch;
  }
  // One low reading with one above after it waits for a third.
  const confirmed = pending.count >= 2 || watch.okCount === 0;
  return confirmed && nowMs - pending.sinceMs >= pending.needMs ? fell : watch;
}
