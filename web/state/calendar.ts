// Days and weeks in the reader's own time zone, for calendars and axes. Pure, but for the zone and the page's language.

import { type LoadOfWeek, loadOfWeek, type RatedSession } from '../../src/training/training-load.ts';
import { dateFormat } from '../i18n/locale.ts';

/** Days since 1970 by the local calendar: the same for every time of one day, and one more for the next. */
export function localDay(wallAtMs: number): number {
  const date = new Date(wallAtMs);
  return Math.round(Date.UTC(date.getFullYear(), date.getMonth(), date.getDate()) / 86_400_000);
}

/** 0 for Monday. 1970-01-01 was a Thursday. */
export const weekdayOf = (day: number): number => (((day + 3) % 7) + 7) % 7;

/** The Monday of a day's week. */
export const mondayOf = (day: number): number => day - weekdayOf(day);

/** "12 Mar" */
export function formatDay(day: number): string {
  return dateFormat({ day: 'numeric', month: 'short', timeZone: 'UTC' }).format(day * 86_400_000);
}

export interface DayLoad {
  readonly day: number;
  readonly sessionCount: number;
  readonly heldMs: number;
  readonly entryCount: number;
}

export interface WeekLoad {
  /** Its Monday. */
  readonly day: number;
  /** Monday to Sunday; null for a day with nothing. */
  readonly days: readonly (DayLoad | null)[];
  readonly sessionCount: number;
  readonly heldMs: number;
  /** Effort times minutes of all of it. */
  readonly load: LoadOfWeek;
}

/** Weeks from the one of `firstDay` to the one of `lastDay`, the newest first. */
export function weeksOfLoad(
  sessions: readonly { readonly day: number; readonly heldMs: number; readonly rated: RatedSession }[],
  entries: readonly { readonly day: number; readonly rated: RatedSession }[],
  firstDay: number,
  lastDay: number,
): WeekLoad[] {
  const days = new Map<number, DayLoad>();
  const at = (day: number): DayLoad => days.get(day) ?? { day, sessionCount: 0, heldMs: 0, entryCount: 0 };
  for (const { day, heldMs } of sessions) {
    const before = at(day);
    days.set(day, { ...before, sessionCount: before.sessionCount + 1, heldMs: before.heldMs + heldMs });
  }
  for (const { day } of entries) {
    const before = at(day);
    days.set(day, { ...before, entryCount: before.entryCount + 1 });
  }
  const rated = new Map<number, RatedSession[]>();
  for (const { day, rated: own } of [...sessions, ...entries]) {
    const monday = mondayOf(day);
    const known = rated.get(monday);
    if (known === undefined) rated.set(monday, [own]);
    else known.push(own);
  }
  const weeks: WeekLoad[] = [];
  for (let monday = mondayOf(lastDay); monday >= mondayOf(firstDay); monday -= 7) {
    const own = Array.from({ length: 7 }, (_, weekday) => days.get(monday + weekday) ?? null);
    weeks.push({
      day: monday,
      days: own,
      sessionCount: own.reduce((sum, day) => sum + (day?.sessionCount ?? 0), 0),
      heldMs: own.reduce((sum, day) => sum + (day?.heldMs ?? 0), 0),
      load: loadOfWeek(rated.get(monday) ?? []),
    });
  }
  return weeks;
}
