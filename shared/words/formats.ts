// Numbers and lengths of time inside sentences, as a language writes them.

export interface Formats {
  /** With a fixed count of decimals: "97.5", in German "97,5". */
  number(value: number, decimals?: number): string;
  /** "2:05", "1:02:05", to the nearest second: the same in every language. */
  clock(durationMs: number): string;
  /** "18 May": a day as days since 1970, whatever the time zone. */
  day(localDay: number): string;
}

/** `tag` is a BCP 47 language tag. */
export function formatsOf(tag: string): Formats {
  const made = new Map<number, Intl.NumberFormat>();
  let days: Intl.DateTimeFormat | undefined;
  return {
    number(value, decimals = 0) {
      let format = made.get(decimals);
      if (format === undefined) {
        format = new Intl.NumberFormat(tag, {
          minimumFractionDigits: decimals,
          maximumFractionDigits: decimals,
          useGrouping: false,
        });
        made.set(decimals, format);
      }
      return format.format(value);
    },
    clock: clockText,
    day(localDay) {
      days ??= new Intl.DateTimeFormat(tag === 'en' ? 'en-GB' : tag, {
        day: 'numeric',
        month: 'long',
        timeZone: 'UTC',
      });
      return days.format(localDay * 86_400_000);
    },
  };
}

/** `h:mm:ss` from one hour, else `m:ss`; rounded to the nearest second. */
export function clockText(durationMs: number): string {
  const total = Math.round(Math.abs(durationMs) / 1_000);
  const seconds = String(total % 60).padStart(2, '0');
  const minutes = Math.floor(total / 60);
  const sign = durationMs < 0 && total > 0 ? '-' : '';
  if (minutes < 60) return `${sign}${minutes}:${seconds}`;
  return `${sign}${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')}:${seconds}`;
}
