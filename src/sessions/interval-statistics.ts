// What one channel's readings say of a stretch of a recording: least, greatest, mean, and how long they lay below a limit.
// Time is counted as the measures of holds count it (src/holds/measures.ts): a reading stands until the next, 5 s at most.

/** Samples of a channel, oldest first; one letter of quality a sample: g good, s suspect, b bad. */
export interface IntervalSamples {
  readonly atMs: readonly number[];
  readonly value: readonly (number | null)[];
  readonly quality: string;
}

export interface IntervalStatistics {
  /** Good readings that lie in the stretch; the others are left out of everything. */
  readonly readingCount: number;
  readonly leftOutCount: number;
  readonly least: number | null;
  readonly greatest: number | null;
  /** Weighted by how long each reading stands; null without two readings that follow each other. */
  readonly mean: number | null;
  /** Null without a limit, or without two readings. */
  readonly belowSeconds: number | null;
}

/** Longer than this no reading speaks for what came after it. */
const longestStandsMs = 5_000;

/** From `fromMs` to `toMs`, both included. */
export function intervalStatistics(
  { atMs, value, quality }: IntervalSamples,
  fromMs: number,
  toMs: number,
  limit: number | null,
): IntervalStatistics {
  const times: number[] = [];
  const values: number[] = [];
  let leftOutCount = 0;
  atMs.forEach((at, index) => {
    if (at < fromMs || at > toMs) return;
    const reading = value[index];
    if (reading === null || reading === undefined || quality[index] !== 'g') leftOutCount += 1;
    else {
      times.push(at);
      values.push(reading);
    }
  });
  let [least, greatest, sum, standsMs, belowMs] = [
    Number.POSITIVE_INFINITY,
    Number.NEGATIVE_INFINITY,
    0,
    0,
    0,
  ];
  values.forEach((reading, index) => {
    least = Math.min(least, reading);
    greatest = Math.max(greatest, reading);
    const next = times[index + 1];
    if (next === undefined) return;
    const ms = Math.min(longestStandsMs, next - times[index]!);
    sum += reading * ms;
    standsMs += ms;
    if (limit !== null && reading < limit) belowMs += ms;
  });
  const isKnown = values.length > 0;
  return {
    readingCount: values.length,
    leftOutCount,
    least: isKnown ? least : null,
    greatest: isKnown ? greatest : null,
    mean: standsMs > 0 ? sum / standsMs : null,
    belowSeconds: limit !== null && values.length > 1 ? belowMs / 1_000 : null,
  };
}
