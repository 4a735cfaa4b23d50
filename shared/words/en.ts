// In English, what hub and core say by code (`shared/said.ts`): a fixed sentence, or a function of what fills it. To add
// one, add it here and in `de.ts`; the page, the command line and spoken cues take it from these two.

import { dataWordsInEnglish } from './en-data.ts';
import { fileWordsInEnglish } from './en-files.ts';
import { hubWordsInEnglish } from './en-hub.ts';
import { machineWordsInEnglish } from './en-machine.ts';
import { measureWordsInEnglish } from './en-measures.ts';
import { planWordsInEnglish } from './en-plans.ts';
import { schoolWordsInEnglish } from './en-school.ts';
import { sensorWordsInEnglish } from './en-sensors.ts';
import { trainingWordsInEnglish } from './en-training.ts';
import type { Formats } from './formats.ts';

export const saidInEnglish = {
  ...dataWordsInEnglish,
  ...fileWordsInEnglish,
  ...hubWordsInEnglish,
  ...machineWordsInEnglish,
  ...measureWordsInEnglish,
  ...planWordsInEnglish,
  ...schoolWordsInEnglish,
  ...sensorWordsInEnglish,
  ...trainingWordsInEnglish,
  /** What a program below said of itself, or a recording of before holds: in its own words. */
  'said.asTold': ({ text }: { readonly text: string }) => text,
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
