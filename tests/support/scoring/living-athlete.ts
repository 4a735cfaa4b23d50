// An athlete who is lived second by second, so that one who obeys an alarm breathes earlier and everything after follows.

import type { PipelineEvent } from '../../../src/pipeline.ts';
import type { Lungs, ScoredSession, TrueHold } from './scored-session.ts';

export type SessionKind = 'maximal' | 'table' | 'interval' | 'beginner' | 'messy' | 'noHolds';
export const sessionKinds: readonly SessionKind[] = [
  'maximal',
  'table',
  'interval',
  'beginner',
  'messy',
  'noHolds',
];

/** What is worn. A strap "without beats" gives its heart rate once a second and nothing else. */
export type SensorKit =
  | 'beats and oximetry'
  | 'beats, oximetry and pleth'
  | 'heart rate and oximetry'
  | 'oximetry only'
  | 'oximetry and pleth'
  | 'beats only';
export const sensorKits: readonly SensorKit[] = [
  'beats and oximetry',
  'beats, oximetry and pleth',
  'heart rate and oximetry',
  'oximetry only',
  'oximetry and pleth',
  'beats only',
];

export interface AthleteOptions {
  readonly seed: number;
  readonly kind: SessionKind;
  readonly kit: SensorKit;
  /** Drawn for each hold when left out. */
  readonly lungs?: Lungs | undefined;
  /** The athlete means to hold on beyond this reading: holds last 15 to 45 s longer than is safe for it. */
  readonly beyondFloorPercent?: number | undefined;
  /** The same person on another day: other holds, breaths and noise. The first day when left out. */
  readonly visit?: number | undefined;
}

/** A hold as it truly goes, without noise and rounding; index by whole seconds since its start. */
export interface HoldCourse {
  /** What the display shows while the hold goes on, percent. */
  readonly displayed: readonly number[];
  /** Lowest the display will show if breathing begins at that second, percent. */
  readonly lowestIfStopped: readonly number[];
}

export interface LivingAthlete {
  readonly conditions: Readonly<Record<string, string>>;
  readonly nowMs: number;
  readonly isOver: boolean;
  /** The hold in progress. */
  readonly hold: { readonly startMs: number; readonly lungs: Lungs } | undefined;
  /** Ended holds. The lowest reading is filled in once the minute after the hold has passed. */
  readonly holds: readonly TrueHold[];
  /** Lives one more second and answers what the sensors sent in it, in time order. */
  live(): readonly PipelineEvent[];
  breatheNow(): void;
  /**
   * The latest time to end the hold in progress, or the last one, whose displayed reading without noise stays at or
   * above the floor; as the reading would go if nothing else changed.
   */
  latestSafeStopMs(floorPercent: number): number;
  /** Of the hold in progress, until stopping would show less than `untilPercent`, at most ten minutes. */
  courseOfHold(untilPercent: number): HoldCourse;
}

export type AthleteFactory = (options: AthleteOptions) => LivingAthlete;

/** The whole session as planned, without anybody obeying anything. */
export function liveThrough(athlete: LivingAthlete, name: string, floorPercent: number): ScoredSession {
  const events: PipelineEvent[] = [];
  while (!athlete.isOver) events.push(...athlete.live());
  return {
    name: `${name} (SIMULATED)`,
    conditions: athlete.conditions,
    durationMs: athlete.nowMs,
    floorPercent,
    events,
    holds: athlete.holds,
  };
}

/** Values at every second from those at each `everyS`-th, in straight lines. */
export function eachSecond(values: readonly number[], everyS: number): number[] {
  const out: number[] = [];
  for (let index = 0; index + 1 < values.length; index++)
    for (let part = 0; part < everyS; part++)
      out.push(values[index]! + (part / everyS) * (values[index + 1]! - values[index]!));
  if (values.length > 0) out.push(values[values.length - 1]!);
  return out;
}

/** The largest time in [0, horizonS] whose lowest reading keeps the floor; the lowest reading falls with time. */
export function latestKeeping(
  horizonS: number,
  floorPercent: number,
  lowestIfStoppedAtS: (holdS: number) => number,
): number {
  let safe = 0;
  let unsafe = horizonS;
  while (unsafe - safe > 0.25) {
    const middle = (safe + unsafe) / 2;
    if (lowestIfStoppedAtS(middle) >= floorPercent) safe = middle;
    else unsafe = middle;
  }
  return safe;
}
