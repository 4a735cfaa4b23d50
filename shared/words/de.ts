// In German, what hub and core say by code: the same keys as `en.ts`, filled with the same.

import { dataWordsInGerman } from './de-data.ts';
import { fileWordsInGerman } from './de-files.ts';
import { hubWordsInGerman } from './de-hub.ts';
import { machineWordsInGerman } from './de-machine.ts';
import { measureWordsInGerman } from './de-measures.ts';
import { planWordsInGerman } from './de-plans.ts';
import { schoolWordsInGerman } from './de-school.ts';
import { sensorWordsInGerman } from './de-sensors.ts';
import { trainingWordsInGerman } from './de-training.ts';
import type { SaidWords } from './en.ts';

export const saidInGerman: SaidWords = {
  ...dataWordsInGerman,
  ...fileWordsInGerman,
  ...hubWordsInGerman,
  ...machineWordsInGerman,
  ...measureWordsInGerman,
  ...planWordsInGerman,
  ...schoolWordsInGerman,
  ...sensorWordsInGerman,
  ...trainingWordsInGerman,
  'said.asTold': ({ text }) => text,
  'said.unknown': ({ code }) => `(keine Worte für ${code}; lade die Seite neu)`,
};
