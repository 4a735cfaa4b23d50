// What a person chose on this device: theme, language, spoken cues, shortcut keys, pinned athletes. Kept in the browser only.

import { effect, type Signal, signal } from '@preact/signals';
import { isLanguage, type Language } from '../i18n/languages.ts';
import { keepRecord, type RecordStorage, readRecord } from './stored-record.ts';

export type ThemeChoice = 'system' | 'light' | 'dark';
export type LanguageChoice = 'system' | Language;

const storageKey = 'slackwater.preferences';

export class Preferences {
  readonly theme: Signal<ThemeChoice> = signal('system');
  readonly language: Signal<LanguageChoice> = signal('system');
  readonly spokenCues = signal(false);
  readonly shortcutKeys = signal(true);
  readonly pinnedAthleteIds: Signal<readonly string[]> = signal([]);

  /** Reads what is stored; anything unreadable is ignored, a preference is no reason to fail. */
  constructor(storage: RecordStorage) {
    const { theme, language, spokenCues, shortcutKeys, pinned } = readRecord(storage, storageKey);
    if (theme === 'light' || theme === 'dark') this.theme.value = theme;
    if (isLanguage(language)) this.language.value = language;
    if (spokenCues === true) this.spokenCues.value = true;
    if (shortcutKeys === false) this.shortcutKeys.value = false;
    if (Array.isArray(pinned))
      this.pinnedAthleteIds.value = pinned.filter((entry) => typeof entry === 'string');
    effect(() =>
      keepRecord(storage, storageKey, {
        theme: this.theme.value,
        language: this.language.value,
        spokenCues: this.spokenCues.value,
        shortcutKeys: this.shortcutKeys.value,
        pinned: this.pinnedAthleteIds.value,
      }),
    );
  }
}
