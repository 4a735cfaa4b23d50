// Calendar dates of Unix milliseconds and back, in UTC: the core has no Date. Proleptic Gregorian calendar, no leap
// seconds, as Unix time has none. Checked against the platform's Date in the tests.

export interface CivilTime {
  readonly year: number;
  /** 1 to 12. */
  readonly month: number;
  readonly day: number;
  readonly hour: number;
  readonly minute: number;
  readonly second: number;
  readonly millisecond: number;
}

const dayMs = 86_400_000;
/** A Gregorian cycle, and the days from 0000-03-01 to 1970-01-01. Years that begin in March end with the leap day. */
const cycleDays = 146_097;
const epochDays = 719_468;

export function civilTimeOf(unixMs: number): CivilTime {
  const days = Math.floor(unixMs / dayMs);
  let rest = Math.floor(unixMs - days * dayMs);
  const shifted = days + epochDays;
  const cycle = Math.floor(shifted / cycleDays);
  const dayOfCycle = shifted - cycle * cycleDays;
  const yearOfCycle = Math.floor(
    (dayOfCycle -
      Math.floor(dayOfCycle / 1_460) +
      Math.floor(dayOfCycle / 36_524) -
      Math.floor(dayOfCycle / 146_096)) /
      365,
  );
  const dayOfYear =
    dayOfCycle - (365 * yearOfCycle + Math.floor(yearOfCycle / 4) - Math.floor(yearOfCycle / 100));
  // Months from March have 30.6 days on average, in the pattern 31 30 31 30 31.
  const monthFromMarch = Math.floor((5 * dayOfYear + 2) / 153);
  const day = dayOfYear - Math.floor((153 * monthFromMarch + 2) / 5) + 1;
  const month = monthFromMarch < 10 ? monthFromMarch + 3 : monthFromMarch - 9;
  const year = yearOfCycle + cycle * 400 + (month <= 2 ? 1 : 0);
  const take = (size: number): number => {
    const count = Math.floor(rest / size);
    rest -= count * size;
    return count;
  };
  return {
    year,
    month,
    day,
    hour: take(3_600_000),
    minute: take(60_000),
    second: take(1_000),
    millisecond: rest,
  };
}

/** Undefined for what is no date or time of day, such as 31 February. */
export function unixMsOf(civil: CivilTime): number | undefined {
  const { year, month, day, hour, minute, second, millisecond } = civil;
  if (!(hour >= 0 && hour < 24 && minute >= 0 && minute < 60 && second >= 0 && second < 60)) return undefined;
  if (!(month >= 1 && month <= 12 && day >= 1 && day <= 31)) return undefined;
  const marchYear = month <= 2 ? year - 1 : year;
  const cycle = Math.floor(marchYear / 400);
  const yearOfCycle = marchYear - cycle * 400;
  const monthFromMarch = month > 2 ? month - 3 : month + 9;
  const dayOfYear = Math.floor((153 * monthFromMarch + 2) / 5) + day - 1;
  const dayOfCycle =
    yearOfCycle * 365 + Math.floor(yearOfCycle / 4) - Math.floor(yearOfCycle / 100) + dayOfYear;
  const days = cycle * cycleDays + dayOfCycle - epochDays;
  const unixMs = days * dayMs + hour * 3_600_000 + minute * 60_000 + second * 1_000 + millisecond;
  const back = civilTimeOf(unixMs);
  return back.month === month && back.day === day ? unixMs : undefined;
}

const digits = (value: number, width: number): string => String(value).padStart(width, '0');

/** As ISO 8601 with milliseconds and Z, for years 0 to 9999. */
export function isoTextOf(unixMs: number): string {
  const { year, month, day, hour, minute, second, millisecond } = civilTimeOf(unixMs);
  return (
    `${digits(year, 4)}-${digits(month, 2)}-${digits(day, 2)}` +
    `T${digits(hour, 2)}:${digits(minute, 2)}:${digits(second, 2)}.${digits(millisecond, 3)}Z`
  );
}
