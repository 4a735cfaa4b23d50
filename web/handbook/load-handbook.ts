// The handbook in the language of the page, fetched when it is first wanted; the browser keeps it with the page's other files.

import type { Language } from '../i18n/languages.ts';
import type { HandbookChapter } from './chapters.ts';

/** Rejects where it cannot be fetched. */
export async function loadHandbook(language: Language): Promise<readonly HandbookChapter[]> {
  const loaded =
    language === 'de' ? await import('virtual:handbook/de') : await import('virtual:handbook/en');
  return loaded.chapters;
}
