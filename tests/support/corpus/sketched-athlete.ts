// A second, much simpler simulated athlete: curves drawn straight from published group values, with no physiology
// inside. It exists so that the detector is not judged by one simulator's habits only. SIMULATED data.

import { monotonicMs } from '../../../shared/units.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import type { TrueInterval } from './corpus-session.ts';
import { createRandom, type Random } from './seeded-random.ts';

/** What a sketched person is like. Ranges in `sketchPerson`. */
export interface SketchedPerson {
  readonly restBpm: number;
  /** Half the peak-to-trough swing of respiratory sinus arrhythmia at rest. */
  readonly rsaBpm: number;
  readonly breathsPerMin: number;
  readonly slowWaveBpm: number;
  readonly beatJitterMs: number;
  readonly fallFraction: number;
  readonly fallTauS: number;
  readonly startRiseBpm: number;
  readonly lateFallFraction: number;
  readonly backTauS: number;
  readonly backDelayS: number;
  readonly overshootBpm: number;
  readonly recoveryDepth: number;
  readonly lagS: number;
  readonly averagingS: number;
  readonly plateauS: number;
  readonly slopePercentPerS: number;
  readonly contractionBpm: number;
}

export interface SketchedScript {
  readonly holds: readonly TrueInterval[];
  readonly durationMs: number;
  /** Spans in which the athlete walks or talks. */
  readonly walking?: readonly TrueInterval[];
  readonly talking?: readonly TrueInterval[];
}

/** Draws a person. `overrides` fixes what a condition is about. */
export function sketchPerson(random: Random, overrides: Partial<SketchedPerson> = {}): SketchedPerson {
  return {
    restBpm: random.between(48, 85),
    rsaBpm: Math.exp(random.between(Math.log(1), Math.log(10))),
    breathsPerMin: random.between(6, 18),
    slowWaveBpm: random.between(0.5, 2.5),
    beatJitterMs: random.between(4, 16),
    // Rows 3.02, 3.10, 3.14: from no fall to about a third.
    fallFraction: random.chance(0.15) ? 0 : random.between(0.05, 0.35),
    fallTauS: random.between(8, 20),
    startRiseBpm: random.between(0, 12),
    lateFallFraction: random.chance(0.5) ? random.between(0, 0.12) : 0,
    // Row 3.09: back in about 5 s.
    backTauS: random.between(2, 6),
    backDelayS: random.between(0, 2),
    overshootBpm: random.between(0, 15),
    recoveryDepth: random.between(1, 2.2),
    lagS: random.between(8, 34),
    averagingS: random.between(3, 9),
    // Row 3.05: no change for the first 100 to 140 s; shorter in novices.
    plateauS: random.between(50, 140),
    slopePercentPerS: random.between(0.06, 0.25),
    contractionBpm: random.chance(0.5) ? random.between(0, 2) : 0,
    ...overrides,
  };
}

const stepS = 0.25;
/** Where a person has contractions they begin this long into a hold and grow over a minute. */
export const sketchedContractionsFromMs = 60_000;

/** Draws the signals of one athlete. Returns good samples only; faults are put on afterwards. */
export function sketchSession(seed: number, person: SketchedPerson, script: SketchedScript): Sample[] {
  const random = createRandom(seed);
  const steps = Math.ceil(script.durationMs / 1_000 / stepS);
  const inSpan = (spans: readonly TrueInterval[] | undefined, ms: number): boolean =>
    spans?.some((span) => ms >= span.startMs && ms < span.endMs) ?? false;
  const heart = new Float64Array(steps);
  const arterial = new Float64Array(steps);
  let holdAt = 0;
  let phase = random.next();
  let slowPhase = random.next();
  let drift = 0;
  let depth = 1;
  let rateFactor = 1;
  let effort = 0;
  let held = 0;
  let fallen = 0;
  let oxygen = 98 + random.between(-0.8, 0.8);
  const top = oxygen;
  let speechFor = 0;
  let speechRate = 1;
  for (let i = 0; i < steps; i++) {
    const ms = i * stepS * 1_000;
    while (holdAt < script.holds.length && script.holds[holdAt]!.endMs <= ms) {
      holdAt += 1;
    }
    const hold = script.holds[holdAt];
    const holding = hold !== undefined && ms >= hold.startMs;
    const previous = script.holds[holdAt - 1];
    const sinceEnd = previous === undefined ? Number.POSITIVE_INFINITY : (ms - previous.endMs) / 1_000;
    const toStart = hold === undefined ? Number.POSITIVE_INFINITY : (hold.startMs - ms) / 1_000;
    drift += -drift * (stepS / 90) + 0.22 * Math.sqrt(stepS) * random.normal();
    depth += (1 - depth) * (stepS / 12) + 0.07 * Math.sqrt(stepS) * random.normal();
    rateFactor += (1 - rateFactor) * (stepS / 10) + 0.04 * Math.sqrt(stepS) * random.normal();
    slowPhase += stepS * 0.1 * (1 + 0.2 * random.normal());
    const walking = inSpan(script.walking, ms);
    const talking = inSpan(script.talking, ms);
    effort += ((walking ? 1 : 0) - effort) * (stepS / 15);
    let rate = person.restBpm + drift + person.slowWaveBpm * Math.sin(2 * Math.PI * slowPhase) + 32 * effort;
    if (holding) {
      held = (ms - hold.startMs) / 1_000;
      fallen = person.fallFraction * (1 - Math.exp(-Math.max(0, held - 3) / person.fallTauS));
      const late = person.lateFallFraction * Math.min(1, Math.max(0, (held - 120) / 100));
      const early = person.startRiseBpm * (held / 3) * Math.exp(1 - held / 3);
      rate = rate * (1 - fallen) * (1 - late) + early;
      const contracting = held - sketchedContractionsFromMs / 1_000;
      if (contracting > 0) {
        rate += person.contractionBpm * Math.min(1, contracting / 60) * Math.sin((2 * Math.PI * held) / 4.2);
      }
    } else {
      const back =
        sinceEnd < 120 ? Math.exp(-Math.max(0, sinceEnd - person.backDelayS) / person.backTauS) : 0;
      const over =
        sinceEnd < 120 && sinceEnd > person.backDelayS
          ? person.overshootBpm *
            (1 - Math.exp(-(sinceEnd - person.backDelayS) / 3)) *
            Math.exp(-sinceEnd / 22)
          : 0;
      rate = rate * (1 - fallen * Math.min(1, back)) + over;
      if (talking) {
        speechFor -= stepS;
        if (speechFor <= 0) {
          speechFor = random.between(1.5, 6);
          speechRate = 0.5 / speechFor;
        }
        phase += stepS * speechRate;
      } else {
        const perMin = person.breathsPerMin * (toStart < 60 ? 0.75 : 1) * (walking ? 1.5 : 1);
        phase += (stepS * perMin * Math.max(0.5, rateFactor)) / 60;
      }
      const deep =
        sinceEnd < 25 ? person.recoveryDepth : toStart < 60 ? 1.4 : walking ? 0.45 : talking ? 0.8 : 1;
      // The first breath in starts at the end of the hold.
      const wave = sinceEnd < 4 ? Math.sin((2 * Math.PI * sinceEnd) / 5) : Math.sin(2 * Math.PI * phase);
      rate += person.rsaBpm * deep * Math.max(0.25, depth) * wave;
    }
    heart[i] = Math.max(28, rate);
    if (holding && held > person.plateauS) {
      oxygen -= person.slopePercentPerS * Math.min(1, (held - person.plateauS) / 40) * stepS;
    } else if (!holding) {
      oxygen += (top - oxygen) * (stepS / 5);
    }
    arterial[i] = oxygen;
  }

  const samples: Sample[] = [];
  const add = (channel: Sample['channel'], ms: number, value: number, sensorId: string): void => {
    samples.push({
      channel,
      atMs: monotonicMs(Math.round(ms)),
      value,
      sensorId,
      quality: 'good',
      reasons: [],
    });
  };
  // Beats by integral pulse frequency modulation.
  let beatPhase = 0;
  let lastBeat = Number.NaN;
  const recent: number[] = [];
  const lagSteps = Math.round(person.lagS / stepS);
  const averageSteps = Math.max(1, Math.round(person.averagingS / stepS));
  let spo2Sum = arterial[0]! * averageSteps;
  let pulse = person.restBpm;
  let noise = 0;
  for (let i = 0; i < steps; i++) {
    const ms = i * stepS * 1_000;
    const advance = (heart[i]! / 60) * stepS;
    beatPhase += advance;
    if (beatPhase >= 1) {
      beatPhase -= 1;
      const beat = ms + stepS * 1_000 * (1 - beatPhase / advance) + person.beatJitterMs * random.normal();
      if (beat > lastBeat + 200) {
        const rr = beat - lastBeat;
        recent.push(rr);
        if (recent.length > 4) {
          recent.shift();
        }
        add('rrIntervalMs', beat, Math.round(rr * 1.024) / 1.024, 'strap');
      }
      if (Number.isNaN(lastBeat) || beat > lastBeat + 200) {
        lastBeat = beat;
      }
    }
    const newIn = arterial[Math.max(0, i - lagSteps)]!;
    const oldOut = arterial[Math.max(0, i - lagSteps - averageSteps)]!;
    spo2Sum += newIn - oldOut;
    pulse += (heart[i]! - pulse) * (stepS / 4);
    if (i % 4 === 3) {
      if (recent.length > 0) {
        const mean = recent.reduce((sum, rr) => sum + rr, 0) / recent.length;
        add('heartRateBpm', ms + 100, Math.round(60_000 / mean), 'strap');
      }
      noise = 0.9 * noise + 0.15 * random.normal();
      add(
        'spo2Percent',
        ms + 150,
        Math.max(30, Math.min(100, Math.round(spo2Sum / averageSteps + noise))),
        'oximeter',
      );
      add('pulseRateBpm', ms + 150, Math.round(pulse), 'oximeter');
    }
  }
  return samples.sort((a, b) => a.atMs - b.atMs);
}
