// The live filter: a hidden semi-Markov model with two states, breathing and holding, run forward one second
// at a time. Each possible start of the present hold is kept with its weight, so durations count.

import type { SecondRow } from '../signal/second-rows.ts';
import {
  breathingMeanS,
  endHazard,
  levelEvidence,
  longestHoldS,
  modulationEvidence,
  riseEvidence,
  shortestBreathingS,
} from './evidence.ts';

/** What the filter believes after a row. Times are row times, milliseconds. */
export interface FilterBelief {
  /** The row it speaks of, a few seconds behind the newest. */
  readonly atMs: number;
  readonly holdProbability: number;
  /** Posterior mean and spread of the present hold's start, given that there is one. */
  readonly startMs: number;
  readonly startSpreadMs: number;
  /** Posterior mean and spread of the last end, given that the athlete breathes. */
  readonly endMs: number;
  readonly endSpreadMs: number;
  /** Log ratio for "breathing has begun in the last seconds", from rows too new for the filter. */
  readonly freshRise: number;
  readonly heartRateFallPercent: number;
  readonly modulationBpm: number;
  readonly holdModulationBpm: number;
}

export interface HoldFilter {
  push(row: SecondRow): FilterBelief | undefined;
  /** A person says that a hold began (or ended) at this time. */
  forceHold(startMs: number): void;
  forceBreathing(endMs: number): void;
  /** A planned start as a prior. */
  expectStart(atMs: number, toleranceMs: number): void;
}

/** Rows on each side of a centred mean. */
const reach = 3;
const historyRows = 120;
const logSumExp = (a: number, b: number): number => {
  const high = Math.max(a, b);
  const low = Math.min(a, b);
  return high === Number.NEGATIVE_INFINITY ? high : high + Math.log1p(Math.exp(low - high));
};

const hazardTable = Array.from({ length: longestHoldS + 2 }, (_, seconds) => endHazard(seconds));
const logHazard = hazardTable.map((hazard) => (hazard > 0 ? Math.log(hazard) : Number.NEGATIVE_INFINITY));
const logStay = hazardTable.map((hazard) => (hazard < 1 ? Math.log1p(-hazard) : Number.NEGATIVE_INFINITY));

/** Makes a filter that has seen nothing. Bounded memory: one slot for each second of the longest hold. */
export function createHoldFilter(): HoldFilter {
  let rows: SecondRow[] = [];
  const starts = new Float64Array(longestHoldS + 8);
  const weights = new Float64Array(longestHoldS + 8);
  const bases = new Float64Array(longestHoldS + 8);
  let count = 0;
  let logBreathing = 0;
  const recentEnds: { atMs: number; logMass: number }[] = [];
  let breathingPower = 2.2 ** 2;
  let holdingPower = 0.9 ** 2;
  let breathingSeen = 15;
  let holdingSeen = 20;
  let spread = 0.05;
  let base = Number.NaN;
  let planned: { atMs: number; toleranceMs: number } | undefined;

  const meanRate = (from: number, to: number): number => {
    let sum = 0;
    let n = 0;
    for (let i = Math.max(0, from); i <= to && i < rows.length; i++) {
      const rate = rows[i]!.heartRateBpm;
      if (Number.isFinite(rate)) {
        sum += rate;
        n += 1;
      }
    }
    return n >= Math.max(2, (to - from + 1) / 2) ? sum / n : Number.NaN;
  };

  return {
    expectStart(atMs, toleranceMs) {
      planned = { atMs, toleranceMs: Math.max(1_000, toleranceMs) };
    },
    forceHold(startMs) {
      count = 1;
      starts[0] = startMs;
      weights[0] = 0;
      bases[0] = base;
      logBreathing = -30;
    },
    forceBreathing(endMs) {
      count = 0;
      logBreathing = 0;
      recentEnds.length = 0;
      recentEnds.push({ atMs: endMs, logMass: 0 });
    },
    push(row) {
      rows.push(row);
      if (rows.length > historyRows + 60) {
        rows = rows.slice(-historyRows);
      }
      const at = rows.length - 1 - reach;
      if (at < reach) {
        return undefined;
      }
      const now = rows[at]!;
      const rate = now.heartRateBpm;
      const around = meanRate(at - reach, at + reach);
      const level = meanRate(at - 2, at + 2);
      const high = rate - around;
      const sigmaB = Math.sqrt(breathingPower);
      const sigmaH = Math.min(Math.sqrt(holdingPower), sigmaB * 0.85);
      const scale = { breathing: sigmaB, holding: Math.max(0.3, sigmaH) };
      const modulation = Number.isFinite(high) ? modulationEvidence(high, scale) : 0;
      const before = meanRate(at - 7, at - 1);
      const after = meanRate(at + 1, at + 3);
      const rise =
        Number.isFinite(before) && Number.isFinite(after)
          ? riseEvidence(after - before, scale.holding * 1.6)
          : 0;

      // Ends: every present start may end here.
      let endMass = Number.NEGATIVE_INFINITY;
      let kept = 0;
      for (let i = 0; i < count; i++) {
        const seconds = Math.round((now.atMs - starts[i]!) / 1_000);
        if (seconds > longestHoldS) {
          continue;
        }
        const base_ = bases[i]!;
        const fraction = (level - base_) / base_;
        const evidence =
          (seconds < 4 ? 0.4 * modulation : modulation) +
          (Number.isFinite(fraction) ? levelEvidence(fraction, seconds, spread) : 0);
        const weight = weights[i]! + evidence;
        const hazard = logHazard[Math.max(0, seconds)]!;
        if (hazard > Number.NEGATIVE_INFINITY) {
          endMass = logSumExp(endMass, weight + hazard + rise);
        }
        starts[kept] = starts[i]!;
        bases[kept] = base_;
        weights[kept] = weight + logStay[Math.max(0, seconds)]!;
        kept += 1;
      }
      count = kept;

      const readyToStart = logBreathing - 0; // the least breathing time is enforced below, by taking recent ends away
      let recent = Number.NEGATIVE_INFINITY;
      for (const end of recentEnds) {
        if (now.atMs - end.atMs < shortestBreathingS * 1_000) {
          recent = logSumExp(recent, end.logMass);
        }
      }
      const share = recent > Number.NEGATIVE_INFINITY ? Math.min(1, Math.exp(recent - logBreathing)) : 0;
      let startRate = 1 / breathingMeanS;
      if (planned !== undefined) {
        const z = (now.atMs - planned.atMs) / planned.toleranceMs;
        if (z > 4) {
          planned = undefined;
        } else {
          startRate += (0.8 * Math.exp(-0.5 * z * z) * 1_000) / (planned.toleranceMs * 2.5066);
        }
      }
      const newStart =
        readyToStart + Math.log(Math.max(1e-12, 1 - share)) + Math.log(Math.min(0.5, startRate));
      logBreathing = logSumExp(logBreathing + Math.log1p(-Math.min(0.5, startRate)), endMass);
      if (count < starts.length) {
        starts[count] = now.atMs;
        bases[count] = Number.isFinite(base) ? base : level;
        weights[count] = newStart;
        count += 1;
      }

      // Normalise and prune.
      let total = logBreathing;
      for (let i = 0; i < count; i++) {
        total = logSumExp(total, weights[i]!);
      }
      logBreathing -= total;
      let holdProbability = 0;
      let startSum = 0;
      let startSquares = 0;
      let left = 0;
      for (let i = 0; i < count; i++) {
        const weight = weights[i]! - total;
        if (weight < -22) {
          continue;
        }
        const p = Math.exp(weight);
        holdProbability += p;
        const offset = starts[i]! - now.atMs;
        startSum += p * offset;
        startSquares += p * offset * offset;
        starts[left] = starts[i]!;
        bases[left] = bases[i]!;
        weights[left] = weight;
        left += 1;
      }
      count = left;
      for (const end of recentEnds) {
        end.logMass -= total;
      }
      recentEnds.push({ atMs: now.atMs, logMass: endMass - total });
      while (recentEnds.length > 90) {
        recentEnds.shift();
      }
      let endP = 0;
      let endSum = 0;
      let endSquares = 0;
      for (const end of recentEnds) {
        const p = Math.exp(end.logMass);
        endP += p;
        const offset = end.atMs - now.atMs;
        endSum += p * offset;
        endSquares += p * offset * offset;
      }

      // Learn this person's scales from what each second most probably was.
      const breathingP = 1 - holdProbability;
      if (Number.isFinite(high)) {
        const power = Math.min(high * high, 12 * breathingPower);
        const rateB = breathingP / Math.min(180, breathingSeen + 1);
        breathingSeen += breathingP;
        breathingPower += rateB * (power - breathingPower);
        if (holdProbability > 0.9) {
          const powerH = Math.min(high * high, 9 * holdingPower);
          holdingSeen += holdProbability;
          holdingPower += (powerH - holdingPower) / Math.min(240, holdingSeen);
        } else if (holdingSeen < 40) {
          holdingPower = Math.max(0.16, 0.12 * breathingPower);
        }
      }
      if (Number.isFinite(level) && breathingP > 0.5) {
        base = Number.isFinite(base) ? base + (breathingP * (level - base)) / 45 : level;
        spread += (breathingP * (Math.min(0.2, 1.25 * Math.abs(level / base - 1)) - spread)) / 200;
        spread = Math.max(0.025, spread);
      }

      const newest = rows.length - 1;
      const latest = meanRate(newest - 1, newest);
      const trend = meanRate(newest - 9, newest - 3);
      const fresh =
        Number.isFinite(latest) && Number.isFinite(trend)
          ? riseEvidence(latest - trend, scale.holding * 1.8)
          : 0;
      const startMs = holdProbability > 0 ? now.atMs + startSum / holdProbability : Number.NaN;
      const startVariance =
        holdProbability > 0 ? startSquares / holdProbability - (startSum / holdProbability) ** 2 : 0;
      const endVariance = endP > 0 ? endSquares / endP - (endSum / endP) ** 2 : 0;
      return {
        atMs: now.atMs,
        holdProbability,
        startMs,
        startSpreadMs: Math.sqrt(Math.max(0, startVariance)),
        endMs: endP > 0 ? now.atMs + endSum / endP : now.atMs,
        endSpreadMs: Math.sqrt(Math.max(0, endVariance)),
        freshRise: fresh,
        heartRateFallPercent: Number.isFinite(level) && base > 0 ? 100 * (1 - level / base) : 0,
        modulationBpm: sigmaB,
        holdModulationBpm: scale.holding,
      };
    },
  };
}
