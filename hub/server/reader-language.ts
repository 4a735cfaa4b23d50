// The language of whoever reads an answer of the hub's: asked for in the address, else the one their browser prefers
// (Accept-Language, RFC 9110 s12.5.4), else English.

import type { IncomingHttpHeaders } from 'node:http';
import type { Said } from '../../shared/said.ts';
import { saidInGerman } from '../../shared/words/de.ts';
import { saidInEnglish } from '../../shared/words/en.ts';
import { formatsOf } from '../../shared/words/formats.ts';
import { say } from '../../shared/words/say.ts';

const spoken = {
  en: { words: saidInEnglish, formats: formatsOf('en') },
  de: { words: saidInGerman, formats: formatsOf('de') },
} as const;
export type ReaderLanguage = keyof typeof spoken;

const isSpoken = (language: string): language is ReaderLanguage => Object.hasOwn(spoken, language);

/** A header longer than this is not a browser's. */
const longestHeader = 1_000;
/** s12.4.2: 0 to 1 with up to three decimals; without one it is 1. */
const rangePattern = /^([a-z]{1,8}(?:-[a-z0-9]{1,8})*|\*)(?:;q=(0(?:\.\d{0,3})?|1(?:\.0{0,3})?))?$/;

interface Range {
  /** "de" of "de-AT", or "*". */
  readonly primary: string;
  readonly weight: number;
}

function rangesOf(header: string): readonly Range[] {
  return header
    .slice(0, longestHeader)
    .toLowerCase()
    .split(',')
    .flatMap((part): Range[] => {
      const found = rangePattern.exec(part.replaceAll(/\s/g, ''));
      return found === null ? [] : [{ primary: found[1]!.split('-')[0]!, weight: Number(found[2] ?? 1) }];
    });
}

/** The best of ours by weight; the first of equals, as browsers list them. What weighs 0 is refused. */
export function languageOfHeader(header: string | undefined): ReaderLanguage {
  const ranges = rangesOf(header ?? '');
  const isRefused = (language: string): boolean =>
    ranges.some(({ primary, weight }) => primary === language && weight === 0) &&
    !ranges.some(({ primary, weight }) => primary === language && weight > 0);
  const wanted = ranges
    .filter(({ weight }) => weight > 0)
    .toSorted((one, other) => other.weight - one.weight);
  for (const { primary } of wanted) {
    if (isSpoken(primary)) return primary;
    // "Any other" is English unless that was refused or named for itself further down.
    if (primary === '*') return isRefused('en') ? 'de' : 'en';
  }
  return 'en';
}

/** Of a request: `?language=de` before the header. */
export function readerLanguage(request: {
  readonly headers: IncomingHttpHeaders;
  readonly query?: unknown;
}): ReaderLanguage {
  const { language } = (request.query ?? {}) as { readonly language?: unknown };
  const asked = typeof language === 'string' ? (language.toLowerCase().split('-')[0] ?? '') : '';
  return isSpoken(asked) ? asked : languageOfHeader(request.headers['accept-language']);
}

export const wordsFor = (language: ReaderLanguage): (typeof spoken)[ReaderLanguage] => spoken[language];

/** Words what is said for a reader. */
export const sayFor = (language: ReaderLanguage): ((what: Said) => string) => {
  const { words, formats } = spoken[language];
  return (what) => say(what, words, formats);
};
