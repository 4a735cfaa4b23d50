// In English, what hub and core say by code (`shared/said.ts`): a fixed sentence, or a function of what fills it. To add
// one, add it here and in `de.ts`; the page, the command line and spoken cues take it from these two.

import { hubWordsInEnglish } from './en-hub.ts';
import { machineWordsInEnglish } from './en-machine.ts';
import { measureWordsInEnglish } from './en-measures.ts';
import { planWordsInEnglish } from './en-plans.ts';
import { trainingWordsInEnglish } from './en-training.ts';
import type { Formats } from './formats.ts';

export const saidInEnglish = {
  ...hubWordsInEnglish,
  ...machineWordsInEnglish,
  ...measureWordsInEnglish,
  ...planWordsInEnglish,
  ...trainingWordsInEnglish,
  'said.unknown': ({ code }: { readonly code: string }) => `(no words for ${code}; reload the page)`,
};

/** The shape another language has to fill. */
export type SaidWords = {
  readonly [Code in keyof typeof saidInEnglish]: (typeof saidInEnglish)[Code] extends string
    ? string
    : (typeof saidInEnglish)[Code] extends (params: infer Params, ...rest: never) => string
      ? (params: Params, formats: Formats) => string
      : never;
};
