// The figures that the list of recordings shows of holds, from what was told live of each athlete's.

import type { HoldFigures } from '../base/ports/stored-session.ts';

/** One athlete's holds of a session, as they were told live. */
export interface AthleteHolds {
  readonly session_no: number;
  readonly athlete_id: string | null;
  readonly count: number;
  readonly longest_ms: number | null;
  readonly lowest_percent: number | null;
}

/** Of the athletes who show. */
export function figuresOf(each: readonly AthleteHolds[], hidden: ReadonlySet<string>): HoldFigures {
  const shown = each.filter(({ athlete_id }) => athlete_id === null || !hidden.has(athlete_id));
  const longest = shown.flatMap(({ longest_ms }) => longest_ms ?? []);
  const lowest = shown.flatMap(({ lowest_percent }) => lowest_percent ?? []);
  return {
    holdCount: shown.reduce((sum, { count }) => sum + count, 0),
    longestHoldMs: longest.length === 0 ? null : Math.max(...longest),
    lowestSpo2Percent: lowest.length === 0 ? null : Math.min(...lowest),
  };
}
