// What goes wrong with the simulated sensors, when and for how long: at random rates, at set times, or not at all.

import { SeededRandom } from './seeded-random.ts';

export type FaultKind =
  /** Notifications come but say "not available". */
  | 'oximeterDropout'
  /** The reading dips and jumps with movement. */
  | 'oximeterMotion'
  /** The display repeats its last value. */
  | 'oximeterStuck'
  /** The finger is out of the probe. */
  | 'oximeterContactLoss'
  /** No notifications at all. */
  | 'oximeterSilence'
  /** Cold finger: the perfusion index falls below 1 %. */
  | 'lowPerfusion'
  | 'strapContactLoss'
  | 'strapSilence'
  | 'missedBeat'
  | 'extraBeat'
  | 'ectopicBeat';

const faultKinds: readonly FaultKind[] = [
  'oximeterDropout',
  'oximeterMotion',
  'oximeterStuck',
  'oximeterContactLoss',
  'oximeterSilence',
  'lowPerfusion',
  'strapContactLoss',
  'strapSilence',
  'missedBeat',
  'extraBeat',
  'ectopicBeat',
];

export interface Fault {
  readonly kind: FaultKind;
  readonly fromMs: number;
  /** End, exclusive. For the three kinds of single beats it is the time of the beat they act on at the latest. */
  readonly toMs: number;
}

export interface FaultSettings {
  readonly perHour: Partial<Record<FaultKind, number>>;
  /** At set times, beside the random ones. Times as the session's. */
  readonly scheduled?: readonly Fault[];
  /** Part of the motion dips that the oximeter itself flags as poor signal. */
  readonly motionFlaggedFraction?: number;
}

export const noFaults: FaultSettings = { perHour: {} };

/** What a well-fitted pair of sensors does over an evening (rates: common practice, no source). */
export const ordinaryFaults: FaultSettings = {
  perHour: {
    oximeterDropout: 4,
    oximeterMotion: 6,
    oximeterStuck: 1,
    oximeterContactLoss: 0.5,
    oximeterSilence: 1.5,
    lowPerfusion: 1,
    strapContactLoss: 0.5,
    strapSilence: 1,
    missedBeat: 12,
    extraBeat: 5,
    ectopicBeat: 6,
  },
  motionFlaggedFraction: 0.5,
};

/** Cold hands, a dry strap, a restless person. */
export const heavyFaults: FaultSettings = {
  perHour: {
    oximeterDropout: 20,
    oximeterMotion: 40,
    oximeterStuck: 6,
    oximeterContactLoss: 4,
    oximeterSilence: 8,
    lowPerfusion: 6,
    strapContactLoss: 4,
    strapSilence: 6,
    missedBeat: 90,
    extraBeat: 50,
    ectopicBeat: 40,
  },
  motionFlaggedFraction: 0.4,
};

/** Least and greatest length of a random fault, in ms. Single beats act on the next beat. */
const lengthsMs: Readonly<Record<FaultKind, readonly [number, number]>> = {
  oximeterDropout: [2_000, 12_000],
  oximeterMotion: [3_000, 12_000],
  oximeterStuck: [10_000, 60_000],
  oximeterContactLoss: [5_000, 40_000],
  oximeterSilence: [3_000, 25_000],
  lowPerfusion: [30_000, 180_000],
  strapContactLoss: [5_000, 40_000],
  strapSilence: [3_000, 20_000],
  missedBeat: [1_500, 1_500],
  extraBeat: [1_500, 1_500],
  ectopicBeat: [1_500, 1_500],
};

interface Track {
  readonly kind: FaultKind;
  readonly perMs: number;
  nextAtMs: number;
  active: Fault | undefined;
}

/** Draws the faults as time goes on and remembers those that happened. Times must be asked in rising order. */
export class FaultPlan {
  readonly happened: Fault[] = [];
  #random: SeededRandom;
  #tracks = new Map<FaultKind, Track>();
  #scheduled: Fault[];

  constructor(seed: number, settings: FaultSettings) {
    this.#random = new SeededRandom(seed, 'faults');
    this.#scheduled = [...(settings.scheduled ?? [])].sort((a, b) => a.fromMs - b.fromMs);
    for (const kind of faultKinds) {
      const perMs = (settings.perHour[kind] ?? 0) / 3_600_000;
      this.#tracks.set(kind, { kind, perMs, nextAtMs: this.#nextAfter(0, perMs), active: undefined });
    }
  }

  /** The fault of this kind that holds at `nowMs`, if any. */
  active(kind: FaultKind, nowMs: number): Fault | undefined {
    const track = this.#tracks.get(kind)!;
    if (track.active !== undefined && nowMs >= track.active.toMs) track.active = undefined;
    if (track.active === undefined) {
      const index = this.#scheduled.findIndex(
        (fault) => fault.kind === kind && fault.fromMs <= nowMs && nowMs < fault.toMs,
      );
      if (index >= 0) {
        track.active = this.#scheduled[index]!;
        this.#scheduled.splice(index, 1);
        this.happened.push(track.active);
      } else if (nowMs >= track.nextAtMs) {
        const [least, most] = lengthsMs[kind];
        track.active = { kind, fromMs: nowMs, toMs: nowMs + this.#random.between(least, most) };
        track.nextAtMs = this.#nextAfter(track.active.toMs, track.perMs);
        this.happened.push(track.active);
      }
    }
    return track.active;
  }

  /** Ends a fault early: a single-beat fault that has found its beat. */
  spend(kind: FaultKind): void {
    this.#tracks.get(kind)!.active = undefined;
  }

  #nextAfter(fromMs: number, perMs: number): number {
    return perMs === 0 ? Number.POSITIVE_INFINITY : fromMs - Math.log(1 - this.#random.next()) / perMs;
  }
}
