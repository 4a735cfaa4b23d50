// Sessions of athletes who obey nobody, with what the oximeter sent and, hold by hold, how it truly goes: each forecaster can be asked
// about the same holds, and what stopping would have brought is known for every second. SIMULATED.

import { decodePlxContinuous } from '../../../src/gatt/plx-continuous.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import type { AthleteFactory, AthleteOptions, HoldCourse } from './living-athlete.ts';
import type { Lungs } from './scored-session.ts';

export interface Reading {
  readonly atS: number;
  readonly percent: number;
}

export interface PlannedHold {
  readonly startS: number;
  readonly endS: number;
  readonly lungs: Lungs;
  readonly course: HoldCourse;
}

export interface PlannedSession {
  readonly options: AthleteOptions;
  readonly floorPercent: number;
  readonly readings: readonly Reading[];
  readonly holds: readonly PlannedHold[];
}

/** Lowest value that courses are followed to, below each floor of the bench. Our choice. */
export const followedToPercent = 74;

export function planSession(factory: AthleteFactory, options: AthleteOptions): PlannedSession {
  const athlete = factory(options);
  const readings: Reading[] = [];
  const courses: HoldCourse[] = [];
  let isHolding = false;
  while (!athlete.isOver) {
    for (const event of athlete.live()) {
      const reading = readingOf(event);
      if (reading !== undefined) readings.push(reading);
    }
    if (athlete.hold !== undefined && !isHolding) courses.push(athlete.courseOfHold(followedToPercent));
    isHolding = athlete.hold !== undefined;
  }
  return {
    options,
    floorPercent: options.beyondFloorPercent!,
    readings,
    holds: athlete.holds.map(({ startMs, endMs, lungs }, index) => ({
      startS: startMs / 1_000,
      endS: endMs / 1_000,
      lungs: lungs!,
      course: courses[index]!,
    })),
  };
}

export function readingOf(event: PipelineEvent): Reading | undefined {
  if (event.type === 'sample' && event.sample.channel === 'spo2Percent')
    return { atS: event.sample.atMs / 1_000, percent: event.sample.value };
  if (event.type !== 'packet' || event.characteristic !== '2a5f') return undefined;
  const decoded = decodePlxContinuous(event.bytes);
  if (!decoded.ok || typeof decoded.value.normal.spo2Percent !== 'number') return undefined;
  return { atS: event.atMs / 1_000, percent: decoded.value.normal.spo2Percent };
}

/** What an oximeter that rounds to whole percents still shows as the floor is half a percent less. */
export const shownAsFloor = (floorPercent: number): number => floorPercent - 0.5;

const at = (values: readonly number[], second: number): number => {
  const place = Math.max(0, Math.min(values.length - 1, second));
  const low = Math.floor(place);
  return values[low]! + (place - low) * ((values[low + 1] ?? values[low]!) - values[low]!);
};

export const displayedAt = (course: HoldCourse, second: number): number => at(course.displayed, second);
export const lowestAt = (course: HoldCourse, second: number): number => at(course.lowestIfStopped, second);

/** Seconds into the hold until which stopping keeps the floor. */
export function latestSafeS(course: HoldCourse, floorPercent: number): number {
  const wanted = shownAsFloor(floorPercent);
  const after = course.lowestIfStopped.findIndex((lowest) => lowest < wanted);
  if (after < 0) return course.lowestIfStopped.length - 1;
  if (after === 0) return 0;
  const before = course.lowestIfStopped[after - 1]!;
  return after - 1 + (before - wanted) / (before - course.lowestIfStopped[after]!);
}
