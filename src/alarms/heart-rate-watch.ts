// Decides from heart-rate readings whether the rate fell suddenly (in a hold) or stays outside the athlete's limits.

import { alarmLimits as limits } from './alarm-limits.ts';

interface RateReading {
  readonly atMs: number;
  readonly bpm: number;
}

export interface HeartRateWatch {
  /** Readings of the last `suddenFallWindowMs`, oldest first. */
  readonly window: readonly RateReading[];
  /** First of the uninterrupted readings that show a sudden fall. */
  readonly fallSinceMs: number | null;
  /** Rate before the fall while the fall is present. */
  readonly fallenFromBpm: number | null;
  readonly lowSinceMs: number | null;
  readonly highSinceMs: number | null;
  readonly low: boolean;
  readonly high: boolean;
}

export const freshHeartRateWatch: HeartRateWatch = {
  window: [],
  fallSinceMs: null,
  fallenFromBpm: null,
  lowSinceMs: null,
  highSinceMs: null,
  low: false,
  high: false,
};

/** Takes in one usable heart rate. Limits are null where the athlete set none. */
export function watchHeartRate(
  watch: HeartRateWatch,
  atMs: number,
  bpm: number,
  inHold: boolean,
  lowBpm: number | null,
  highBpm: number | null,
): HeartRateWatch {
  const window: RateReading[] = [];
  let greatest = 0;
  for (let i = 0; i < watch.window.length; i++) {
    const reading = watch.window[i]!;
    if (atMs - reading.atMs > limits.suddenFallWindowMs) continue;
    window.push(reading);
    if (reading.bpm > greatest) greatest = reading.bpm;
  }
  const fall = greatest > 0 ? 1 - bpm / greatest : 0;
  const looksFallen =
    inHold &&
    ((fall >= limits.suddenFallFraction && bpm < limits.suddenFallBelowBpm) ||
      fall >= limits.suddenFallLargeFraction);
  window.push({ atMs, bpm });

  const fallSinceMs = looksFallen ? (watch.fallSinceMs ?? atMs) : null;
  let fallenFromBpm = watch.fallenFromBpm;
  if (fallenFromBpm === null) {
    if (fallSinceMs !== null && atMs - fallSinceMs >= limits.suddenFallPersistenceMs)
      fallenFromBpm = greatest;
  } else if (bpm >= fallenFromBpm * limits.suddenFallRecoveredFraction) {
    fallenFromBpm = null;
  }

  const isLow = lowBpm !== null && bpm < lowBpm;
  const isHigh = highBpm !== null && bpm > highBpm;
  const lowSinceMs = isLow ? (watch.lowSinceMs ?? atMs) : null;
  const highSinceMs = isHigh ? (watch.highSinceMs ?? atMs) : null;
  return {
    window,
    fallSinceMs,
    fallenFromBpm,
    lowSinceMs,
    highSinceMs,
    low: lowSinceMs !== null && (watch.low || atMs - lowSinceMs >= limits.heartRateLimitPersistenceMs),
    high: highSinceMs !== null && (watch.high || atMs - highSinceMs >= limits.heartRateLimitPersistenceMs),
  };
}

/** The hold is over: a fall that was present no longer is one. */
export function forgetFall(watch: HeartRateWatch): HeartRateWatch {
  return watch.fallenFromBpm === null && watch.fallSinceMs === null
    ? watch
    : { ...watch, fallSinceMs: null, fallenFromBpm: null };
}
