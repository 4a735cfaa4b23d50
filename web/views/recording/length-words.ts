// A hold's length with how sure it is, and a pressure in both units, in words. Pure.

import type { HoldView } from '../../../shared/views.ts';
import type { PreviewBand } from '../../../src/oxygen/plan-preview.ts';
import { kpaPerMmHg } from '../../../src/oxygen/session-gas.ts';
import { lengthOfHold } from '../../../src/sessions/hold-length.ts';
import type { Messages } from '../../i18n/en.ts';
import { formatDecimal, formatDuration } from '../../state/format.ts';

export interface LengthWords {
  /** "2:10"; null without an end. */
  readonly length: string | null;
  /** "\u00b11.2 s", or how both ends are known where they are no estimates. */
  readonly sure: string;
}

export function lengthWords(hold: Pick<HoldView, 'start' | 'end'>, text: Messages): LengthWords {
  const words = text.recorded;
  const length = lengthOfHold(hold);
  if (length === null) return { length: null, sure: words.noEnd };
  const isCorrected = hold.start.source === 'corrected' || hold.end?.source === 'corrected';
  return {
    length: formatDuration(length.durationMs),
    sure:
      length.uncertaintyMs > 0
        ? words.plusMinus(formatDecimal(length.uncertaintyMs / 1_000, 1))
        : isCorrected
          ? words.corrected
          : words.marked,
  };
}

/** "52 mmHg (6.9 kPa)". */
export const pressureWords = (mmHg: number, { recorded }: Messages): string =>
  recorded.pressure(formatDecimal(mmHg, 0), formatDecimal(mmHg * kpaPerMmHg, 1));

/** "52 mmHg (6.9 kPa), 47 to 58 mmHg (6.3 to 7.7 kPa)", the second the band. */
export const bandWords = ({ low, high }: PreviewBand, { recorded }: Messages): string =>
  recorded.pressure(
    recorded.band(formatDecimal(low, 0), formatDecimal(high, 0)),
    recorded.band(formatDecimal(low * kpaPerMmHg, 1), formatDecimal(high * kpaPerMmHg, 1)),
  );
