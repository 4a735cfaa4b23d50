// What hub and core say, in German: for tests that look at words in both languages.

import type { Said } from '../../shared/said.ts';
import { saidInGerman } from '../../shared/words/de.ts';
import { formatsOf } from '../../shared/words/formats.ts';
import { say } from '../../shared/words/say.ts';

const formats = formatsOf('de');

export const sayInGerman = (said: Said): string => say(said, saidInGerman, formats);
