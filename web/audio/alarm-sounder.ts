// Plays alarm bursts with Web Audio. Bursts are scheduled ahead on the audio clock, so that a throttled page still sounds.

import type { AlarmPriority } from '../../shared/schema-parts.ts';
import {
  type BurstPlan,
  burstDurationMs,
  burstPlans,
  harmonicAmplitudes,
  type Pulse,
  riseShare,
} from './burst-plan.ts';

/** A hidden page's timers may run once a second only; this much is always scheduled. */
const scheduleAheadSeconds = 6;

export class AlarmSounder {
  #context: AudioContext | null = null;
  #wave: PeriodicWave | null = null;
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

  /** Must be called from a person's gesture the first time: browsers allow no sound before one. */
  async unlock(): Promise<boolean> {
    if (this.#context === null) {
      const context = new AudioContext({ latencyHint: 'interactive' });
      const real = new Float32Array(harmonicAmplitudes.length + 1);
      const imaginary = new Float32Array(harmonicAmplitudes.length + 1);
      harmonicAmplitudes.forEach((amplitude, index) => {
        imaginary[index + 1] = amplitude;
      });
      this.#context = context;
      this.#wave = context.createPeriodicWave(real, imaginary);
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
    const plan = burstPlans[this.#playing];
    if (this.#nextBurstAt < context.currentTime) this.#nextBurstAt = context.currentTime + 0.02;
    while (this.#nextBurstAt < context.currentTime + scheduleAheadSeconds) {
      this.#scheduleBurst(context, plan, this.#nextBurstAt);
      this.#nextBurstAt += (burstDurationMs(plan) + plan.interburstMs) / 1000;
    }
  }

  /** One burst of a priority, for the sound check. */
  sampleBurst(priority: AlarmPriority): void {
    const context = this.#context;
    if (context === null || context.state !== 'running') return;
    this.#scheduleBurst(context, burstPlans[priority], context.currentTime + 0.02);
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

  #scheduleBurst(context: AudioContext, plan: BurstPlan, at: number): void {
    if (this.#output === null) {
      this.#output = context.createGain();
      // A periodic wave is normalised to a peak of 1; a little less leaves room for two athletes' pulses.
      this.#output.gain.value = 0.9;
      this.#output.connect(context.destination);
    }
    for (const pulse of plan.pulses) this.#schedulePulse(context, this.#output, pulse, at);
  }

  #schedulePulse(context: AudioContext, output: GainNode, pulse: Pulse, burstAt: number): void {
    const startAt = burstAt + pulse.atMs / 1000;
    const endAt = startAt + pulse.durationMs / 1000;
    const rise = (pulse.durationMs / 1000) * riseShare;
    const oscillator = context.createOscillator();
    const envelope = context.createGain();
    if (this.#wave !== null) oscillator.setPeriodicWave(this.#wave);
    oscillator.frequency.value = pulse.frequencyHz;
    envelope.gain.setValueAtTime(0, startAt);
    envelope.gain.linearRampToValueAtTime(1, startAt + rise);
    envelope.gain.setValueAtTime(1, endAt - rise);
    envelope.gain.linearRampToValueAtTime(0, endAt);
    oscillator.connect(envelope).connect(output);
    oscillator.start(startAt);
    oscillator.stop(endAt + 0.01);
  }
}
