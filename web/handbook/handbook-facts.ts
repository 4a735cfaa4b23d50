// What the handbook's text has filled in: words of the page and numbers of the program, each from its own place.

import { floorRangePercent } from '../../shared/schema-parts.ts';
import { alarmLimits } from '../../src/alarms/alarm-limits.ts';
import type { Messages } from '../i18n/en.ts';
import type { HandbookLanguage } from './chapters.ts';
import type { ChapterFacts } from './compile-chapter.ts';

/**
 * `t:setup.start` is a word of the page; `t:frame.title.monitoringStopped|12:00` one that takes values. `s:staleMs` is an
 * alarm limit in seconds, `n:batteryLowPercent` one as it is, `floor:least` an end of the floor's range in percent.
 */
export function handbookFacts(language: HandbookLanguage, messages: Messages): ChapterFacts {
  const number = (value: number): string => new Intl.NumberFormat(language).format(value);
  const limit = (name: string): number | undefined =>
    Object.entries(alarmLimits).find(([key]) => key === name)?.[1];
  const fills: Readonly<Record<string, (name: string) => string | undefined>> = {
    t: (name) => wordOf(messages, name),
    s: (name) => scaled(limit(name), (ms) => `${number(ms / 1_000)}\u202fs`),
    n: (name) => scaled(limit(name), number),
    floor: (name) => {
      const percent = Object.entries(floorRangePercent).find(([key]) => key === name)?.[1];
      return scaled(percent, (value) => `${number(value)}\u202f%`);
    },
  };
  return { fill: (kind, name) => fills[kind]?.(name) };
}

const scaled = (value: number | undefined, as: (value: number) => string): string | undefined =>
  value === undefined ? undefined : as(value);

function wordOf(messages: Messages, name: string): string | undefined {
  const [path = '', ...values] = name.split('|');
  let here: unknown = messages;
  for (const key of path.split('.')) {
    if (typeof here !== 'object' || here === null || !Object.hasOwn(here, key)) return undefined;
    here = (here as Readonly<Record<string, unknown>>)[key];
  }
  const word: unknown = typeof here === 'function' ? here(...values) : here;
  return typeof word === 'string' ? word : undefined;
}
