// What a column is, from its heading: in English, German, French, Spanish and Italian, with or without unit. A heading
// that could be something else than asked of a breath-holder (respiration, limits, statistics) is left to a person.

import type { Channel } from '../../../shared/schema-parts.ts';

/** Lower case, without accents, signs as spaces. */
export function bareHeading(heading: string): string {
  return heading
    .normalize('NFKD')
    .replaceAll(/\p{M}/gu, '')
    .toLowerCase()
    .replaceAll(/[_\-.,:;()[\]{}"'#]+/g, ' ')
    .trim();
}

const notAReading =
  /\b(hrv|sdnn|rmssd|avg|average|mean|max|min(imum)?|median|limit|alarm|threshold|zone|status|quality|valid|flag|target|moyenne|mittel\w*|media|diff|delta|change|count|index no|battery|signal strength|rssi)\b/;
const respiration =
  /\b(resp\w*|breath\w*|atem\w*|atmung\w*|ventil\w*|brpm|rpm|thora\w*|abdom\w*|airflow|flow|co2|etco2|af)\b/;

/** The channel a heading names; `rate` is one of respiration or of beats, which its numbers tell. */
export function channelOfHeading(heading: string): Channel | undefined {
  const bare = bareHeading(heading);
  if (bare === '' || notAReading.test(bare.replace(/\bmin\b$/, '').replace('/min', ''))) return undefined;
  if (respiration.test(bare) && !/\brr\b.*\bms\b/.test(bare)) return undefined;
  if (/\b(mmhg|kpa)\b/.test(bare)) return undefined;
  if (/pleth|\bppg\b|pulswelle|pulse wave|onde de pouls|onda de pulso|onda del polso/.test(bare))
    return 'pleth';
  if (/^(puls|pouls|pr\b)/.test(bare)) return 'pulseRateBpm';
  if (/perfusion|perfusione|\bpi\b|\bpi %/.test(bare)) return 'perfusionIndexPercent';
  if (
    /sp ?o ?2|sa ?o ?2|sat ?o2|o2 ?sat|saturation|saturacion|saturazione|sattigung|oxygen|oxygene|sauerstoff|oxigeno|ossigeno|oxim|\bsat\b|\bspo\b/.test(
      bare,
    )
  )
    return 'spo2Percent';
  if (/(^|[^a-z])(rr|r r|nn|ibi|rri|nni)([^a-z]|$)|interval|intervall/.test(bare)) return 'rrIntervalMs';
  if (/puls|pouls|\bpolso\b|(^|[^a-z])pr([^a-z]|$)|\bprb?pm\b/.test(bare)) return 'pulseRateBpm';
  if (
    /(^|[^a-z])(hr|hf|fc|ecg hr)([^a-z]|$)|heart|herz|cardia|coeur|corazon|cuore|\bbpm\b|frecuencia|frequenza|frequence/.test(
      bare,
    )
  )
    return 'heartRateBpm';
  return undefined;
}

export const isTimeHeading = (heading: string): boolean => {
  const bare = bareHeading(heading);
  return /time|\bdate|stamp|elapsed|zeit|datum|temps|\bheure|duree|tiempo|\bhora|fecha|\btempo\b|\bora\b|\bdata\b|orario|dauer|^min|^t$|^t( |\b)|^s$|^sec|second|sekund|^ms$|minut|clock|epoch/.test(
    bare,
  );
};

/** The unit of time that a heading says, or undefined. */
export function timeUnitOfHeading(heading: string): 's' | 'ms' | 'min' | undefined {
  const bare = bareHeading(heading);
  if (/\b(ms|msec|millis\w*|milli\w*)\b/.test(bare)) return 'ms';
  if (/\b(s|sec|secs|seconds?|sekunden?|secondes?|segundos?|secondi|seg)\b/.test(bare)) return 's';
  if (/\b(min|mins|minutes?|minuten?|minutos?|minuti)\b/.test(bare)) return 'min';
  return undefined;
}
