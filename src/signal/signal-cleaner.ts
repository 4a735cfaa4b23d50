// Gives each sample, as it comes, its quality and why: range, slope, stuck values, beat artefacts, two sensors that
// disagree. Nothing is delayed, dropped or changed in value, and no doubt lasts: see `spo2Doubt`.

import type { SampleQuality } from '../../shared/schema-parts.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { QualityReason, Sample } from '../samples/sample.ts';
import { createBeatScreen } from './beat-screen.ts';
import { createPlethBeats, type PlethBeats } from './pleth-beats.ts';

export interface SignalCleaner {
  /**
   * Takes a sample in time order; returns it with its quality and reasons revised. Never throws. A pleth sample is
   * followed by the intervals of the beats found in it, as suspect RR intervals, while no strap sends any.
   */
  push(sample: Sample): readonly Sample[];
}

/** Readings outside these are no person at rest: HR 25+, SpO2 40+ have been measured in divers (3.29). */
const plausible = {
  heartRateBpm: [20, 250],
  pulseRateBpm: [20, 250],
  rrIntervalMs: [240, 3_000],
  spo2Percent: [30, 100],
  perfusionIndexPercent: [0, 30],
  pleth: [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY],
  respirationRaw: [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY],
} as const satisfies Record<Sample['channel'], readonly [number, number]>;

/**
 * The steepest true fall at a finger is near 0.35 %/s (vectors.lag_error_table); twice that and rounding to whole
 * per cent still stay under this. A faster fall is doubted, but only for `longestDoubtMs`: an artefact is gone by
 * then, and a true fall must not wait longer for its alarm.
 */
const steepestFallPercentPerS = 1.5;
const steepestRisePercentPerS = 4;
const longestDoubtMs = 6_000;
/** Saturation and pulse rate both without the slightest change for this long: the sensor repeats itself. */
const stuckAfterMs = 45_000;
/** Strap and oximeter agree within this at rest (pulse rate is declared to 3 /min: 4.03), averaging apart. */
const agreeWithinBpm = 12;
/** Beats from a pleth stand in when the strap's have been missing this long. */
const strapSilentAfterMs = 15_000;
const disagreeAfterMs = 12_000;

const noIntervals: readonly Sample[] = [];

const worse = (a: SampleQuality, b: SampleQuality): SampleQuality =>
  a === 'bad' || b === 'bad' ? 'bad' : a === 'suspect' || b === 'suspect' ? 'suspect' : 'good';

/** Makes a cleaner for one athlete's sensors together. Constant memory. */
export function createSignalCleaner(): SignalCleaner {
  const screens = new Map<string, ReturnType<typeof createBeatScreen>>();
  const spo2Gates = new Map<string, Spo2Gate>();
  const plethBeats = new Map<string, PlethBeats>();
  let beatsHeardMs = Number.NEGATIVE_INFINITY;
  let strap: { atMs: number; bpm: number } | undefined;
  let disagreeSinceMs: number | undefined;

  const screenOf = (sensorId: string) => {
    let screen = screens.get(sensorId);
    if (screen === undefined) {
      screen = createBeatScreen();
      screens.set(sensorId, screen);
    }
    return screen;
  };
  const gateOf = (sensorId: string): Spo2Gate => {
    let gate = spo2Gates.get(sensorId);
    if (gate === undefined) {
      gate = createSpo2Gate();
      spo2Gates.set(sensorId, gate);
    }
    return gate;
  };

  const intervalsOf = (sample: Sample): readonly Sample[] => {
    let finder = plethBeats.get(sample.sensorId);
    if (finder === undefined) {
      finder = createPlethBeats();
      plethBeats.set(sample.sensorId, finder);
    }
    const beats = finder.push(sample.atMs, sample.value);
    if (beats.length === 0 || sample.atMs - beatsHeardMs < strapSilentAfterMs) {
      return noIntervals;
    }
    return beats.flatMap(({ atMs, rrIntervalMs }) =>
      rrIntervalMs === undefined
        ? []
        : [
            {
              channel: 'rrIntervalMs' as const,
              atMs: monotonicMs(atMs),
              value: rrIntervalMs,
              sensorId: sample.sensorId,
              quality: 'suspect' as const,
              reasons: ['questionable' as const],
            },
          ],
    );
  };

  return {
    push(sample) {
      if (sample.channel === 'pleth' && sample.quality !== 'bad' && Number.isFinite(sample.value)) {
        const intervals = intervalsOf(sample);
        return intervals.length === 0 ? [sample] : [sample, ...intervals];
      }
      const doubt = doubtOf(sample);
      return [doubt === undefined ? sample : doubted(sample, doubt)];
    },
  };

  /** At most one: what is out of range is not judged further. */
  function doubtOf(sample: Sample): Doubt | undefined {
    const range = plausible[sample.channel];
    if (!(sample.value >= range[0] && sample.value <= range[1])) return outOfRange;
    if (sample.channel === 'rrIntervalMs') {
      beatsHeardMs = sample.atMs;
      const verdict = screenOf(sample.sensorId).push(sample.atMs, sample.value)[0]?.verdict;
      if (verdict === 'missedBeat' || verdict === 'extraBeat' || verdict === 'ectopicBeat') {
        return { level: 'suspect', reason: verdict };
      }
    } else if (sample.channel === 'spo2Percent' && sample.quality !== 'bad') {
      const reason = gateOf(sample.sensorId).spo2Doubt(sample.atMs, sample.value);
      if (reason !== undefined) return { level: 'suspect', reason };
    } else if (sample.channel === 'heartRateBpm' && sample.quality === 'good') {
      strap = { atMs: sample.atMs, bpm: sample.value };
    } else if (sample.channel === 'pulseRateBpm') {
      gateOf(sample.sensorId).pulse(sample.atMs, sample.value);
      if (pulseDisagrees(sample)) return { level: 'suspect', reason: 'sensorsDisagree' };
    }
    return undefined;
  }

  /** The oximeter's pulse is the one that motion and cold hands spoil; averaging explains short gaps. */
  function pulseDisagrees({ atMs, value }: Sample): boolean {
    if (strap === undefined || atMs - strap.atMs >= 5_000) return false;
    if (Math.abs(strap.bpm - value) <= agreeWithinBpm) {
      disagreeSinceMs = undefined;
      return false;
    }
    disagreeSinceMs ??= atMs;
    return atMs - disagreeSinceMs >= disagreeAfterMs;
  }
}

interface Doubt {
  readonly level: SampleQuality;
  readonly reason: QualityReason;
}
const outOfRange: Doubt = { level: 'bad', reason: 'outOfRange' };

const doubted = (sample: Sample, { level, reason }: Doubt): Sample => ({
  ...sample,
  quality: worse(sample.quality, level),
  reasons: sample.reasons.includes(reason) ? sample.reasons : [...sample.reasons, reason],
});

interface Spo2Gate {
  spo2Doubt(atMs: number, percent: number): QualityReason | undefined;
  pulse(atMs: number, bpm: number): void;
}

function createSpo2Gate(): Spo2Gate {
  let trusted: { atMs: number; percent: number } | undefined;
  let doubtSinceMs: number | undefined;
  let previous: { atMs: number; percent: number } | undefined;
  let unchangedSinceMs: number | undefined;
  let pulseSinceMs: number | undefined;
  let lastPulse: number | undefined;
  let lastPulseMs = Number.NEGATIVE_INFINITY;
  return {
    pulse(atMs, bpm) {
      if (bpm !== lastPulse) {
        lastPulse = bpm;
        pulseSinceMs = atMs;
      }
      lastPulseMs = atMs;
    },
    spo2Doubt(atMs, percent) {
      if (previous === undefined || percent !== previous.percent) {
        unchangedSinceMs = atMs;
      }
      previous = { atMs, percent };
      if (trusted !== undefined && atMs - trusted.atMs < 20_000) {
        const seconds = Math.max(1, (atMs - trusted.atMs) / 1_000);
        const change = percent - trusted.percent;
        // Two per cent of slack for rounding and for the averaging of a display that updates in steps.
        const tooFast =
          change < 0
            ? -change > 2 + steepestFallPercentPerS * seconds
            : change > 3 + steepestRisePercentPerS * seconds;
        if (tooFast) {
          doubtSinceMs ??= atMs;
          if (atMs - doubtSinceMs < longestDoubtMs) {
            return change < 0 ? 'motionDip' : 'impossibleSlope';
          }
        }
      }
      doubtSinceMs = undefined;
      trusted = { atMs, percent };
      const pulseStuck =
        pulseSinceMs !== undefined && atMs - lastPulseMs < 5_000 && atMs - pulseSinceMs >= stuckAfterMs;
      if (pulseStuck && unchangedSinceMs !== undefined && atMs - unchangedSinceMs >= stuckAfterMs) {
        return 'stuckValue';
      }
      return undefined;
    },
  };
}
