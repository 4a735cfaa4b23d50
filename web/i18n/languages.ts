// The languages the page speaks, and which of them fits what a person or their browser asks for.

import { en, type Messages } from './en.ts';

/** `ar-XB` is English lengthened and mirrored, for testing the layout; it is not offered in the page. */
export type Language = 'en' | 'de' | 'ar-XB';

/** Those a person can choose, in their own names. */
export const offeredLanguages: Readonly<Record<'en' | 'de', string>> = { en: 'English', de: 'Deutsch' };

const loaders: Readonly<Record<Language, () => Promise<Messages>>> = {
  en: () => Promise.resolve(en),
  de: () => import('./de.ts').then((file) => file.de),
  'ar-XB': () => import('./pseudo.ts').then((file) => file.pseudo),
};

export const isLanguage = (value: unknown): value is Language =>
  typeof value === 'string' && Object.hasOwn(loaders, value);

/** The words of a language. Rejects where they cannot be fetched. */
export function loadMessages(language: Language): Promise<Messages> {
  return loaders[language]();
}

export const directionOf = (language: Language): 'ltr' | 'rtl' => (language === 'ar-XB' ? 'rtl' : 'ltr');

/**
 * The first language of a list of preferences, as BCP 47 tags, that the page speaks; English if none. What a browser
 * sends as Accept-Language it gives pages as `navigator.languages`.
 */
export function preferredLanguage(tags: readonly string[]): Language {
  for (const tag of tags) {
    const primary = tag.toLowerCase().split('-')[0];
    if (primary === 'en' || primary === 'de') return primary;
  }
  return 'en';
}

/** The tag to write numbers and times by: the reader's own variant of the language ("en-GB") where they have one. */
export function formatTag(language: Language, tags: readonly string[]): string {
  if (language === 'ar-XB') return 'en';
  return tags.find((tag) => tag.toLowerCase().split('-')[0] === language) ?? language;
}
