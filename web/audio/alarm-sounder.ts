// Plays alarm bursts with Web Audio. Bursts are scheduled ahead on the audio clock, so that a throttled page still sounds.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { burstDurationMs, type SoundPattern, signalPatterns } from '../../src/alarms/signal-patterns.ts';

/** A hidden page's timers may run once a second only; this much is always scheduled. */
const scheduleAheadSeconds = 6;

export class AlarmSounder {
  #context: AudioContext | null = null;
  #playing: AlarmPriority | null = null;
  #output: GainNode | null = null;
  #nextBurstAt = 0;
  readonly #onStateChange: (running: boolean) => void;

  /** `onStateChange` hears when the browser lets sound run and when it suspends it. */
  constructor(onStateChange: (running: boolean) => void) {
    this.#onStateChange = onStateChange;
  }

  get running(): boolean {
    return this.#context?.state === 'running';
  }

  /** What the audio clock has been given to play by now; null while nothing sounds, whatever was asked for. */
  get sounding(): AlarmPriority | null {
    const context = this.#context;
    if (context === null || context.state !== 'running' || this.#output === null) return null;
    return this.#nextBurstAt > context.currentTime ? this.#playing : null;
  }

  /** Must be called from a person's gesture the first time: browsers allow no sound before one. */
  async unlock(): Promise<boolean> {
    if (this.#context === null) {
      const context = new AudioContext({ latencyHint: 'interactive' });
      this.#context = context;
      context.addEventListener('statechange', () => this.#onStateChange(this.running));
    }
    await this.#context.resume().catch(() => undefined);
    this.#onStateChange(this.running);
    return this.running;
  }

  /** Sounds this priority until told otherwise. A change starts its burst at once. */
  sound(priority: AlarmPriority | null): void {
    if (priority === this.#playing) return;
    this.#playing = priority;
    this.#silence();
    this.#nextBurstAt = 0;
    this.pump();
  }

  /** Schedules what is due; called a few times a second. */
  pump(): void {
    const context = this.#context;
    if (context === null || this.#playing === null || context.state !== 'running') return;
    const pattern = signalPatterns[this.#playing].sound;
    if (this.#nextBurstAt < context.currentTime) this.#nextBurstAt = context.currentTime + 0.02;
    while (this.#nextBurstAt < context.currentTime + scheduleAheadSeconds) {
      this.#scheduleBurst(context, pattern, this.#nextBurstAt);
      this.#nextBurstAt += (burstDurationMs(pattern) + pattern.interburstMs) / 1000;
    }
  }

  /** One burst of a priority, for the sound check. */
  sampleBurst(priority: AlarmPriority): void {
    const context = this.#context;
    if (context === null || context.state !== 'running') return;
    this.#scheduleBurst(context, signalPatterns[priority].sound, context.currentTime + 0.02);
  }

  /** A short soft tone that confirms a mark: one plain sine, unlike any alarm pulse. */
  confirmTone(rising: boolean): void {
    const context = this.#context;
    if (context === null || context.state !== 'running') return;
    const at = context.currentTime + 0.01;
    const oscillator = context.createOscillator();
    const gain = context.createGain();
    oscillator.type = 'sine';
    oscillator.frequency.setValueAtTime(rising ? 247 : 330, at);
    oscillator.frequency.linearRampToValueAtTime(rising ? 330 : 247, at + 0.12);
    gain.gain.setValueAtTime(0, at);
    gain.gain.linearRampToValueAtTime(0.25, at + 0.03);
    gain.gain.linearRampToValueAtTime(0, at + 0.16);
    oscillator.connect(gain).connect(context.destination);
    oscillator.start(at);
    oscillator.stop(at + 0.18);
  }

  #silence(): void {
    this.#output?.disconnect();
    this.#output = null;
  }

  #scheduleBurst(context: AudioContext, pattern: SoundPattern, at: number): void {
    if (this.#output === null) {
      this.#output = context.createGain();
      // A periodic wave is normalised to a peak of 1; a little less leaves room for two bursts at once.
      this.#output.gain.value = 0.9;
      this.#output.connect(context.destination);
    }
    const wave = waveOf(context, pattern);
    const durationSeconds = pattern.pulseDurationMs / 1000;
    const riseSeconds = pattern.riseMs / 1000;
    for (const pulseStartMs of pattern.pulseStartsMs) {
      const startAt = at + pulseStartMs / 1000;
      const endAt = startAt + durationSeconds;
      const oscillator = context.createOscillator();
      const envelope = context.createGain();
      oscillator.setPeriodicWave(wave);
      oscillator.frequency.value = pattern.fundamentalHz;
      envelope.gain.setValueAtTime(0, startAt);
      envelope.gain.linearRampToValueAtTime(1, startAt + riseSeconds);
      envelope.gain.setValueAtTime(1, endAt - riseSeconds);
      envelope.gain.linearRampToValueAtTime(0, endAt);
      oscillator.connect(envelope).connect(this.#output);
      oscillator.start(startAt);
      oscillator.stop(endAt + 0.01);
    }
  }
}

/** The pattern's components as one periodic wave: amplitudes from levels in dB. */
function waveOf(context: AudioContext, pattern: SoundPattern): PeriodicWave {
  const size = Math.max(...pattern.components.map((component) => component.multiple)) + 1;
  const sines = new Float32Array(size);
  for (const { multiple, levelDb } of pattern.components) sines[multiple] = 10 ** (levelDb / 20);
  return context.createPeriodicWave(new Float32Array(size), sines);
}
