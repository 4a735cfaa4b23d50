// Training timed with one big button: what each tap means, and the log entry that the taps come to. No clock inside.

import type { TrainingEntry } from '../../shared/training-log.ts';

export type TimedKind = 'poolSet' | 'timedSwim' | 'apneaWalk';
export const timedKinds: readonly TimedKind[] = ['poolSet', 'timedSwim', 'apneaWalk'];

export interface LapTiming {
  readonly kind: TimedKind;
  /** When the first tap came, Unix ms; 0 before it. */
  readonly startedWallAtMs: number;
  /** From the first tap on, which is 0. A swim: the start, then each lap. Others: start and end in turns. */
  readonly tapsMs: readonly number[];
}

/** A wet finger taps twice; nobody swims a lap or walks a round in less. */
const leastBetweenTapsMs = 1_500;
/** As many as an entry holds. */
const mostTaps = 500;

export const startTiming = (kind: TimedKind): LapTiming => ({ kind, startedWallAtMs: 0, tapsMs: [] });

/** Adds a tap at Unix `wallAtMs`; a bounce, a tap before the last one or one too many changes nothing. */
export function tapTiming(timing: LapTiming, wallAtMs: number): LapTiming {
  if (timing.tapsMs.length === 0) return { ...timing, startedWallAtMs: wallAtMs, tapsMs: [0] };
  const atMs = wallAtMs - timing.startedWallAtMs;
  if (atMs - timing.tapsMs.at(-1)! < leastBetweenTapsMs || timing.tapsMs.length >= mostTaps) return timing;
  return { ...timing, tapsMs: [...timing.tapsMs, atMs] };
}

/** Takes the last tap back. */
export const undoTap = (timing: LapTiming): LapTiming => ({ ...timing, tapsMs: timing.tapsMs.slice(0, -1) });

/** What the next tap would mean. */
export function nextTap(timing: LapTiming): 'start' | 'end' | 'lap' {
  if (timing.tapsMs.length === 0) return 'start';
  if (timing.kind === 'timedSwim') return 'lap';
  return timing.tapsMs.length % 2 === 0 ? 'start' : 'end';
}

/** Length of each finished repetition or walk. */
export function repetitionsMs({ tapsMs }: LapTiming): number[] {
  const lengths: number[] = [];
  for (let index = 1; index < tapsMs.length; index += 2) lengths.push(tapsMs[index]! - tapsMs[index - 1]!);
  return lengths;
}

/** When each lap of a swim was finished, those within its time only. */
export const lapsWithinMs = ({ tapsMs }: LapTiming, lengthMs: number): number[] =>
  tapsMs.slice(1).filter((atMs) => atMs <= lengthMs);

/** When the next repetition of a set begins; null before the first or while one goes on. */
export function nextStartMs(timing: LapTiming, everyMs: number): number | null {
  const { tapsMs } = timing;
  return tapsMs.length === 0 || tapsMs.length % 2 === 1 ? null : tapsMs[tapsMs.length - 2]! + everyMs;
}

const tenths = (ms: number): number => Math.round(ms / 100) / 10;

/** The entry with what was timed in it; as it was where nothing was finished. */
export function entryOfTiming(entry: TrainingEntry, timing: LapTiming): TrainingEntry {
  if (entry.kind !== timing.kind || timing.tapsMs.length === 0) return entry;
  const startedWallAtMs = timing.startedWallAtMs;
  if (entry.kind === 'timedSwim') {
    const laps = lapsWithinMs(timing, entry.lengthSeconds * 1_000);
    return {
      ...entry,
      startedWallAtMs,
      laps: laps.length,
      furtherMeters: 0,
      lapsAtSeconds: laps.map(tenths),
    };
  }
  const lengths = repetitionsMs(timing);
  if (lengths.length === 0) return { ...entry, startedWallAtMs };
  if (entry.kind === 'poolSet')
    return {
      ...entry,
      startedWallAtMs,
      // As many as the schema takes.
      repetitions: Math.min(100, lengths.length),
      repetitionsSeconds: lengths.map(tenths),
    };
  if (entry.kind !== 'apneaWalk') return entry;
  const sorted = lengths.toSorted((a, b) => a - b);
  // The usual walk, not the longest: nothing here is about the longest.
  const median = sorted[Math.floor((sorted.length - 1) / 2)]!;
  return {
    ...entry,
    startedWallAtMs,
    rounds: Math.min(60, lengths.length),
    lengthSeconds: tenths(median),
    steps: null,
  };
}
