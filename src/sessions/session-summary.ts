// What is kept of a session for looking back over weeks: a few measures of each hold, by the column.

import type { MeasuredHold } from './derive-recording.ts';

export interface TrendMeasure {
  readonly key: string;
  readonly label: string;
  readonly unit: 's' | '%' | '/min';
  readonly definition: string;
}

/** In the order in which they are shown. Keys of `measureTable`, but for `spo2FallPercent`. */
export const trendMeasures = [
  {
    key: 'durationS',
    label: 'Duration',
    unit: 's',
    definition: 'End of each hold less its start.',
  },
  {
    key: 'timeToFirstContractionS',
    label: 'Contraction onset',
    unit: 's',
    definition: 'First contraction mark less the start of the hold. Only where one was marked.',
  },
  {
    key: 'spo2FallPercent',
    label: 'Saturation fall',
    unit: '%',
    definition: 'Saturation at the start less the lowest that belongs to the hold.',
  },
  {
    key: 'spo2LowestAfterEndS',
    label: 'Saturation lag',
    unit: 's',
    definition: 'Time from the end of the hold to the lowest reading: how late this finger is.',
  },
  {
    key: 'heartRateFallPercent',
    label: 'Heart-rate response',
    unit: '%',
    definition: 'Resting less lowest heart rate, as a share of the resting rate.',
  },
  {
    key: 'timeBackTo95S',
    label: 'Saturation recovery',
    unit: 's',
    definition: 'Time from the end of the hold back to 95 %. Only where it was below.',
  },
  {
    key: 'heartRateBackS',
    label: 'Heart-rate recovery',
    unit: 's',
    definition: 'Time from the end of the hold until heart rate is back near resting.',
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
      rounded(Math.hypot(hold.start.uncertaintyMs, hold.end!.uncertaintyMs) / 1000),
    ),
    measures: Object.fromEntries(
      trendMeasures.map(({ key }) => [key, column(key)]),
    ) as SessionSummary['measures'],
  };
}
