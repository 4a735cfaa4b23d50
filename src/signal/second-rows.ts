// Turns samples of one athlete, as they come, into one row a second: heart rate, saturation, breathing wave.
// RR intervals are preferred; heart rate and the oximeter's pulse rate stand in where beats are missing.

import type { MonotonicMs } from '../../shared/units.ts';
import type { Sample } from '../samples/sample.ts';
import { createBeatScreen } from './beat-screen.ts';
import { createBreathingSource } from './breathing-seconds.ts';
import { createPlethBreathing, type PlethSecond } from './pleth-breathing.ts';

/** Which signal a row's heart rate comes from; `none` where nothing recent exists. */
export type HeartRateSource = 'rr' | 'heartRate' | 'pulseRate' | 'none';

/** One second of one athlete: the mean over (atMs - 1000, atMs]. NaN means not known. */
export interface SecondRow {
  readonly atMs: MonotonicMs;
  readonly heartRateBpm: number;
  readonly heartRateSource: HeartRateSource;
  /** Latest usable saturation, not older than `staleAfterMs`. */
  readonly spo2Percent: number;
  /** Respiratory wave from the pleth's baseline, in its own unit; NaN without pleth. */
  readonly plethBreathing: number;
  /** How much the pleth swings within the second, in its own unit; NaN without pleth. */
  readonly plethSwing: number;
  /**
   * Mean of a breathing channel (a chest band, an accelerometer) in its own unit; absent while none has ever been worn, NaN
   * where it is not known: nothing came, or the sensor lies beside the person (breathing-seconds.ts).
   */
  readonly respiration?: number;
  /** Least and greatest of the means of the second's halves. */
  readonly respirationLow?: number;
  readonly respirationHigh?: number;
  /** How much it stirs within the second beside its slow course: the heart, and movement. */
  readonly respirationStir?: number;
  /** How many sensors it came from before this one; absent for the first. Numbers of two have nothing in common. */
  readonly respirationSensor?: number;
}

export interface SecondRows {
  /** Takes a sample; returns the rows that are now complete, oldest first. */
  push(sample: Sample): readonly SecondRow[];
  /** Says that time has reached `atMs`; returns the rows that are now complete. */
  advance(atMs: MonotonicMs): readonly SecondRow[];
  /** Completes every row up to the last sample. */
  flush(): readonly SecondRow[];
  /** The breathing sensor that is read and does not seem to be on a body. */
  readonly offBody: string | undefined;
}

/** A beat can end up to about this long after the second it covers; waiting longer would delay the detector. */
const slackMs = 1_200;
/** PLX updates come every 1 to 4 s (PLXS v1.0.1 s3.2.1); older than 5 s is stale. */
const staleAfterMs = 5_000;
/** A gap this long starts the rows afresh instead of writing one row for each silent second. */
const longestGapRows = 900;

/** Puts pleth that was worked out before into rows made without it. Without any the rows stay as they are. */
export function withPleth(rows: SecondRow[], seconds: ReadonlyMap<number, PlethSecond> | undefined): void {
  if (seconds === undefined || seconds.size === 0) {
    return;
  }
  rows.forEach((row, i) => {
    const { baseline = Number.NaN, swing = Number.NaN } = seconds.get(row.atMs) ?? {};
    rows[i] = { ...row, plethBreathing: baseline, plethSwing: swing };
  });
}

const noRows: readonly SecondRow[] = [];

/** Makes an empty row stream. Deterministic; holds a few seconds of samples at most. */
export function createSecondRows(): SecondRows {
  const screen = createBeatScreen();
  const breathing = createPlethBreathing();
  // Screened beats as intervals: parallel arrays, trimmed as rows pass.
  let beatEnd: number[] = [];
  let beatRr: number[] = [];
  let nextRowMs = Number.NaN;
  let newestMs = Number.NEGATIVE_INFINITY;
  const strap = createRecentValues();
  const pulse = createRecentValues();
  const spo2 = createRecentValues();
  const respiration = createBreathingSource();

  const rateFromBeats = (rowMs: number): number => {
    const from = rowMs - 1_000;
    let covered = 0;
    let weighted = 0;
    for (let i = beatEnd.length - 1; i >= 0; i--) {
      const end = beatEnd[i]!;
      const start = end - beatRr[i]!;
      if (end <= from) {
        break;
      }
      const overlap = Math.min(end, rowMs) - Math.max(start, from);
      if (overlap > 0) {
        covered += overlap;
        weighted += (overlap * 60_000) / beatRr[i]!;
      }
    }
    if (covered >= 250) {
      return weighted / covered;
    }
    // The interval in progress: its beat has not come yet, so carry the last rate for a short while.
    const last = beatEnd.length - 1;
    return last >= 0 && rowMs - beatEnd[last]! >= 0 && rowMs - beatEnd[last]! < 2_500
      ? 60_000 / beatRr[last]!
      : Number.NaN;
  };

  const makeRow = (rowMs: number): SecondRow => {
    let heartRateBpm = rateFromBeats(rowMs);
    let heartRateSource: HeartRateSource = 'rr';
    if (!Number.isFinite(heartRateBpm)) {
      heartRateBpm = strap.at(rowMs);
      heartRateSource = 'heartRate';
    }
    if (!Number.isFinite(heartRateBpm)) {
      heartRateBpm = pulse.at(rowMs);
      heartRateSource = 'pulseRate';
    }
    if (!Number.isFinite(heartRateBpm)) {
      heartRateBpm = Number.NaN;
      heartRateSource = 'none';
    }
    while (beatEnd.length > 1 && beatEnd[0]! < rowMs - 6_000) {
      beatEnd.shift();
      beatRr.shift();
    }
    const pleth = breathing.takeUntil(rowMs);
    return {
      atMs: rowMs as MonotonicMs,
      heartRateBpm,
      heartRateSource,
      spo2Percent: spo2.at(rowMs),
      plethBreathing: pleth.baseline,
      plethSwing: pleth.swing,
      ...respiration.takeUntil(rowMs),
    };
  };

  const rowsUntil = (limitMs: number): readonly SecondRow[] => {
    if (Number.isNaN(nextRowMs) || nextRowMs > limitMs) {
      return noRows;
    }
    const rows: SecondRow[] = [];
    if ((limitMs - nextRowMs) / 1_000 > longestGapRows) {
      nextRowMs = Math.floor(limitMs / 1_000) * 1_000;
    }
    while (nextRowMs <= limitMs) {
      rows.push(makeRow(nextRowMs));
      nextRowMs += 1_000;
    }
    return rows;
  };

  const reach = (atMs: number): readonly SecondRow[] => {
    if (!Number.isFinite(atMs)) {
      return noRows;
    }
    if (Number.isNaN(nextRowMs)) {
      nextRowMs = Math.ceil((atMs + 1) / 1_000) * 1_000;
    }
    newestMs = Math.max(newestMs, atMs);
    return rowsUntil(newestMs - slackMs);
  };

  return {
    push(sample) {
      if (!Number.isFinite(sample.atMs) || !Number.isFinite(sample.value)) {
        return noRows;
      }
      const rows = reach(sample.atMs);
      if (sample.quality === 'bad' && sample.channel !== 'rrIntervalMs') {
        return rows;
      }
      switch (sample.channel) {
        case 'rrIntervalMs': {
          for (const beat of screen.push(sample.atMs, sample.value)) {
            beatEnd.push(beat.endMs);
            beatRr.push(beat.rrMs);
          }
          break;
        }
        case 'heartRateBpm':
          if (sample.value >= 20 && sample.value <= 250) {
            strap.add(sample.atMs, sample.value);
          }
          break;
        case 'pulseRateBpm':
          if (sample.value >= 20 && sample.value <= 250) {
            pulse.add(sample.atMs, sample.value);
          }
          break;
        case 'spo2Percent':
          if (sample.quality === 'good' && sample.value > 20 && sample.value <= 100) {
            spo2.add(sample.atMs, sample.value);
          }
          break;
        case 'pleth':
          breathing.push(sample.atMs, sample.value);
          break;
        case 'respirationRaw':
          respiration.push(sample);
          break;
        case 'perfusionIndexPercent':
          break;
      }
      if (beatEnd.length > 4_000) {
        beatEnd = beatEnd.slice(-2_000);
        beatRr = beatRr.slice(-2_000);
      }
      return rows;
    },
    advance(atMs) {
      return reach(atMs);
    },
    flush() {
      return rowsUntil(newestMs);
    },
    get offBody() {
      return respiration.offBody;
    },
  };
}

/**
 * The last few values of a channel. A row is made up to `slackMs` and a sample's interval after its second, when
 * newer values have come already; eight reach back far enough for sensors of up to four values a second.
 */
const recentCount = 8;
function createRecentValues(): { add(atMs: number, value: number): void; at(rowMs: number): number } {
  // A ring: the next one takes the place of the oldest.
  const times = new Float64Array(recentCount).fill(Number.POSITIVE_INFINITY);
  const values = new Float64Array(recentCount);
  let next = 0;
  return {
    add(atMs, value) {
      times[next] = atMs;
      values[next] = value;
      next = (next + 1) % recentCount;
    },
    at(rowMs) {
      for (let back = 1; back <= recentCount; back++) {
        const at = (next - back + recentCount) % recentCount;
        if (times[at]! <= rowMs) {
          return rowMs - times[at]! <= staleAfterMs ? values[at]! : Number.NaN;
        }
      }
      return Number.NaN;
    },
  };
}
