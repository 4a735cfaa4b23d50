// By which means cues are given on this device: tones, speech, a soft flash, and how loud. Kept in the browser only.

import { effect, signal } from '@preact/signals';
import type { PreferenceStorage } from './preferences.ts';

const storageKey = 'slackwater.cues';

export class CuePreferences {
  readonly tones = signal(true);
  readonly speech = signal(true);
  readonly flash = signal(true);
  /** 0 to 1; quiet enough to relax to unless asked for more. */
  readonly volume = signal(0.4);

  /** Reads what is stored; anything unreadable is ignored. */
  constructor(storage: PreferenceStorage) {
    try {
      const stored = JSON.parse(storage.getItem(storageKey) ?? '{}') as Record<string, unknown>;
      for (const key of ['tones', 'speech', 'flash'] as const)
        if (typeof stored[key] === 'boolean') this[key].value = stored[key];
      if (typeof stored['volume'] === 'number' && stored['volume'] >= 0 && stored['volume'] <= 1)
        this.volume.value = stored['volume'];
    } catch {
      // Unreadable or forbidden storage: the defaults stand.
    }
    effect(() => {
      const text = JSON.stringify({
        tones: this.tones.value,
        speech: this.speech.value,
        flash: this.flash.value,
        volume: this.volume.value,
      });
      try {
        storage.setItem(storageKey, text);
      } catch {
        // Storage full or forbidden: the choice holds until the page is closed.
      }
    });
  }
}
