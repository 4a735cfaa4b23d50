// What is said, in English, for tests that read what a person reads; "" for nothing.

import type { Said } from '../../shared/said.ts';
import { sayInEnglish } from '../../shared/words/say.ts';

export const inWords = (...all: readonly (Said | null | undefined)[]): string =>
  all.map((each) => (each === null || each === undefined ? '' : sayInEnglish(each))).join(' ');
