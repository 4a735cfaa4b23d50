// Local time of any place by the system's time zone data, for files that know no zone.

import type { LocalTime } from '../../src/formats/import-file.ts';

/** The zone of the hub's own machine, such as "Europe/Berlin". */
export const hubTimeZone = (): string => Intl.DateTimeFormat().resolvedOptions().timeZone || 'UTC';

export function isTimeZone(name: string): boolean {
  try {
    new Intl.DateTimeFormat('en', { timeZone: name });
    return true;
  } catch {
    return false;
  }
}

/** Offsets change at whole quarters of an hour only; between two of them one is asked for once. */
const quarterMs = 900_000;

/** Throws RangeError for a zone that the system does not know. */
export function createLocalTime(timeZone: string): LocalTime {
  const format = new Intl.DateTimeFormat('en-US', {
    timeZone,
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  });
  const known = new Map<number, number>();

  function offsetMsAt(unixMs: number): number {
    const quarter = Math.floor(unixMs / quarterMs);
    const before = known.get(quarter);
    if (before !== undefined) return before;
    const atMs = quarter * quarterMs;
    const part = new Map(format.formatToParts(atMs).map(({ type, value }) => [type, Number(value)]));
    const civilMs = Date.UTC(
      part.get('year')!,
      part.get('month')! - 1,
      part.get('day')!,
      part.get('hour')!,
      part.get('minute')!,
      part.get('second')!,
    );
    if (known.size > 10_000) known.clear();
    known.set(quarter, civilMs - atMs);
    return civilMs - atMs;
  }

  return {
    name: timeZone,
    offsetMsAt,
    unixMsOf(civilMs, notBeforeMs = Number.NEGATIVE_INFINITY) {
      // Both offsets in force around it; where they differ, a moment has none, one or two readings.
      const offsets = [offsetMsAt(civilMs - 86_400_000), offsetMsAt(civilMs + 86_400_000)];
      if (offsets[0] === offsets[1]) return civilMs - offsets[0]!;
      const moments = [...new Set(offsets)]
        .map((offsetMs) => civilMs - offsetMs)
        .filter((unixMs) => unixMs + offsetMsAt(unixMs) === civilMs)
        .sort((a, b) => a - b);
      const first = moments.find((unixMs) => unixMs >= notBeforeMs) ?? moments.at(-1);
      return first ?? civilMs - offsets[0]!;
    },
  };
}
