// What is kept of a session for looking back: a few measures of each hold, by the column, for the weeks; and what the list of
// recordings says of it.

import type { HoldLungs } from '../../shared/schema-parts.ts';
import type { HoldView } from '../../shared/views.ts';
import { lungsOfMark, type Mark } from '../samples/mark.ts';
import type { MeasuredHold } from './derive-recording.ts';
import { feelingOfHold } from './feeling-of-hold.ts';
import { lengthOfHold } from './hold-length.ts';

export interface TrendMeasure {
  readonly key: string;
  readonly unit: 's' | '%' | '/min';
}

/** In the order in which they are shown; `trend.KEY.is` words what each is. Keys of `measureTable`, but for `spo2FallPercent`. */
export const trendMeasures = [
  {
    key: 'durationS',
    unit: 's',
  },
  {
    key: 'timeToFirstContractionS',
    unit: 's',
  },
  {
    key: 'spo2FallPercent',
    unit: '%',
  },
  {
    key: 'spo2LowestAfterEndS',
    unit: 's',
  },
  {
    key: 'heartRateFallPercent',
    unit: '%',
  },
  {
    key: 'spo2BackToBaselineS',
    unit: 's',
  },
  {
    key: 'spo2HalfTimeS',
    unit: 's',
  },
  {
    key: 'heartRateBackS',
    unit: 's',
  },
  {
    key: 'heartRateHalfBackS',
    unit: 's',
  },
] as const satisfies readonly TrendMeasure[];
export type TrendKey = (typeof trendMeasures)[number]['key'];

/** What the list of recordings says of a recording, or of one athlete's part. */
export interface HoldFigures {
  readonly holdCount: number;
  /** Of holds with an end; null without any. */
  readonly longestHoldMs: number | null;
  /** The lowest reading that belongs to a hold; null where none was read. */
  readonly lowestSpo2Percent: number | null;
}

/** Columns of equal length, a place a hold, in time order. Null where a recording does not tell. */
export interface SessionSummary {
  /** Of all holds, as in the opened recording's headline (session-headline.ts), and not rounded. */
  readonly figures: HoldFigures;
  readonly holdIds: string[];
  readonly startAtMs: number[];
  /** How sure the duration is: 68 % half-width; 0 where both ends were marked or corrected. */
  readonly durationUncertaintyS: (number | null)[];
  readonly measures: Record<TrendKey, (number | null)[]>;
  readonly lungs: (HoldLungs | null)[];
  readonly comfort: (number | null)[];
}

/**
 * How long before a hold's end its lowest reading may lie and still be its end's. Earlier, saturation turned while the hold
 * went on, or the reading was of something else, and how late a finger shows is not told by it. Our choice: as unsure as
 * the two times together.
 */
const nearEndS = 5;

const rounded = (value: number | null): number | null =>
  value === null ? null : Math.round(value * 10) / 10;

/** Never negative: a finger cannot show what has not been. */
const lagS = (measured: number | null): number | null =>
  measured === null || measured < -nearEndS ? null : Math.max(0, measured);

export interface SaidOfHolds {
  /** The athlete's marks, in order of time. */
  readonly marks: readonly Pick<Mark, 'kind' | 'atMs'>[];
  /** As they were told live, with what was said of them. */
  readonly liveHolds: readonly HoldView[];
}

function figuresOf(holds: readonly MeasuredHold[]): HoldFigures {
  const lengths = holds.flatMap(({ hold }) => lengthOfHold(hold)?.durationMs ?? []);
  const lows = holds.flatMap(({ measures }) => measures['spo2LowestPercent'] ?? []);
  return {
    holdCount: holds.length,
    longestHoldMs: lengths.length === 0 ? null : Math.max(...lengths),
    lowestSpo2Percent: lows.length === 0 ? null : Math.min(...lows),
  };
}

/** Of holds that count, without proposals that nobody has accepted. Holds without an end are left out of the columns. */
export function summariseSession(
  holds: readonly MeasuredHold[],
  { marks, liveHolds }: SaidOfHolds = { marks: [], liveHolds: [] },
): SessionSummary {
  const finished = holds.filter(({ hold }) => hold.end !== undefined);
  const column = (key: TrendKey) =>
    finished.map(({ measures }) => {
      if (key === 'spo2LowestAfterEndS') return rounded(lagS(measures[key] ?? null));
      if (key !== 'spo2FallPercent') return rounded(measures[key] ?? null);
      const start = measures['spo2AtStartPercent'] ?? null;
      const lowest = measures['spo2LowestPercent'] ?? null;
      return start === null || lowest === null ? null : rounded(start - lowest);
    });
  return {
    figures: figuresOf(holds),
    holdIds: finished.map(({ hold }) => hold.holdId),
    startAtMs: finished.map(({ hold }) => hold.start.atMs),
    durationUncertaintyS: finished.map(({ hold }) =>
      rounded((lengthOfHold(hold)?.uncertaintyMs ?? 0) / 1000),
    ),
    measures: Object.fromEntries(
      trendMeasures.map(({ key }) => [key, column(key)]),
    ) as SessionSummary['measures'],
    lungs: finished.map(({ hold }, index) =>
      lungsBetween(marks, finished[index - 1]?.hold.end?.atMs ?? 0, hold.end!.atMs),
    ),
    comfort: finished.map(
      ({ hold }) =>
        feelingOfHold({ startMs: hold.start.atMs, endMs: hold.end!.atMs }, liveHolds)?.comfort ?? null,
    ),
  };
}

/** What was said last of the hold that ends at `toMs`: after the one before it, or in it. */
function lungsBetween(marks: SaidOfHolds['marks'], afterMs: number, toMs: number): HoldLungs | null {
  const own = marks.filter(({ atMs }) => atMs > afterMs && atMs <= toMs);
  return own.flatMap(({ kind }) => lungsOfMark[kind] ?? []).at(-1) ?? null;
}
