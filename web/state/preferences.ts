// What a person chose on this device: theme, language, spoken cues, shortcut keys, pinned athletes. Kept in the browser only.

import { effect, type Signal, signal } from '@preact/signals';
import { isLanguage, type Language } from '../i18n/languages.ts';

export interface PreferenceStorage {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
}

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
  constructor(storage: PreferenceStorage) {
    try {
      const stored = JSON.parse(storage.getItem(storageKey) ?? '{}') as Record<string, unknown>;
      if (stored.theme === 'light' || stored.theme === 'dark') this.theme.value = stored.theme;
      if (isLanguage(stored.language)) this.language.value = stored.language;
      if (stored.spokenCues === true) this.spokenCues.value = true;
      if (stored.shortcutKeys === false) this.shortcutKeys.value = false;
      if (Array.isArray(stored.pinned)) {
        this.pinnedAthleteIds.value = stored.pinned.filter((entry) => typeof entry === 'string');
      }
    } catch {
      // Unreadable or forbidden storage: the defaults stand.
    }
    effect(() => {
      const text = JSON.stringify({
        theme: this.theme.value,
        language: this.language.value,
        spokenCues: this.spokenCues.value,
        shortcutKeys: this.shortcutKeys.value,
        pinned: this.pinnedAthleteIds.value,
      });
      try {
        storage.setItem(storageKey, text);
      } catch {
        // Storage full or forbidden: the choice holds until the page is closed.
      }
    });
  }
}
