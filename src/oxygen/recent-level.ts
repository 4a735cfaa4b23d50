// Where the display stands by the newest readings of a fall alone: on the line through them.

import type { HoldReading } from './curve-set.ts';

/** So far back, at least half of it seen, by so many readings. Our choice: as long as a lag, short enough for the bend of a fall. */
const windowS = 16;
const leastReadings = 5;
/** A reading so far off the line of the others is a movement, points. Our choice: beyond noise and rounding. */
const movementPercent = 2.5;

interface Line {
  readonly atS: number;
  readonly percent: number;
  readonly slope: number;
}

/** Percent at the newest of `readings` from index `from` on, in time order; undefined where those that count are too few. */
export function recentLevel(readings: readonly HoldReading[], from: number): number | undefined {
  const newest = readings[readings.length - 1];
  if (newest === undefined) return undefined;
  const seen = readings.slice(from).filter(({ atS, trust }) => trust === 1 && newest.atS - atS <= windowS);
  const first = lineThrough(seen);
  const kept = seen.filter(({ atS, percent }) => Math.abs(percent - valueAt(first, atS)) <= movementPercent);
  const spanS = kept.length < leastReadings ? 0 : kept[kept.length - 1]!.atS - kept[0]!.atS;
  if (spanS < windowS / 2) return undefined;
  const line = kept.length === seen.length ? first : lineThrough(kept);
  return valueAt(line, newest.atS);
}

/** Least squares. */
function lineThrough(readings: readonly HoldReading[]): Line {
  const count = readings.length;
  let [atS, percent] = [0, 0];
  for (const reading of readings) {
    atS += reading.atS / count;
    percent += reading.percent / count;
  }
  let [squares, products] = [0, 0];
  for (const reading of readings) {
    squares += (reading.atS - atS) ** 2;
    products += (reading.atS - atS) * (reading.percent - percent);
  }
  return { atS, percent, slope: squares === 0 ? 0 : products / squares };
}

const valueAt = (line: Line, atS: number): number => line.percent + line.slope * (atS - line.atS);
