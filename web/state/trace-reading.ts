// What a trace reads at a time, and where the next hold or event lies from there. Pure.

import type { Trace } from '../../shared/views.ts';

export interface TraceReading {
  readonly atSeconds: number;
  readonly value: number;
  readonly quality: 'good' | 'suspect' | 'bad';
}

/** Further off than this a reading says nothing of the time that is pointed at: sensors notify about once a second. */
const mostAwaySeconds = 2.5;

/** The reading nearest to `atSeconds`; null where there is none near it. */
export function readingAt(trace: Trace | null, atSeconds: number): TraceReading | null {
  if (trace === null) return null;
  const { atMs } = trace;
  let low = 0;
  let high = atMs.length;
  while (low < high) {
    const middle = (low + high) >>> 1;
    if (atMs[middle]! < atSeconds * 1_000) low = middle + 1;
    else high = middle;
  }
  const away = (index: number): number => Math.abs((atMs[index] ?? Number.NaN) / 1_000 - atSeconds);
  const index = low > 0 && !(away(low) < away(low - 1)) ? low - 1 : low;
  const value = trace.value[index];
  if (!(away(index) <= mostAwaySeconds) || value === null || value === undefined) return null;
  const letter = trace.quality[index];
  const quality = letter === 'b' ? 'bad' : letter === 's' ? 'suspect' : 'good';
  return { atSeconds: atMs[index]! / 1_000, value, quality };
}

export interface PointDifference {
  /** From the first point to the second; negative where the second lies before. */
  readonly seconds: number;
  /** Null where either point has no reading. */
  readonly change: number | null;
  /** In the unit a minute; null without a change, or where both points are one. */
  readonly changePerMinute: number | null;
}

export function differenceOf(
  first: { readonly atSeconds: number; readonly reading: TraceReading | null },
  second: { readonly atSeconds: number; readonly reading: TraceReading | null },
): PointDifference {
  const seconds = second.atSeconds - first.atSeconds;
  if (first.reading === null || second.reading === null)
    return { seconds, change: null, changePerMinute: null };
  const change = second.reading.value - first.reading.value;
  // By the readings' own times: the points need not lie on them.
  const apart = second.reading.atSeconds - first.reading.atSeconds;
  return { seconds, change, changePerMinute: apart === 0 ? null : (60 * change) / apart };
}

/** The place of the next time after `fromSeconds`, or before it; null where there is none. `times` in order. */
export function jumpFrom(times: readonly number[], fromSeconds: number, direction: 1 | -1): number | null {
  // A hair, so that one who stands on a time goes on to the next.
  const hair = 0.001;
  if (direction === 1) {
    const index = times.findIndex((time) => time > fromSeconds + hair);
    return index === -1 ? null : index;
  }
  const index = times.findLastIndex((time) => time < fromSeconds - hair);
  return index === -1 ? null : index;
}
