// Numbers into text: durations, ages, clock times, margins, as the page's language writes them. Words come from the
// catalogue.

import { lengthText } from '../../shared/words/lengths.ts';
import { dateFormat, formatLocale, numberFormat, signPrefix } from '../i18n/locale.ts';

/** 83_400 -> "1:23". Hours appear only when there are any. Never rounds up: a second counts when it is over. */
export function formatDuration(durationMs: number): string {
  const totalSeconds = Math.max(0, Math.floor(durationMs / 1000));
  const hours = Math.floor(totalSeconds / 3600);
  const minutes = Math.floor((totalSeconds % 3600) / 60);
  const seconds = String(totalSeconds % 60).padStart(2, '0');
  return hours > 0 ? `${hours}:${String(minutes).padStart(2, '0')}:${seconds}` : `${minutes}:${seconds}`;
}

/** To a tenth of a second: 91_300 -> "1:31.3". */
export function formatExactTime(atMs: number): string {
  const tenths = Math.floor((Math.max(0, atMs) % 1000) / 100);
  return `${formatDuration(atMs)}.${tenths}`;
}

/** Whole number for a readout. */
export function formatWhole(value: number): string {
  return String(Math.round(value));
}

/** A count with the reader's separators. */
export const formatCount = (count: number): string => numberFormat(0).format(count);

/** In megabytes of 2^20 bytes, or gigabytes of 2^30 from one up. */
export function formatBytes(bytes: number): string {
  const isLarge = bytes >= 2 ** 30;
  const value = bytes / (isLarge ? 2 ** 30 : 2 ** 20);
  return `${numberFormat(1).format(value)}\u202f${isLarge ? 'GB' : 'MB'}`;
}

/** A margin with its sign and a true minus. */
export function formatSigned(value: number): string {
  const whole = Math.round(value);
  if (whole === 0) return '0';
  return `${signPrefix.value}${whole > 0 ? '+' : '\u2212'}${Math.abs(whole)}`;
}

/** Age in whole seconds, or minutes from two minutes up: "3 s", "4 min". */
export function formatAge(ageMs: number): string {
  const seconds = Math.floor(ageMs / 1000);
  return seconds < 120 ? `${seconds}\u202fs` : `${Math.floor(seconds / 60)}\u202fmin`;
}

/** Date and time of day in the reader's own time zone. */
export function formatWallTime(wallAtMs: number): string {
  return dateFormat({ dateStyle: 'medium', timeStyle: 'short' }).format(wallAtMs);
}

/** The day in the reader's own time zone. */
export function formatWallDay(wallAtMs: number): string {
  return dateFormat({ dateStyle: 'medium' }).format(wallAtMs);
}

/** Time of day to the second, with the date where it is not today's. */
export function formatClockTime(wallAtMs: number, nowWallMs: number): string {
  const isToday = new Date(wallAtMs).toDateString() === new Date(nowWallMs).toDateString();
  return dateFormat(isToday ? { timeStyle: 'medium' } : { dateStyle: 'medium', timeStyle: 'medium' }).format(
    wallAtMs,
  );
}

/** A measure's value: whole numbers bare, others to one decimal; a count needs no unit. */
export function formatMeasure(value: number, unit: string): string {
  const text = Number.isInteger(value) ? String(value) : formatDecimal(value, 1);
  return unit === 'count' ? text : `${text}\u202f${unit.replaceAll(' ', '\u202f')}`;
}

/** With a fixed number of decimals: "97.5", in German "97,5". */
export function formatDecimal(value: number, decimals: number): string {
  return numberFormat(decimals).format(value);
}

/** Of a pool, or swum in one, in the unit of the pool: "25 m", "16⅔ m", "50 yd". */
export const formatLength = (meters: number): string =>
  lengthText(meters, (value, decimals = 0) => formatDecimal(value, decimals));

/** "Mira, Teo and Sana". */
export function formatList(names: readonly string[]): string {
  return new Intl.ListFormat(formatLocale.value, { type: 'conjunction' }).format(names);
}

/** Letters of scripts that are written from right to left. */
const rightToLeft =
  /[\p{Script=Hebrew}\p{Script=Arabic}\p{Script=Syriac}\p{Script=Thaana}\p{Script=Nko}\p{Script=Adlam}]/u;

/** A name in a sentence: one from right to left turns nothing else round (first strong isolate, Unicode UAX 9). */
export const isolated = (name: string): string => (rightToLeft.test(name) ? `\u2068${name}\u2069` : name);

/** Letters, not code units: an accent or an emoji is not cut in two. */
const letters = new Intl.Segmenter(undefined, { granularity: 'grapheme' });

/** A name in an alarm or on a button, where what follows it must be seen too: cut where it is longer than most. */
export function shortened(name: string, mostLetters = 32): string {
  const all = [...letters.segment(name)];
  const cut = all.slice(0, mostLetters - 1).map(({ segment }) => segment);
  return isolated(all.length <= mostLetters ? name : `${cut.join('').trimEnd()}\u2026`);
}
