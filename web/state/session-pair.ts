// Two sessions of one athlete row by row: which rows of them belong together, and which session to compare with first. Pure.

import type { HistoryBody } from '../../shared/history.ts';
import type { TrendKey } from '../../src/sessions/session-summary.ts';

type PastSession = HistoryBody['sessions'][number];

export interface PairedRow {
  /** A row of the plan both were run by, else the place of the hold in its session; counted from one. */
  readonly number: number;
  /** Places in the summaries' columns; null where that session has no such row. */
  readonly one: number | null;
  readonly other: number | null;
}

export const sharedPlan = (one: PastSession, other: PastSession): string | null =>
  one.plans.find((plan) => other.plans.includes(plan)) ?? null;

/** By rows of the plan where both were run by one, else hold by hold. */
export function pairedRows(
  one: PastSession,
  other: PastSession,
): { byPlan: boolean; rows: readonly PairedRow[] } {
  const byPlan =
    sharedPlan(one, other) !== null &&
    one.planRows.some((row) => row !== null) &&
    other.planRows.some((row) => row !== null);
  const numbersOf = (session: PastSession): ReadonlyMap<number, number> => {
    const places = new Map<number, number>();
    (session.summary?.holdIds ?? []).forEach((_, place) => {
      const number = byPlan ? session.planRows[place] : place + 1;
      // A row that was run twice is its first run.
      if (number !== null && number !== undefined && !places.has(number)) places.set(number, place);
    });
    return places;
  };
  const [ofOne, ofOther] = [numbersOf(one), numbersOf(other)];
  const numbers = [...new Set([...ofOne.keys(), ...ofOther.keys()])].toSorted((a, b) => a - b);
  return {
    byPlan,
    rows: numbers.map((number) => ({
      number,
      one: ofOne.get(number) ?? null,
      other: ofOther.get(number) ?? null,
    })),
  };
}

/** A measure of one hold; null where it is not known or there is no such hold. */
export const valueAt = (session: PastSession, key: TrendKey, place: number | null): number | null =>
  place === null ? null : (session.summary?.measures[key]?.[place] ?? null);

/** The last session before `session` by the same plan; undefined where there is none, or it was run by none. */
export const lastOfSamePlan = (
  sessions: readonly PastSession[],
  session: PastSession,
): PastSession | undefined =>
  sessions.findLast(
    (each) => each.startedWallAtMs < session.startedWallAtMs && sharedPlan(each, session) !== null,
  );

const dayMs = 86_400_000;
const backDays = 56;
/** Further from eight weeks it would be called another time. Our choice. */
const withinDays = 10;

/** The session nearest to eight weeks before; undefined where none is within ten days of that. */
export function eightWeeksBefore(
  sessions: readonly PastSession[],
  session: PastSession,
): PastSession | undefined {
  const atMs = session.startedWallAtMs - backDays * dayMs;
  const away = (each: PastSession): number => Math.abs(each.startedWallAtMs - atMs);
  return sessions.filter((each) => away(each) <= withinDays * dayMs).toSorted((a, b) => away(a) - away(b))[0];
}
