// The figures that the list of recordings shows of holds: from what was told live of each athlete's, and from what a kept
// summary says.

import * as z from 'zod/mini';
import type { HoldFigures } from '../../src/sessions/session-summary.ts';

/** One athlete's holds of a session, as they were told live. */
export interface AthleteHolds {
  readonly session_no: number;
  readonly athlete_id: string | null;
  readonly count: number;
  readonly longest_ms: number | null;
  readonly lowest_percent: number | null;
}

const figuresSchema = z.object({
  holdCount: z.number(),
  longestHoldMs: z.nullable(z.number()),
  lowestSpo2Percent: z.nullable(z.number()),
});

/** Undefined for a summary of before they were in it. */
export const figuresOfSummary = (body: unknown): HoldFigures | undefined =>
  figuresSchema.safeParse((body as { readonly figures?: unknown } | null)?.figures).data;

export const figuresToldLive = (
  of: Pick<AthleteHolds, 'count' | 'longest_ms' | 'lowest_percent'> | undefined,
): HoldFigures => ({
  holdCount: of?.count ?? 0,
  longestHoldMs: of?.longest_ms ?? null,
  lowestSpo2Percent: of?.lowest_percent ?? null,
});

/** Over all of them. */
export function figuresTogether(each: readonly HoldFigures[]): HoldFigures {
  const longest = each.flatMap(({ longestHoldMs }) => longestHoldMs ?? []);
  const lowest = each.flatMap(({ lowestSpo2Percent }) => lowestSpo2Percent ?? []);
  return {
    holdCount: each.reduce((sum, { holdCount }) => sum + holdCount, 0),
    longestHoldMs: longest.length === 0 ? null : Math.max(...longest),
    lowestSpo2Percent: lowest.length === 0 ? null : Math.min(...lowest),
  };
}
