// Past sessions as the weeks show them: time held, medians, and points against date. Pure, but for the reader's time zone.

import type { HistoryBody } from '../../../shared/history.ts';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { quantileOfSorted, sortedRising } from '../../../src/sessions/quantiles.ts';
import type { TrendKey } from '../../../src/sessions/session-summary.ts';
import type { RatedSession } from '../../../src/training/training-load.ts';
import { minutesOfEntry } from '../../../src/training/training-load.ts';
import { localDay } from '../../state/calendar.ts';

export type PastSession = HistoryBody['sessions'][number];

/** One value against date, with its range. */
export interface TrendPoint {
  /** Days since 1970 by the local calendar, with the time of day as a fraction. */
  readonly atDay: number;
  readonly value: number;
  readonly least: number;
  readonly greatest: number;
  /** Where it comes from; null for an entry of the log. */
  readonly sessionId: string | null;
}

export const hasHolds = ({ summary }: PastSession): boolean => (summary?.holdIds.length ?? 0) > 0;

export const heldMsOf = ({ summary }: PastSession): number =>
  (summary?.measures['durationS'] ?? []).reduce<number>((sum, seconds) => sum + (seconds ?? 0), 0) * 1000;

/** How hard and how long the session was, for its load. */
export const ratedOf = ({ details, durationMs }: PastSession): RatedSession => ({
  effort: details?.effort ?? null,
  minutes: durationMs / 60_000,
});

export const ratedOfEntry = (entry: TrainingEntry): RatedSession => ({
  effort: entry.effort,
  minutes: minutesOfEntry(entry),
});

/** What is known of a measure, rising. */
function knownValues({ summary }: PastSession, key: TrendKey): readonly number[] {
  return sortedRising((summary?.measures[key] ?? []).filter((value) => value !== null));
}

/** Median over a session's holds; null where it is known of none. */
export const medianOf = (session: PastSession, key: TrendKey): number | null =>
  quantileOfSorted(knownValues(session, key), 0.5);

/** In the order of `sessions`; those in which the measure is not known are left out. */
export function trendPoints(sessions: readonly PastSession[], key: TrendKey): TrendPoint[] {
  return sessions.flatMap((session) => {
    const values = knownValues(session, key);
    const value = quantileOfSorted(values, 0.5);
    if (value === null) return [];
    const atDay = dayWithTime(session.startedWallAtMs);
    return [{ atDay, value, least: values[0]!, greatest: values.at(-1)!, sessionId: session.sessionId }];
  });
}

/** How comfortable sessions and trainings were said to be, in order of date. */
export function comfortPoints(
  felt: readonly {
    readonly comfort: number | null;
    readonly startedWallAtMs: number;
    readonly sessionId?: string;
  }[],
): TrendPoint[] {
  return felt
    .flatMap(({ comfort, startedWallAtMs, sessionId = null }) =>
      comfort === null
        ? []
        : [
            {
              atDay: dayWithTime(startedWallAtMs),
              value: comfort,
              least: comfort,
              greatest: comfort,
              sessionId,
            },
          ],
    )
    .sort((a, b) => a.atDay - b.atDay);
}

/** Two sessions of one day stand beside each other. */
function dayWithTime(wallAtMs: number): number {
  const date = new Date(wallAtMs);
  return localDay(wallAtMs) + (date.getHours() * 60 + date.getMinutes()) / 1440;
}
