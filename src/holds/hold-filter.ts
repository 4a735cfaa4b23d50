// The live filter: the hidden semi-Markov model of semi-markov.ts run forward only, one second at a time, with scales
// learnt as it goes. Each possible start of the present hold is kept with its weight, so lengths count.

import type { SecondRow } from '../signal/second-rows.ts';
import {
  levelEvidence,
  logDurationDensity,
  logStudent,
  longestHoldS,
  shortestBreathingS,
  shortestHoldS,
} from './evidence.ts';
import { bandShapes, bandSpan } from './recording-features.ts';
import {
  bandEvidence,
  type PersonModel,
  settlingRows,
  settlingScaleBpm,
  shallowShare,
  shapeEvidence,
  toDeep,
  toShallow,
} from './semi-markov.ts';

/** What the filter believes after a row. Times are milliseconds of the session. */
export interface FilterBelief {
  readonly atMs: number;
  readonly holdProbability: number;
  /** Mean and spread of the present hold's start, given that there is one. */
  readonly startMs: number;
  readonly startSpreadMs: number;
  /** Mean and spread of the last end, given that the athlete breathes. */
  readonly endMs: number;
  readonly endSpreadMs: number;
  /** Rise of heart rate in the newest seconds, beats a minute. */
  readonly riseBpm: number;
  readonly heartRateFallPercent: number;
  /** Scale of the fastest band that carries breathing, while breathing and now. */
  readonly modulationBpm: number;
}

export interface HoldFilter {
  push(row: SecondRow): FilterBelief;
  /** A person says that a hold began (or ended) at this time. */
  forceHold(startMs: number): void;
  forceBreathing(endMs: number): void;
  /** Takes over what a look back over the last minutes has learnt of the person. */
  adopt(person: PersonModel): void;
  /** A planned start as a prior. */
  expectStart(atMs: number, toleranceMs: number): void;
}

const negative = Number.NEGATIVE_INFINITY;
const logAdd = (a: number, b: number): number => {
  if (a === negative) {
    return b;
  }
  if (b === negative) {
    return a;
  }
  return Math.max(a, b) + Math.log1p(Math.exp(-Math.abs(a - b)));
};

/** Holds begin about once in five minutes of breathing; the rest is caution against false ones. Choices. */
const logStartRate = Math.log(1 / 300) - 0.7;
const slots = longestHoldS + 16;
/** Share of breathing's scale that is left in a hold, until a hold has been seen. A choice. */
const firstHoldShare = 0.3;
const keptRows = 40;
/** Age of a start, seconds, at which its shape can be judged. */
const fallAge = 14;

const generalLength = Float64Array.from({ length: longestHoldS + 1 }, (_, d) => logDurationDensity(d));

/** Log probability that a hold lasts longer than d seconds. */
function survivalOf(length: Float64Array): Float64Array {
  const out = new Float64Array(longestHoldS + 1);
  let tail = 0;
  for (let d = longestHoldS; d >= 0; d--) {
    out[d] = Math.log(Math.max(1e-9, tail));
    tail += Math.exp(length[d]!);
  }
  return out.map((value) => value - out[0]!);
}

/** Makes a filter that has seen nothing. Bounded memory: one slot for each second of the longest hold. */
export function createHoldFilter(): HoldFilter {
  const rates: number[] = [];
  const fine: number[] = [];
  const baseline: number[] = [];
  const starts = new Float64Array(slots);
  const weights = new Float64Array(slots);
  let count = 0;
  let logDeep = Math.log(0.85);
  let logShallow = Math.log(0.15);
  const ends: { atMs: number; logMass: number }[] = [];
  const breathingPower = [36, 36, 16, Number.NaN, Number.NaN, Number.NaN];
  const bandSeen = bandShapes.map(() => 10);
  const holdingPower = breathingPower.map((power) => power * firstHoldShare ** 2);
  let breathingSeen = 10;
  let holdingSeen = 0;
  let base = Number.NaN;
  let low = Number.NaN;
  let spread = 0.06;
  let fallSpread = 3;
  let sinceBeats = 1_000;
  let rowsSeen = 0;
  let planned: { atMs: number; toleranceMs: number } | undefined;
  let logLength: Float64Array = generalLength;
  let logSurvival: Float64Array = survivalOf(generalLength);

  const meanOf = (values: readonly number[], from: number, to: number): number => {
    let sum = 0;
    let known = 0;
    for (let i = from; i <= to; i++) {
      const value = values[values.length - 1 + i];
      if (value !== undefined && !Number.isNaN(value)) {
        sum += value;
        known += 1;
      }
    }
    return known * 2 > to - from + 1 ? sum / known : Number.NaN;
  };

  return {
    adopt(person) {
      bandShapes.forEach((_, b) => {
        if (Number.isFinite(breathingPower[b]!)) {
          breathingPower[b] = person.breathing[b]! ** 2;
          holdingPower[b] = person.holding[b]! ** 2;
        }
      });
      holdingSeen = Math.max(holdingSeen, 40);
      breathingSeen = Math.max(breathingSeen, 120);
      spread = person.levelSpread;
      const restBpm = person.base.at(-1) ?? Number.NaN;
      base = Number.isFinite(restBpm) ? restBpm : base;
      logLength = person.logDuration;
      logSurvival = survivalOf(logLength);
    },
    expectStart(atMs, toleranceMs) {
      planned = { atMs, toleranceMs: Math.max(1_000, toleranceMs) };
    },
    forceHold(startMs) {
      count = 1;
      starts[0] = startMs;
      weights[0] = 0;
      logDeep = -14;
      logShallow = -16;
    },
    forceBreathing(endMs) {
      count = 0;
      logDeep = Math.log(0.9);
      logShallow = Math.log(0.1);
      ends.length = 0;
      ends.push({ atMs: endMs, logMass: 0 });
    },
    push(row) {
      rowsSeen += 1;
      sinceBeats = row.heartRateSource === 'rr' ? 0 : sinceBeats + 1;
      rates.push(row.heartRateBpm);
      // An averaged rate has lost the breathing; taking it for beats would look like a hold.
      fine.push(row.heartRateSource === 'rr' || sinceBeats > 25 ? row.heartRateBpm : Number.NaN);
      baseline.push(row.plethBreathing);
      if (rates.length > keptRows) {
        baseline.shift();
        rates.shift();
        fine.shift();
      }
      const bands = bandShapes.map(({ signal, width }) => {
        const values = signal === 'heartRate' ? fine : baseline;
        return values.length < 3 * width
          ? Number.NaN
          : meanOf(values, -width + 1, 0) -
              2 * meanOf(values, -2 * width + 1, -width) +
              meanOf(values, -3 * width + 1, -2 * width);
      });
      const level = meanOf(rates, -3, 0);
      const fraction = Number.isFinite(base) ? level / base - 1 : Number.NaN;
      const rise = meanOf(rates, -1, 0) - meanOf(rates, -8, -3);
      const sigmaB = breathingPower.map((power) => Math.sqrt(power));
      const sigmaH = holdingPower.map((power, b) =>
        Math.max(bandShapes[b]!.signal === 'heartRate' ? 0.3 : 1e-6, Math.min(Math.sqrt(power), sigmaB[b]!)),
      );
      let shallowGain = 0;
      const calm: number[] = [];
      const settling: number[] = [];
      bandShapes.forEach((_, b) => {
        const half = Math.max(sigmaH[b]!, shallowShare * sigmaB[b]!);
        shallowGain += bandEvidence(b, bands[b]!, half, sigmaB[b]!);
        calm.push(bandEvidence(b, bands[b]!, sigmaH[b]!, sigmaB[b]!));
        settling.push(
          bandEvidence(
            b,
            bands[b]!,
            Math.max(half, settlingScaleBpm[b]!),
            Math.max(sigmaB[b]!, settlingScaleBpm[b]!),
            -0.5,
          ),
        );
      });
      const known = Number.isFinite(fraction);
      const levelEarly = known ? levelEvidence(fraction, 2, spread) : 0;
      const levelLate = known ? levelEvidence(fraction, 60, spread) : 0;
      // A jump within a hold is what the first breaths do; half weight, since the bands see some of it too.
      const jumpScale = Math.max(1.5, 0.8 * sigmaH[0]!);
      const jump =
        Number.isFinite(rise) && rise > 0
          ? -0.5 *
            Math.max(
              0,
              Math.min(3, logStudent(rise - Math.min(rise, 9), 6, 5) - logStudent(rise, jumpScale, 5)),
            )
          : 0;

      // A start shows in its shape: the last breath lifts the rate, then it falls (3.08, 3.02).
      const fall = meanOf(rates, -fallAge, -fallAge + 6) - meanOf(rates, -4, 0);
      const fallGain = shapeEvidence(
        fall,
        { mean: 7, spread: 7, restSpread: Math.max(1.5, fallSpread) },
        -0.5,
        3.5,
      );

      // Ends of holds: every present start may have ended before this row.
      // Weights are normalised each row and a row's gain is bounded, so sums of plain exponentials are safe.
      let endedSum = 0;
      let kept = 0;
      for (let i = 0; i < count; i++) {
        const d = Math.round((row.atMs - starts[i]!) / 1_000);
        if (d > longestHoldS) {
          continue;
        }
        const weight = weights[i]!;
        if (d >= shortestHoldS) {
          const path = weight + logLength[d]!;
          endedSum += path > -30 ? Math.exp(path) : 0;
        }
        let gain = d < 13 ? levelEarly : d < 26 ? 0.5 * (levelEarly + levelLate) : levelLate;
        if (d === fallAge) {
          gain += fallGain;
        }
        if (d > 10) {
          gain += jump;
        }
        for (let b = 0; b < bandShapes.length; b++) {
          const inside = d - bandSpan(b);
          if (inside >= 0) {
            gain += inside < settlingRows(b) ? settling[b]! : calm[b]!;
          }
        }
        starts[kept] = starts[i]!;
        weights[kept] = weight + gain;
        kept += 1;
      }
      count = kept;
      const ended = endedSum > 0 ? Math.log(endedSum) : negative;

      // Starts: from breathing that has lasted a while.
      const logBreathing = logAdd(logDeep, logShallow);
      let recent = negative;
      for (const end of ends) {
        if (row.atMs - end.atMs < shortestBreathingS * 1_000) {
          recent = logAdd(recent, end.logMass);
        }
      }
      const ready = Math.max(1e-9, 1 - Math.exp(Math.min(0, recent - logBreathing)));
      let startRate = Math.exp(logStartRate);
      if (planned !== undefined) {
        const z = (row.atMs - planned.atMs) / planned.toleranceMs;
        if (z > 4) {
          planned = undefined;
        } else {
          startRate += (0.7 * Math.exp(-0.5 * z * z) * 1_000) / (planned.toleranceMs * 2.5066);
        }
      }
      const started = logBreathing + Math.log(ready) + Math.log(Math.min(0.4, startRate));
      const deep = logAdd(logDeep + Math.log1p(-toShallow), logShallow + Math.log(toDeep));
      const shallow = logAdd(logShallow + Math.log1p(-toDeep), logDeep + Math.log(toShallow)) + shallowGain;
      logDeep = logAdd(deep, ended);
      logShallow = shallow;
      if (count < slots && rowsSeen > 3) {
        starts[count] = row.atMs - 1_000;
        weights[count] = started;
        count += 1;
      }

      // Normalise, prune, and take moments.
      let sum = Math.exp(logDeep) + Math.exp(logShallow);
      for (let i = 0; i < count; i++) {
        const d = Math.min(longestHoldS, Math.round((row.atMs - starts[i]!) / 1_000));
        const logP = weights[i]! + logSurvival[d]!;
        sum += logP > -30 ? Math.exp(logP) : 0;
      }
      const total = Math.log(sum);
      logDeep -= total;
      logShallow -= total;
      let holdProbability = 0;
      let startSum = 0;
      let startSquares = 0;
      let settledP = 0;
      let left = 0;
      for (let i = 0; i < count; i++) {
        const weight = weights[i]! - total;
        const d = Math.min(longestHoldS, Math.round((row.atMs - starts[i]!) / 1_000));
        const logP = weight + logSurvival[d]!;
        if (logP < -17) {
          continue;
        }
        const p = Math.exp(logP);
        holdProbability += p;
        const offset = starts[i]! - row.atMs;
        startSum += p * offset;
        startSquares += p * offset * offset;
        if (d > bandSpan(1) + settlingRows(1)) {
          settledP += p;
        }
        starts[left] = starts[i]!;
        weights[left] = weight;
        left += 1;
      }
      count = left;
      for (const end of ends) {
        end.logMass -= total;
      }
      ends.push({ atMs: row.atMs - 1_000, logMass: ended - total });
      if (ends.length > 90) {
        ends.shift();
      }
      let endP = 0;
      let endSum = 0;
      let endSquares = 0;
      for (const end of ends) {
        const p = Math.exp(Math.min(0, end.logMass));
        const offset = end.atMs - row.atMs;
        endP += p;
        endSum += p * offset;
        endSquares += p * offset * offset;
      }

      // Learn this person's scales from what each second most probably was.
      const breathingP = 1 - holdProbability;
      breathingSeen += breathingP;
      const calmShare = holdProbability > 0.95 && settledP > 0.9 ? 1 : 0;
      holdingSeen += calmShare;
      bandShapes.forEach((_, b) => {
        const value = bands[b]!;
        if (Number.isNaN(value)) {
          return;
        }
        if (Number.isNaN(breathingPower[b]!)) {
          // A pleth's unit is its own: the first value sets the size.
          breathingPower[b] = Math.max(1e-10, value * value);
          bandSeen[b] = 1;
        }
        const least = bandShapes[b]!.signal === 'heartRate' ? 0.25 : 1e-10;
        const power = Math.min(value * value, 9 * breathingPower[b]!);
        bandSeen[b] = bandSeen[b]! + breathingP;
        breathingPower[b] = Math.max(
          least,
          breathingPower[b]! + (breathingP / Math.min(240, bandSeen[b]!)) * (power - breathingPower[b]!),
        );
        if (calmShare > 0) {
          holdingPower[b] = holdingPower[b]! + (power - holdingPower[b]!) / Math.min(300, holdingSeen + 40);
        } else if (holdingSeen < 20) {
          holdingPower[b] = firstHoldShare ** 2 * breathingPower[b]!;
        }
      });
      if (Number.isFinite(fall)) {
        fallSpread += (breathingP * (1.3 * Math.min(Math.abs(fall), 3 * fallSpread) - fallSpread)) / 150;
      }
      if (Number.isFinite(level)) {
        if (breathingP > 0.5) {
          const slow = Number.isFinite(base)
            ? base + (breathingP * (level - base)) / Math.min(90, breathingSeen)
            : level;
          spread = Math.min(
            0.12,
            Math.max(0.03, spread + (breathingP * (1.2 * Math.abs(level / slow - 1) - spread)) / 240),
          );
          base = slow;
        }
        low = Number.isFinite(low) ? low + (level < low ? 0.03 : 0.0008) * (level - low) : level;
        // After exercise the rate falls too; what counts as a hold's fall is a fall below rest.
        base = Number.isFinite(base) ? Math.min(base, 1.3 * low) : base;
      }

      const startMean = holdProbability > 0 ? startSum / holdProbability : 0;
      const endMean = endP > 0 ? endSum / endP : 0;
      return {
        atMs: row.atMs,
        holdProbability,
        startMs: row.atMs + startMean,
        startSpreadMs: Math.sqrt(
          Math.max(0, holdProbability > 0 ? startSquares / holdProbability - startMean ** 2 : 0),
        ),
        endMs: row.atMs + endMean,
        endSpreadMs: Math.sqrt(Math.max(0, endP > 0 ? endSquares / endP - endMean ** 2 : 0)),
        riseBpm: Number.isFinite(rise) ? rise : 0,
        heartRateFallPercent: known ? -100 * fraction : 0,
        modulationBpm: sigmaB[0]!,
      };
    },
  };
}
