// Times as tables have them: clocks, dates in any usual order with 12 or 24 hours, days of spreadsheets, Unix time. A date
// without a zone is local time of the zone that is given.

import { unixMsOf } from '../civil-date.ts';
import type { LocalTime } from '../import-file.ts';
import { numberOf } from './cells.ts';

export type TimeUnit =
  | 's'
  | 'ms'
  | 'min'
  | 'clock'
  | 'dateTime'
  | 'unixS'
  | 'unixMs'
  | 'unixUs'
  | 'days'
  | 'serialDays'
  | 'beats';
export type DateOrder = 'yearFirst' | 'dayFirst' | 'monthFirst';

/** Units whose times are moments of the calendar rather than from some beginning. */
export const isWallUnit = (unit: TimeUnit): boolean =>
  unit === 'dateTime' || unit === 'serialDays' || unit.startsWith('unix');

/** English, German, French, Spanish and Italian short names begin with these. */
const monthNames = [
  ['jan', 'ene', 'gen'],
  ['feb', 'fev'],
  ['mar', 'mrz'],
  ['apr', 'avr', 'abr'],
  ['may', 'mai', 'mag'],
  ['jun', 'juin', 'giu'],
  ['jul', 'juil', 'lug'],
  ['aug', 'aou', 'ago'],
  ['sep', 'set'],
  ['oct', 'okt', 'ott'],
  ['nov'],
  ['dec', 'dez', 'dic'],
] as const;

function monthOf(text: string): number {
  const bare = text.normalize('NFKD').replaceAll(/\p{M}/gu, '').toLowerCase();
  if (bare.startsWith('juil')) return 7;
  return monthNames.findIndex((names) => names.some((name) => bare.startsWith(name))) + 1;
}

export interface ClockTime {
  readonly seconds: number;
  /** Twelve hours are added to. */
  readonly half: 'am' | 'pm' | null;
}

const clockPattern =
  /^(?:(\d{1,3})[:hH])?(\d{1,3})[:.mM](\d{1,2}(?:[.,:]\d{1,9})?)\s*s?\s*(?:([AaPp])\.?\s?[Mm]\.?)?$/;
const hourMinutePattern = /^(\d{1,2})[:hH](\d{2})\s*(?:([AaPp])\.?\s?[Mm]\.?)$/;

/** "1:02:03.5", "02:03", "1:02:03 PM", "1:02 pm". Undefined for anything else. */
export function clockSecondsOf(cell: string): number | undefined {
  if (!/[:hH]/.test(cell)) return undefined;
  const short = hourMinutePattern.exec(cell);
  if (short !== null) return hoursOf(Number(short[1]), short[3]) * 3_600 + Number(short[2]) * 60;
  const parts = clockPattern.exec(cell);
  if (parts === null) return undefined;
  const seconds = Number(parts[3]!.replace(/[,:]/, '.'));
  if (!(seconds < 61)) return undefined;
  if (parts[1] === undefined) return Number(parts[2]) * 60 + seconds;
  if (Number(parts[2]) > 59) return undefined;
  return hoursOf(Number(parts[1]), parts[4]) * 3_600 + Number(parts[2]) * 60 + seconds;
}

/** 12 am is midnight, 12 pm noon. */
function hoursOf(hours: number, half: string | undefined): number {
  if (half === undefined) return hours;
  return (hours % 12) + (half.toLowerCase() === 'p' ? 12 : 0);
}

interface DateParts {
  /** Date numbers as they stand, or with a named month in its place as `month`. */
  readonly numbers: readonly [number, number, number];
  readonly month: number | undefined;
  readonly yearFirst: boolean;
  /** What stands after the date. */
  readonly rest: string;
  readonly separator: string;
}

const numericDate = /^(\d{1,4})([-/.])(\d{1,2})\2(\d{2,4})(?:\.?[T ,]+|$)/;
const dayNamedDate = /^(?:\p{L}{2,9}\.?,?\s+)?(\d{1,2})\.?[-\s/](\p{L}{3,9})\.?[-\s/](\d{2,4})(?:,?[T ]+|$)/u;
const namedDayDate = /^(?:\p{L}{2,9}\.?,?\s+)?(\p{L}{3,9})\.?\s(\d{1,2}),?\s(\d{4})(?:,?[T ]+|$)/u;
const compactDate = /^(\d{4})(\d{2})(\d{2})(?:[T ]+|$)/;

export function datePartsOf(cell: string): DateParts | undefined {
  const first = cell.charCodeAt(0);
  if (first >= 48 && first <= 57) {
    const numeric = numericDate.exec(cell) ?? undefined;
    if (numeric !== undefined) {
      const yearFirst = numeric[1]!.length === 4;
      // "2.500.000" is a number; "10.5.3" no date either.
      if (!yearFirst && numeric[1]!.length > 2) return undefined;
      if (yearFirst && numeric[4]!.length > 2) return undefined;
      return {
        numbers: [Number(numeric[1]), Number(numeric[3]), Number(numeric[4])],
        month: undefined,
        yearFirst,
        rest: cell.slice(numeric[0].length),
        separator: numeric[2]!,
      };
    }
    const compact = compactDate.exec(cell);
    if (compact !== null)
      return {
        numbers: [Number(compact[1]), Number(compact[2]), Number(compact[3])],
        month: undefined,
        yearFirst: true,
        rest: cell.slice(compact[0].length),
        separator: '',
      };
  }
  const dayFirst = dayNamedDate.exec(cell);
  const named = dayFirst ?? namedDayDate.exec(cell);
  if (named === null) return undefined;
  const month = monthOf(dayFirst !== null ? named[2]! : named[1]!);
  if (month === 0) return undefined;
  const day = Number(dayFirst !== null ? named[1] : named[2]);
  return {
    numbers: [day, month, Number(named[3])],
    month,
    yearFirst: false,
    rest: cell.slice(named[0].length),
    separator: ' ',
  };
}

/** A two-digit year is of 1970 to 2069. */
const fullYear = (year: number): number => (year >= 100 ? year : year + (year >= 70 ? 1900 : 2000));

export interface CivilMoment {
  /** Local date and time as if it were UTC. */
  readonly civilMs: number;
  /** Minutes ahead of UTC where the cell says so. */
  readonly offsetMinutes: number | undefined;
}

/** A date with a time of day, or alone (then of midnight). `order` counts for numbers that say nothing themselves. */
export function civilMomentOf(cell: string, order: DateOrder): CivilMoment | undefined {
  const parts = datePartsOf(cell);
  if (parts === undefined) return undefined;
  const [a, b, c] = parts.numbers;
  const [year, month, day] = parts.yearFirst
    ? [a, b, c]
    : parts.month !== undefined || order !== 'monthFirst'
      ? [fullYear(c), b, a]
      : [fullYear(c), a, b];
  const dateMs = unixMsOf({ year, month, day, hour: 0, minute: 0, second: 0, millisecond: 0 });
  if (dateMs === undefined) return undefined;
  let rest = parts.rest.trim();
  let offsetMinutes: number | undefined;
  const zone = /\s*(Z|UTC|GMT|[+-]\d{2}:?\d{2}|[+-]\d{2})$/.exec(rest);
  if (zone !== null) {
    rest = rest.slice(0, zone.index);
    const text = zone[1]!;
    const signed = /^([+-])(\d{2}):?(\d{2})?$/.exec(text);
    offsetMinutes =
      signed === null ? 0 : (signed[1] === '-' ? -1 : 1) * (Number(signed[2]) * 60 + Number(signed[3] ?? 0));
  }
  if (rest === '') return { civilMs: dateMs, offsetMinutes };
  // "10:00" after a date is hours and minutes.
  const short = /^(\d{1,2})[:.hH](\d{2})$/.exec(rest);
  const seconds =
    short !== null
      ? Number(short[1]) * 3_600 + Number(short[2]) * 60
      : clockSecondsOf(rest.replace(/^(\d{1,2})\.(\d{2})\.(\d{2})/, '$1:$2:$3'));
  if (seconds === undefined || seconds >= 86_401) return undefined;
  return { civilMs: dateMs + Math.round(seconds * 1e6) / 1e3, offsetMinutes };
}

export const looksLikeDate = (cell: string): boolean =>
  civilMomentOf(cell, 'dayFirst') !== undefined || civilMomentOf(cell, 'monthFirst') !== undefined;

/** Which orders these dates allow; `asked` where both do and nothing tells. */
export function dateOrderOf(cells: Iterable<string>): { order: DateOrder; ambiguous: boolean } {
  let dayFirst = true;
  let monthFirst = true;
  let dotted = false;
  for (const cell of cells) {
    const parts = datePartsOf(cell);
    if (parts === undefined) continue;
    if (parts.yearFirst || parts.month !== undefined) return { order: 'yearFirst', ambiguous: false };
    const [a, b] = parts.numbers;
    if (a > 12) monthFirst = false;
    if (b > 12) dayFirst = false;
    if (parts.separator === '.') dotted = true;
  }
  // Dots are written by people who put the day first (DIN 1355-1 and its like; no month-first country uses them).
  if (dotted) monthFirst &&= !dayFirst;
  return { order: dayFirst ? 'dayFirst' : 'monthFirst', ambiguous: dayFirst && monthFirst };
}

/** Day 25569 of a spreadsheet (1900 system) is 1 January 1970. */
const serialEpochDay = 25_569;
const dayMs = 86_400_000;
/** From 1990 to 2100: outside of it another unit was meant. */
const leastUnixMs = 631_152_000_000;
const mostUnixMs = 4_102_444_800_000;
/** A fortnight, for times from the start. */
const mostElapsedMs = 1_209_600_000;

/** Milliseconds of a cell in its unit, on the calendar for wall units. Undefined where it is no such time. */
export function timeMsOf(
  cell: string,
  unit: TimeUnit,
  order: DateOrder,
  zone: LocalTime,
  notBeforeMs?: number,
): number | undefined {
  if (unit === 'dateTime') {
    const moment = civilMomentOf(cell, order);
    if (moment === undefined) return undefined;
    return moment.offsetMinutes === undefined
      ? zone.unixMsOf(moment.civilMs, notBeforeMs)
      : moment.civilMs - moment.offsetMinutes * 60_000;
  }
  if (unit === 'clock') {
    const seconds = clockSecondsOf(cell);
    return seconds === undefined ? undefined : Math.round(seconds * 1e6) / 1e3;
  }
  const value = numberOf(cell);
  if (Number.isNaN(value)) return undefined;
  switch (unit) {
    case 'serialDays': {
      // To the millisecond, which is finer than a spreadsheet's own rounding.
      const civilMs = Math.round((value - serialEpochDay) * dayMs);
      return civilMs >= leastUnixMs && civilMs <= mostUnixMs
        ? zone.unixMsOf(civilMs, notBeforeMs)
        : undefined;
    }
    case 'unixS':
    case 'unixMs':
    case 'unixUs': {
      const unixMs =
        unit === 'unixS' ? Math.round(value * 1e6) / 1e3 : unit === 'unixMs' ? value : value / 1e3;
      return unixMs >= leastUnixMs && unixMs <= mostUnixMs ? unixMs : undefined;
    }
    default: {
      const ms =
        unit === 's'
          ? Math.round(value * 1e6) / 1e3
          : unit === 'min'
            ? Math.round(value * 6e7) / 1e3
            : unit === 'days'
              ? Math.round(value * dayMs)
              : value;
      return ms >= 0 && ms <= mostElapsedMs ? ms : undefined;
    }
  }
}
