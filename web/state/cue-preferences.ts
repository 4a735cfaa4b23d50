// By which means cues are given on this device: tones, speech, a soft flash, and how loud. Kept in the browser only.

import { effect, signal } from '@preact/signals';
import { keepRecord, type RecordStorage, readRecord } from './stored-record.ts';

const storageKey = 'slackwater.cues';

export class CuePreferences {
  readonly tones = signal(true);
  readonly speech = signal(true);
  readonly flash = signal(true);
  /** An athlete's name is said before their cue. Off unless somebody asks for it: a room hears it. */
  readonly names = signal(false);
  /** A coach's message is read aloud on an athlete's own device. */
  readonly readWords = signal(false);
  /** 0 to 1; quiet enough to relax to unless asked for more. */
  readonly volume = signal(0.4);

  /** Reads what is stored; anything unreadable is ignored. */
  constructor(storage: RecordStorage) {
    const { tones, speech, flash, names, readWords, volume } = readRecord(storage, storageKey);
    if (typeof tones === 'boolean') this.tones.value = tones;
    if (typeof speech === 'boolean') this.speech.value = speech;
    if (typeof flash === 'boolean') this.flash.value = flash;
    if (names === true) this.names.value = true;
    if (readWords === true) this.readWords.value = true;
    if (typeof volume === 'number' && volume >= 0 && volume <= 1) this.volume.value = volume;
    effect(() =>
      keepRecord(storage, storageKey, {
        tones: this.tones.value,
        speech: this.speech.value,
        flash: this.flash.value,
        names: this.names.value,
        readWords: this.readWords.value,
        volume: this.volume.value,
      }),
    );
  }
}
