// What a person chose on this device: theme, language, spoken cues, shortcut keys, places on the wall. Kept in the browser only.

import { effect, type Signal, signal } from '@preact/signals';
import { isLanguage, type Language } from '../i18n/languages.ts';
import { keepRecord, type RecordStorage, readRecord } from './stored-record.ts';

export type ThemeChoice = 'system' | 'light' | 'dark';
/** Whether this device says whose alarm calls: by name, or by place on its wall. */
export type SpokenAlarmChoice = 'off' | 'names' | 'places';
export type LanguageChoice = 'system' | Language;

const storageKey = 'slackwater.preferences';

export class Preferences {
  readonly theme: Signal<ThemeChoice> = signal('system');
  readonly language: Signal<LanguageChoice> = signal('system');
  readonly spokenCues = signal(false);
  readonly spokenAlarms: Signal<SpokenAlarmChoice> = signal('off');
  readonly shortcutKeys = signal(true);
  /** In what order athletes stand on the wall; those who are not named come after. */
  readonly wallOrder: Signal<readonly string[]> = signal([]);
  /** The wall is made to be seen from afar. */
  readonly farWall = signal(false);
  /** Who leads what is begun on this device, as it was typed last. */
  readonly ledBy = signal('');

  /** Reads what is stored; anything unreadable is ignored, a preference is no reason to fail. */
  constructor(storage: RecordStorage) {
    const stored = readRecord(storage, storageKey);
    const { theme, language, spokenCues, spokenAlarms, shortcutKeys, wallOrder, farWall, ledBy } = stored;
    if (theme === 'light' || theme === 'dark') this.theme.value = theme;
    if (isLanguage(language)) this.language.value = language;
    if (spokenCues === true) this.spokenCues.value = true;
    if (spokenAlarms === 'names' || spokenAlarms === 'places') this.spokenAlarms.value = spokenAlarms;
    if (shortcutKeys === false) this.shortcutKeys.value = false;
    if (Array.isArray(wallOrder))
      this.wallOrder.value = wallOrder.filter((entry) => typeof entry === 'string');
    if (farWall === true) this.farWall.value = true;
    if (typeof ledBy === 'string') this.ledBy.value = ledBy.slice(0, 400);
    effect(() =>
      keepRecord(storage, storageKey, {
        theme: this.theme.value,
        language: this.language.value,
        spokenCues: this.spokenCues.value,
        spokenAlarms: this.spokenAlarms.value,
        shortcutKeys: this.shortcutKeys.value,
        wallOrder: this.wallOrder.value,
        farWall: this.farWall.value,
        ledBy: this.ledBy.value,
      }),
    );
  }
}
