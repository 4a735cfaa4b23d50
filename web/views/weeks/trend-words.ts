// What a measure's last four weeks come to, in one sentence that says how little there is. Pure.

import type { Trend } from '../../../src/sessions/trend.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatDecimal, formatDuration, formatWhole } from '../../state/format.ts';

export type TrendUnit = 's' | '%' | '/min' | 'comfort';

/** Seconds under a minute as seconds, beyond as minutes; others to one decimal. */
export function formatValue(value: number, unit: TrendUnit): string {
  if (unit === 's') return value < 60 ? `${formatWhole(value)}\u202fs` : formatDuration(value * 1000);
  if (unit === 'comfort') return formatDecimal(value, 1);
  return `${formatDecimal(value, 1)}\u202f${unit}`;
}

/** Fewer sessions are said to be little. Our choice: below this an interval is as wide as most changes. */
const littleBelow = 8;

export function trendSentence(trend: Trend, unit: TrendUnit, text: Messages): string {
  const words = text.weeksMore.trend;
  const value = (each: number): string => formatValue(each, unit);
  switch (trend.kind) {
    case 'none':
      return words.none;
    case 'few':
      return words.few(trend.count, value(trend.median));
    case 'moved': {
      const { way, from, to, days, count } = trend;
      return words.moved[way](value(from), value(to), days, count, count < littleBelow);
    }
    case 'level': {
      const { now, before, change } = trend;
      const little = now.count < littleBelow;
      if (before === null) return words.alone(value(now.median), now.count, little);
      return words.beside[change](
        value(now.median),
        now.count,
        value(before.median),
        before.count,
        little || before.count < littleBelow,
      );
    }
  }
}
