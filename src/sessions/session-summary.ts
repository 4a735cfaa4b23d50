// What is kept of a session for looking back over weeks: a few measures of each hold, by the column.

import type { MeasuredHold } from './derive-recording.ts';
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
    key: 'timeBackTo95S',
    unit: 's',
  },
  {
    key: 'heartRateBackS',
    unit: 's',
  },
] as const satisfies readonly TrendMeasure[];
export type TrendKey = (typeof trendMeasures)[number]['key'];

/** Columns of equal length, a place a hold, in time order. Null where a recording does not tell. */
export interface SessionSummary {
  readonly holdIds: string[];
  readonly startAtMs: number[];
  /** How sure the duration is: 68 % half-width; 0 where both ends were marked or corrected. */
  readonly durationUncertaintyS: (number | null)[];
  readonly measures: Record<TrendKey, (number | null)[]>;
}

const rounded = (value: number | null): number | null =>
  value === null ? null : Math.round(value * 10) / 10;

/** The columns of a session's holds; holds without an end are left out. */
export function summariseSession(holds: readonly MeasuredHold[]): SessionSummary {
  const finished = holds.filter(({ hold }) => hold.end !== undefined);
  const column = (key: TrendKey) =>
    finished.map(({ measures }) => {
      if (key !== 'spo2FallPercent') return rounded(measures[key] ?? null);
      const start = measures['spo2AtStartPercent'] ?? null;
      const lowest = measures['spo2LowestPercent'] ?? null;
      return start === null || lowest === null ? null : rounded(start - lowest);
    });
  return {
    holdIds: finished.map(({ hold }) => hold.holdId),
    startAtMs: finished.map(({ hold }) => hold.start.atMs),
    durationUncertaintyS: finished.map(({ hold }) =>
      rounded((lengthOfHold(hold)?.uncertaintyMs ?? 0) / 1000),
    ),
    measures: Object.fromEntries(
      trendMeasures.map(({ key }) => [key, column(key)]),
    ) as SessionSummary['measures'],
  };
}
