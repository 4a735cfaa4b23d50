// The simulated heart and its chest strap: beats from the heart rate, then RR intervals once a second, with faults.

import type { MonotonicMs } from '../../../shared/units.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { stepMs } from './body.ts';
import type { FaultPlan } from './faults.ts';
import { SeededRandom } from './seeded-random.ts';

/** One interval as the strap reports it; `atMs` is the beat that ends it. */
export interface ReportedBeat {
  readonly atMs: MonotonicMs;
  readonly rrIntervalMs: number;
}

/** One notification of the strap, at most one a second. */
export interface StrapReading {
  readonly atMs: MonotonicMs;
  readonly heartRateBpm: number;
  readonly skinContact: boolean;
  /** Intervals ended since the notification before, oldest first. */
  readonly rrIntervalsMs: readonly number[];
}

/** Turns a heart rate into beats: one each time its integral passes a whole number (pulse frequency modulation). */
export class BeatGenerator {
  readonly #random: SeededRandom;
  readonly #jitterMs: number;
  #phase: number;
  #earlyNext = false;

  constructor(seed: number, jitterMs: number) {
    this.#random = new SeededRandom(seed, 'beats');
    this.#jitterMs = jitterMs;
    this.#phase = this.#random.next();
  }

  /** Goes on by 0.1 s to `nowMs`. Answers with the time of a beat in this step, if there is one. */
  step(heartRateBpm: number, nowMs: number): number | undefined {
    const advance = (heartRateBpm / 60_000) * stepMs;
    this.#phase += advance;
    const due = this.#earlyNext ? 0.68 : 1;
    if (this.#phase < due) return undefined;
    const overshoot = Math.min(1, (this.#phase - due) / advance);
    // An ectopic beat comes early and is followed by a pause that makes up for it.
    this.#phase = this.#earlyNext ? this.#phase - 1 : this.#phase - due;
    this.#earlyNext = false;
    return nowMs - overshoot * stepMs + this.#jitterMs * Math.max(-2.5, Math.min(2.5, this.#random.normal()));
  }

  /** Makes the next beat come early. */
  makeNextEarly(): void {
    this.#earlyNext = true;
  }
}

export class ChestStrap {
  readonly #faults: FaultPlan;
  readonly #random: SeededRandom;
  #lastBeatMs: number | undefined;
  #recent: number[] = [];
  #pending: number[] = [];
  #nextAtMs: number;
  #heldBpm: number;

  constructor(seed: number, faults: FaultPlan, startAtMs: number, restingHeartRateBpm: number) {
    this.#faults = faults;
    this.#random = new SeededRandom(seed, 'strap');
    this.#nextAtMs = startAtMs + 500 + Math.floor(this.#random.next() * 10) * stepMs;
    this.#heldBpm = Math.round(restingHeartRateBpm);
  }

  /** Takes a true beat; answers with the intervals the strap makes of it (none, one, or two for an extra beat). */
  beat(beatMs: number): ReportedBeat[] {
    const last = this.#lastBeatMs;
    if (this.#faults.active('strapContactLoss', beatMs) !== undefined) {
      this.#lastBeatMs = undefined;
      return [];
    }
    if (last !== undefined && this.#faults.active('missedBeat', beatMs) !== undefined) {
      this.#faults.spend('missedBeat');
      return [];
    }
    this.#lastBeatMs = beatMs;
    if (last === undefined) return [];
    const intervalMs = beatMs - last;
    let intervals = [intervalMs];
    if (this.#faults.active('extraBeat', beatMs) !== undefined) {
      this.#faults.spend('extraBeat');
      const first = intervalMs * this.#random.between(0.3, 0.7);
      intervals = [first, intervalMs - first];
    }
    let atMs = last;
    return intervals.map((rrIntervalMs) => {
      atMs += rrIntervalMs;
      this.#pending.push(rrIntervalMs);
      this.#recent.push(rrIntervalMs);
      if (this.#recent.length > 5) this.#recent.shift();
      return { atMs: monotonicMs(atMs), rrIntervalMs };
    });
  }

  /** Goes on to `nowMs`; answers with a notification when one is due. */
  step(nowMs: number): StrapReading | undefined {
    if (nowMs < this.#nextAtMs) return undefined;
    this.#nextAtMs += 1_000;
    const contactLost = this.#faults.active('strapContactLoss', nowMs) !== undefined;
    if (this.#faults.active('strapSilence', nowMs) !== undefined) {
      // What is not sent is gone: straps keep no more than a few intervals.
      this.#pending = [];
      return undefined;
    }
    if (this.#recent.length > 0 && !contactLost) {
      let sum = 0;
      for (const interval of this.#recent) sum += interval;
      this.#heldBpm = Math.round(60_000 / (sum / this.#recent.length));
    }
    const rrIntervalsMs = contactLost ? [] : this.#pending;
    this.#pending = [];
    return {
      atMs: monotonicMs(nowMs),
      heartRateBpm: this.#heldBpm,
      skinContact: !contactLost,
      rrIntervalsMs,
    };
  }
}
