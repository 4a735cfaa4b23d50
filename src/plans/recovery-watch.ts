// Is an athlete back near rest after a hold? Turns samples into the `vitals` of a plan run, which change rarely.
// Pure: a state and a sample in, a state out.

import type { MonotonicMs } from '../../shared/units.ts';

/** Design choices; the sources say only how long recovery usually takes. */
const recoveryWatchRules = {
  /** Rest is the median of this long before a hold. */
  restWindowMs: 60_000,
  leastRestSamples: 10,
  /** Saturation is back at two points under rest, and never asked to be above 95 % ("back to >= 95 % typically
   * 30-60 s after the first breath at the finger", from memory). */
  saturationBelowRestPercent: 2,
  saturationEnoughPercent: 95,
  /** Heart rate is back within this of rest, whichever is wider. It is back in seconds to half a minute
   * (Perini 2010, Eur J Appl Physiol). */
  heartRateNearBpm: 15,
  heartRateNearShare: 0.2,
  /** Held this long without a break. */
  steadyMs: 10_000,
  /** Without a good reading for this long nothing is known. */
  staleMs: 15_000,
} as const;

export type RecoveryChannel = 'saturation' | 'heartRate';

interface Watched {
  readonly recent: readonly { readonly atMs: number; readonly value: number }[];
  readonly rest: number | null;
  readonly backSinceMs: number | null;
  /** After a hold: not back until seen so. */
  readonly back: boolean | null;
}

export interface RecoveryWatch {
  readonly saturation: Watched;
  readonly heartRate: Watched;
  readonly holding: boolean;
}

export type RecoveryEvent =
  /** A sample of good quality: % or /min. */
  | {
      readonly type: 'reading';
      readonly channel: RecoveryChannel;
      readonly atMs: MonotonicMs;
      readonly value: number;
    }
  | { readonly type: 'holdStarted'; readonly atMs: MonotonicMs }
  | { readonly type: 'holdEnded'; readonly atMs: MonotonicMs }
  | { readonly type: 'time'; readonly atMs: MonotonicMs };

const unwatched: Watched = { recent: [], rest: null, backSinceMs: null, back: null };
export const newRecoveryWatch: RecoveryWatch = {
  saturation: unwatched,
  heartRate: unwatched,
  holding: false,
};

/** What a plan run is told: true, false, or null where no sensor can tell. */
export const vitalsOf = (
  watch: RecoveryWatch,
): { readonly saturationBack: boolean | null; readonly heartRateBack: boolean | null } => ({
  saturationBack: watch.saturation.back,
  heartRateBack: watch.heartRate.back,
});

export function stepRecoveryWatch(watch: RecoveryWatch, event: RecoveryEvent): RecoveryWatch {
  switch (event.type) {
    case 'reading':
      return {
        ...watch,
        [event.channel]: read(watch[event.channel], event.channel, event.atMs, event.value, watch.holding),
      };
    case 'holdStarted':
      return { saturation: atStart(watch.saturation), heartRate: atStart(watch.heartRate), holding: true };
    case 'holdEnded':
      return { saturation: atEnd(watch.saturation), heartRate: atEnd(watch.heartRate), holding: false };
    case 'time':
      return {
        ...watch,
        saturation: aged(watch.saturation, event.atMs),
        heartRate: aged(watch.heartRate, event.atMs),
      };
  }
}

function read(
  watched: Watched,
  channel: RecoveryChannel,
  atMs: number,
  value: number,
  holding: boolean,
): Watched {
  const recent = [
    ...watched.recent.filter((each) => each.atMs > atMs - recoveryWatchRules.restWindowMs),
    { atMs, value },
  ];
  const near = isNear(channel, value, watched.rest);
  const backSinceMs = near ? (watched.backSinceMs ?? atMs) : null;
  const steady = backSinceMs !== null && atMs - backSinceMs >= recoveryWatchRules.steadyMs;
  // Once back it stays so until the next hold: a passing movement must not take a start away again.
  const back = holding ? watched.back : watched.back === true || steady ? true : (watched.back ?? near);
  return { ...watched, recent, backSinceMs, back };
}

function isNear(channel: RecoveryChannel, value: number, rest: number | null): boolean {
  const rules = recoveryWatchRules;
  if (channel === 'saturation')
    return value >= Math.min(rules.saturationEnoughPercent, (rest ?? 100) - rules.saturationBelowRestPercent);
  if (rest === null) return true;
  return Math.abs(value - rest) <= Math.max(rules.heartRateNearBpm, rest * rules.heartRateNearShare);
}

/** The first hold's rest stands for the session: later rests are between holds, not rest. */
const atStart = (watched: Watched): Watched => ({
  ...watched,
  rest:
    watched.rest ??
    (watched.recent.length >= recoveryWatchRules.leastRestSamples
      ? median(watched.recent.map((each) => each.value))
      : null),
  backSinceMs: null,
});

const atEnd = (watched: Watched): Watched => ({
  ...watched,
  backSinceMs: null,
  back: watched.recent.length === 0 ? null : false,
});

const aged = (watched: Watched, atMs: number): Watched => {
  const last = watched.recent.at(-1);
  return last !== undefined && atMs - last.atMs <= recoveryWatchRules.staleMs
    ? watched
    : { ...watched, recent: [], backSinceMs: null, back: null };
};

function median(values: readonly number[]): number {
  const sorted = values.toSorted((one, other) => one - other);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1
    ? (sorted[middle] ?? 0)
    : ((sorted[middle - 1] ?? 0) + (sorted[middle] ?? 0)) / 2;
}
