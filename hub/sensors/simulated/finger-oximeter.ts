// The simulated finger oximeter: averaging, its own error, noise, a 1 Hz display in whole percent, and its faults.

import type { MonotonicMs } from '../../../shared/units.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { Body } from './body.ts';
import { stepMs } from './body.ts';
import type { FaultPlan } from './faults.ts';
import type { PersonParameters } from './person.ts';
import { SeededRandom } from './seeded-random.ts';

/** What the oximeter shows once a second; undefined where it says "not available". */
export interface OximeterReading {
  readonly atMs: MonotonicMs;
  readonly spo2Percent: number | undefined;
  readonly pulseRateBpm: number | undefined;
  /** PLX calls it pulse amplitude index; in percent. */
  readonly perfusionIndexPercent: number | undefined;
  readonly fingerInProbe: boolean;
  readonly poorSignal: boolean;
  readonly lowPerfusion: boolean;
}

/**
 * The display without noise and rounding: the mean of the finger's saturation over the averaging time, with this
 * oximeter's own error. What the truth calls the finger reading.
 */
export class FingerDisplay {
  readonly #person: PersonParameters;
  #window: Float64Array;
  #at = 0;
  #sum: number;

  constructor(person: PersonParameters, initialSaturation: number) {
    this.#person = person;
    this.#window = new Float64Array(Math.max(1, Math.round(person.oximeterAveragingMs / stepMs)));
    this.#window.fill(initialSaturation);
    this.#sum = initialSaturation * this.#window.length;
  }

  clone(): FingerDisplay {
    const copy = new FingerDisplay(this.#person, 0);
    copy.#window = this.#window.slice();
    copy.#at = this.#at;
    copy.#sum = this.#sum;
    return copy;
  }

  /** Takes one 0.1 s step of finger saturation (0 to 1). */
  push(saturation: number): void {
    this.#sum += saturation - this.#window[this.#at]!;
    this.#window[this.#at] = saturation;
    this.#at = (this.#at + 1) % this.#window.length;
  }

  /** In percent, at most 100. */
  get percent(): number {
    const mean = (100 * this.#sum) / this.#window.length;
    const below = Math.max(0, 90 - mean);
    return Math.min(100, mean + this.#person.oximeterBiasPercent + this.#person.oximeterSlopeError * below);
  }
}

export class FingerOximeter {
  readonly display: FingerDisplay;
  readonly #person: PersonParameters;
  readonly #faults: FaultPlan;
  readonly #random: SeededRandom;
  readonly #motionFlaggedFraction: number;
  #noise = 0;
  #pulseRateBpm: number;
  #perfusionNoise = 0;
  #nextAtMs: number;
  #last: OximeterReading | undefined;
  #motionDepthPercent = 0;
  #motionFlagged = false;
  #motionFromMs = -1;

  constructor(
    person: PersonParameters,
    seed: number,
    faults: FaultPlan,
    startAtMs: number,
    initial: { readonly saturation: number; readonly motionFlaggedFraction: number },
  ) {
    this.#person = person;
    this.#faults = faults;
    this.#random = new SeededRandom(seed, 'oximeter');
    this.#motionFlaggedFraction = initial.motionFlaggedFraction;
    this.display = new FingerDisplay(person, initial.saturation);
    this.#pulseRateBpm = person.restingHeartRateBpm;
    this.#nextAtMs = startAtMs + Math.floor(this.#random.next() * 10) * stepMs;
  }

  /** Goes on by 0.1 s to `nowMs`; answers with a reading when one is due. */
  step(body: Body, nowMs: number): OximeterReading | undefined {
    this.display.push(body.fingerSaturation);
    // Pulse rate is averaged over about 8 s (common practice, no source).
    this.#pulseRateBpm += (body.heartRateBpm - this.#pulseRateBpm) * (stepMs / 4_000);
    if (nowMs < this.#nextAtMs) return undefined;
    this.#nextAtMs += 1_000;
    const random = this.#random;
    const person = this.#person;
    // Noise with a memory of some seconds.
    this.#noise = 0.88 * this.#noise + 0.475 * person.oximeterNoisePercent * random.normal();
    this.#perfusionNoise = 0.9 * this.#perfusionNoise + 0.05 * random.normal();
    const motionNoise = random.next();

    if (this.#faults.active('oximeterSilence', nowMs) !== undefined) return undefined;
    const atMs = monotonicMs(nowMs);
    if (this.#faults.active('oximeterContactLoss', nowMs) !== undefined) {
      this.#last = undefined;
      return {
        atMs,
        spo2Percent: undefined,
        pulseRateBpm: undefined,
        perfusionIndexPercent: undefined,
        fingerInProbe: false,
        poorSignal: false,
        lowPerfusion: false,
      };
    }
    const coldFinger = this.#faults.active('lowPerfusion', nowMs) !== undefined;
    let perfusion =
      person.perfusionIndexPercent * (1 - 0.45 * body.diveResponse) * Math.exp(this.#perfusionNoise);
    if (coldFinger) perfusion = Math.min(perfusion, 0.35 + 0.4 * random.next());
    const lowPerfusion = perfusion < 1;
    if (this.#faults.active('oximeterDropout', nowMs) !== undefined) {
      this.#last = undefined;
      return {
        atMs,
        spo2Percent: undefined,
        pulseRateBpm: undefined,
        perfusionIndexPercent: round(perfusion, 10),
        fingerInProbe: true,
        poorSignal: true,
        lowPerfusion,
      };
    }
    if (this.#faults.active('oximeterStuck', nowMs) !== undefined && this.#last !== undefined) {
      return { ...this.#last, atMs };
    }

    let shown = this.display.percent + this.#noise * (lowPerfusion ? 2.2 : 1);
    let pulse = this.#pulseRateBpm;
    let poorSignal = false;
    const motion = this.#faults.active('oximeterMotion', nowMs);
    if (motion !== undefined) {
      if (motion.fromMs !== this.#motionFromMs) {
        this.#motionFromMs = motion.fromMs;
        this.#motionDepthPercent = random.between(3, 20);
        this.#motionFlagged = random.chance(this.#motionFlaggedFraction);
      }
      const part = (nowMs - motion.fromMs) / (motion.toMs - motion.fromMs);
      shown -= this.#motionDepthPercent * Math.sin(Math.PI * Math.min(1, part)) ** 0.5;
      pulse *= 1 + 0.35 * (motionNoise - 0.5);
      perfusion *= 1 + motionNoise;
      poorSignal = this.#motionFlagged;
    } else if (body.effort > 0.3) {
      // Walking shakes the probe a little at every step.
      shown -= 2.5 * body.effort * Math.max(0, motionNoise - 0.5);
    }
    const reading: OximeterReading = {
      atMs,
      spo2Percent: Math.max(0, Math.min(100, Math.round(shown))),
      pulseRateBpm: Math.max(20, Math.round(pulse)),
      perfusionIndexPercent: round(Math.min(20, perfusion), 10),
      fingerInProbe: true,
      poorSignal,
      lowPerfusion,
    };
    this.#last = reading;
    return reading;
  }
}

const round = (value: number, perUnit: number): number => Math.round(value * perUnit) / perUnit;
