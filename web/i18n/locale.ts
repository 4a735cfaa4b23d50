// Numbers and times as the page's language writes them. One language a page, so that formatting a number does not need
// to be handed its language through every chart and table.

import { signal } from '@preact/signals';

/** A BCP 47 tag, set with the language of the page. */
export const formatLocale = signal('en');

/** A sign has no direction of its own: in a text that runs from right to left a mark keeps it before its number. */
export const signPrefix = signal<'' | '\u200e'>('');

const numberFormats = new Map<string, Intl.NumberFormat>();
const dateFormats = new Map<string, Intl.DateTimeFormat>();

/** Writes numbers with a fixed count of decimals, without grouping. */
export function numberFormat(decimals: number): Intl.NumberFormat {
  const key = `${formatLocale.value} ${decimals}`;
  let format = numberFormats.get(key);
  if (format === undefined) {
    format = new Intl.NumberFormat(formatLocale.value, {
      minimumFractionDigits: decimals,
      maximumFractionDigits: decimals,
      useGrouping: false,
    });
    numberFormats.set(key, format);
  }
  return format;
}

export function dateFormat(options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = `${formatLocale.value} ${JSON.stringify(options)}`;
  let format = dateFormats.get(key);
  if (format === undefined) {
    format = new Intl.DateTimeFormat(formatLocale.value, options);
    dateFormats.set(key, format);
  }
  return format;
}
