// The language of the page: chosen by a person, else the browser's; its words, its way of writing numbers, and the
// document's `lang` and `dir`. Words that cannot be fetched leave the page in the language it has.

import { batch, computed, effect, type ReadonlySignal, signal } from '@preact/signals';
import type { Said } from '../../shared/said.ts';
import { formatsOf } from '../../shared/words/formats.ts';
import { say } from '../../shared/words/say.ts';
import type { Timers } from '../connection/timers.ts';
import { en, type Messages } from '../i18n/en.ts';
import { directionOf, formatTag, type Language, loadMessages, preferredLanguage } from '../i18n/languages.ts';
import { formatLocale, signPrefix } from '../i18n/locale.ts';
import type { Preferences } from '../state/preferences.ts';

/** Our own choice: longer than a fetch on a local network, shorter than a person's patience. */
const longestWaitMs = 2_000;

export class LanguageSetting {
  readonly #language = signal<Language>('en');
  readonly #text = signal<Messages>(en);
  readonly #formats = computed(() => formatsOf(formatLocale.value));
  readonly #failed = signal(false);
  readonly #preferences: Preferences;
  readonly #browserTags: readonly string[];

  readonly #timers: Timers;

  /** `browserTags` is what the browser prefers, best first. */
  constructor(preferences: Preferences, browserTags: readonly string[], timers: Timers) {
    this.#preferences = preferences;
    this.#browserTags = browserTags;
    this.#timers = timers;
  }

  /**
   * Shows the wanted language and follows every change of the choice. Resolves once the first words are there, or
   * soon in English: a page that watches a hold must not stay blank for want of a translation.
   */
  async start(): Promise<void> {
    let first = true;
    let ready: Promise<void> = Promise.resolve();
    effect(() => {
      const chosen = this.#preferences.language.value;
      const wanted = chosen === 'system' ? preferredLanguage(this.#browserTags) : chosen;
      const change = this.#show(wanted);
      if (first) ready = change;
      first = false;
    });
    await Promise.race([ready, new Promise<void>((resolve) => this.#timers.after(longestWaitMs, resolve))]);
  }

  get language(): ReadonlySignal<Language> {
    return this.#language;
  }

  get text(): ReadonlySignal<Messages> {
    return this.#text;
  }

  /** Words what hub or core said by code; in a component it follows a change of language. */
  readonly say = (said: Said): string => say(said, this.#text.value.said, this.#formats.value);

  /** The words last asked for could not be fetched. */
  get failed(): ReadonlySignal<boolean> {
    return this.#failed;
  }

  async #show(language: Language): Promise<void> {
    let text: Messages;
    try {
      text = await loadMessages(language);
    } catch {
      this.#failed.value = true;
      return;
    }
    batch(() => {
      this.#failed.value = false;
      this.#language.value = language;
      this.#text.value = text;
      signPrefix.value = directionOf(language) === 'rtl' ? '\u200e' : '';
      formatLocale.value = formatTag(language, this.#browserTags);
    });
    document.documentElement.lang = language;
    document.documentElement.dir = directionOf(language);
  }
}
