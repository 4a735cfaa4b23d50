// Words what is said, by the catalogue of a language.

import type { Said, SaidParam } from '../said.ts';
import { type SaidWords, saidInEnglish } from './en.ts';
import { type Formats, formatsOf } from './formats.ts';

type Wording = string | ((params: Readonly<Record<string, unknown>>, formats: Formats) => string);

const isSaid = (param: SaidParam): param is Said => typeof param === 'object';

/** The sentence. A code that the catalogue does not know (another version's) is named, never passed over. */
export function say(said: Said, words: SaidWords, formats: Formats): string {
  const catalogue: Readonly<Record<string, Wording>> = words as never;
  const wording = Object.hasOwn(catalogue, said.code) ? catalogue[said.code] : undefined;
  if (wording === undefined) return words['said.unknown']({ code: said.code }, formats);
  if (typeof wording === 'string') return wording;
  const params = Object.fromEntries(
    Object.entries(said.params).map(([name, param]) => [
      name,
      isSaid(param) ? say(param, words, formats) : param,
    ]),
  );
  return wording(params, formats);
}

const englishFormats = formatsOf('en');

/** In English: for the command line, the log, and programs that read the hub's answers. */
export const sayInEnglish = (said: Said): string => say(said, saidInEnglish, englishFormats);
