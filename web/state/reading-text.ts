// A reading as the page words it: the number or its absence, and one line on its age and quality. Pure.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import type { Readout } from '../../shared/views.ts';
import type { Messages } from '../i18n/en.ts';
import { formatAge, formatWhole } from './format.ts';
import { type Freshness, readingState } from './freshness.ts';

export interface ReadingText {
  /** The number, or dashes where none may be shown. */
  readonly number: string;
  readonly freshness: Freshness;
  readonly quality: SampleQuality | null;
  /** Age, and what is wrong if anything is. */
  readonly note: string;
}

const noNumber = '\u2013\u2009\u2013';

/** Words the reasons a sample is less than good. */
function wordReasons(reasons: readonly string[], text: Messages): string {
  if (reasons.length === 0) return text.qualityUnknown;
  return reasons.map((reason) => text.quality[reason] ?? reason).join(', ');
}

export function readingText(
  readout: Readout,
  nowMs: number | null,
  hubSilent: boolean,
  timeScale: number,
  text: Messages,
): ReadingText {
  const { freshness, ageMs } = readingState(readout, nowMs, hubSilent, timeScale);
  if (readout === null) return { number: noNumber, freshness, quality: null, note: text.readout.none };
  const whole = formatWhole(readout.value);
  const age = ageMs === null ? null : formatAge(ageMs);
  const { quality } = readout;
  if (freshness === 'lost') {
    return { number: noNumber, freshness, quality, note: text.readout.lost(whole, age ?? '') };
  }
  const why = wordReasons(readout.reasons, text);
  const doubt =
    quality === 'bad' ? text.readout.bad(why) : quality === 'suspect' ? text.readout.suspect(why) : null;
  const aged =
    freshness === 'stale'
      ? age === null
        ? text.readout.staleUnknown
        : text.readout.stale(age)
      : text.readout.age(age ?? '');
  return {
    number: quality === 'bad' ? `(${whole})` : whole,
    freshness,
    quality,
    note: doubt === null ? aged : `${aged} \u00b7 ${doubt}`,
  };
}

/**
 * Saturation less floor, in percent: null unless the reading is fresh and not bad, because a margin from an old
 * or mistrusted number would promise what nobody knows.
 */
export function marginPercent(readout: Readout, floorPercent: number, freshness: Freshness): number | null {
  if (readout === null || freshness !== 'fresh' || readout.quality === 'bad') return null;
  return Math.round(readout.value) - floorPercent;
}
