// Gives cues by tone and by speech: soft sines unlike any alarm pulse; words by the browser's own speech synthesis,
// or where it has no voice by sound files that the hub speaks.

import type { ReadonlySignal } from '@preact/signals';
import type { Said } from '../../shared/said.ts';
import { type CueKind, type CueTone, cueDefinitions } from '../../src/plans/cue.ts';
import type { CuePreferences } from '../state/cue-preferences.ts';

/** Frequencies in Hz and lengths in s of each tone's notes. Of our own choosing; no burst patterns, no harmonics. */
const tones: Readonly<Record<CueTone, readonly (readonly [number, number])[]>> = {
  none: [],
  tick: [[392, 0.05]],
  soft: [[262, 0.25]],
  softRising: [
    [262, 0.22],
    [330, 0.32],
  ],
  softFalling: [
    [330, 0.22],
    [262, 0.32],
  ],
  clear: [
    [392, 0.3],
    [392, 0.3],
  ],
};

export interface CuePlayerParts {
  readonly preferences: CuePreferences;
  /** The language to speak in, a BCP 47 tag. */
  readonly language: ReadonlySignal<string>;
  readonly say: (said: Said) => string;
  /** An alarm is being said: nothing cuts it short. */
  readonly yields: () => boolean;
  /** Asks the hub for a cue as a sound file in that language; null where the hub has no voice either. */
  readonly fetchSpoken: (kind: CueKind) => Promise<ArrayBuffer | null>;
}

export class CuePlayer {
  #context: AudioContext | null = null;
  readonly #parts: CuePlayerParts;
  readonly #spoken = new Map<CueKind, AudioBuffer>();
  #hubSpeaks = true;

  constructor(parts: CuePlayerParts) {
    this.#parts = parts;
  }

  /** True where the browser can speak at all; a voice may still be missing. */
  get canSpeak(): boolean {
    return typeof speechSynthesis !== 'undefined' && speechSynthesis.getVoices().length > 0;
  }

  /** Must be called from a person's gesture the first time. */
  unlock(): void {
    this.#context ??= new AudioContext();
    void this.#context.resume().catch(() => undefined);
  }

  /** `name` is said first where several athletes share the room. */
  play(kind: CueKind, name: string | null): void {
    const definition = cueDefinitions[kind];
    const { preferences, language, say } = this.#parts;
    const volume = preferences.volume.value;
    if (preferences.tones.value) this.#sound(tones[definition.tone], volume);
    if (!preferences.speech.value || !definition.spoken || this.#parts.yields()) return;
    if (!this.canSpeak) {
      void this.#playSpokenFile(kind, volume);
      return;
    }
    const text = say(definition.said);
    const words = new SpeechSynthesisUtterance(name === null ? text : `${name}. ${text}`);
    words.lang = language.value;
    words.volume = volume;
    words.rate = 0.9;
    // What is said now matters more than what was being said.
    speechSynthesis.cancel();
    speechSynthesis.speak(words);
  }

  async #playSpokenFile(kind: CueKind, volume: number): Promise<void> {
    const context = this.#context;
    if (!this.#hubSpeaks || context === null || context.state !== 'running') return;
    let sound = this.#spoken.get(kind);
    if (sound === undefined) {
      const bytes = await this.#parts.fetchSpoken(kind);
      if (bytes === null) {
        this.#hubSpeaks = false;
        return;
      }
      sound = await context.decodeAudioData(bytes).catch(() => undefined);
      if (sound === undefined) return;
      this.#spoken.set(kind, sound);
    }
    const source = context.createBufferSource();
    const gain = context.createGain();
    source.buffer = sound;
    gain.gain.value = volume;
    source.connect(gain).connect(context.destination);
    source.start();
  }

  #sound(notes: readonly (readonly [number, number])[], volume: number): void {
    const context = this.#context;
    if (context === null || context.state !== 'running') return;
    let at = context.currentTime + 0.02;
    for (const [frequencyHz, seconds] of notes) {
      const oscillator = context.createOscillator();
      const gain = context.createGain();
      oscillator.type = 'sine';
      oscillator.frequency.value = frequencyHz;
      gain.gain.setValueAtTime(0, at);
      gain.gain.linearRampToValueAtTime(volume * 0.5, at + Math.min(0.04, seconds / 3));
      gain.gain.linearRampToValueAtTime(0, at + seconds);
      oscillator.connect(gain).connect(context.destination);
      oscillator.start(at);
      oscillator.stop(at + seconds + 0.02);
      at += seconds + 0.06;
    }
  }
}
