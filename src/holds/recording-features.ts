// The rows of a whole recording as arrays, and the features that the two-sided pass looks at: respiratory bands of
// the heart rate, its level against rest, its shape around a start or an end, and the low points of saturation.

import type { HeartRateSource, SecondRow } from '../signal/second-rows.ts';

/** One second an entry; NaN where not known. */
export interface RecordingFeatures {
  readonly firstRowMs: number;
  readonly length: number;
  readonly heartRateBpm: Float64Array;
  /** Octave bands of respiratory modulation, fastest first (see `bandShapes`). */
  readonly bands: readonly Float64Array[];
  /** Five-second mean of heart rate. */
  readonly level: Float64Array;
  /** Heart rate of the first 7 s after a possible start less the rate 11 to 19 s after it. */
  readonly fallAfter: Float64Array;
  /** Heart rate 2 to 7 s after a possible end less the rate before it. */
  readonly riseAfter: Float64Array;
  readonly spo2Percent: Float64Array;
  readonly lowPoints: readonly LowPoint[];
  readonly mainSource: HeartRateSource;
}

/** A fall of saturation that turns: its lowest stretch and how deep it was. */
export interface LowPoint {
  readonly row: number;
  readonly depthPercent: number;
}

/**
 * Bands of respiratory modulation as second differences of block means, `width` rows a block: they pass periods
 * near 2 x width and are blind to level and trend, so the fall of heart rate in a hold does not disturb them. Each
 * looks back only, over three blocks. Widths of 2, 4 and 8 s are centred on 0.25, 0.12 and 0.06 Hz; the slow wave
 * near 0.1 Hz does not stop in a hold, which the scales learn. The baseline of a pleth, where there is one, moves
 * with breathing directly. `weight` is about the number of independent values a
 * second (twice the bandwidth in Hz); `most` bounds what one row can say, in nats.
 */
export const bandShapes = [
  { signal: 'heartRate', width: 2, weight: 0.5, most: 2.2 },
  { signal: 'heartRate', width: 4, weight: 0.25, most: 2.2 },
  { signal: 'heartRate', width: 8, weight: 0.1, most: 2.2 },
  { signal: 'plethBaseline', width: 1, weight: 0.5, most: 3.5 },
  { signal: 'plethBaseline', width: 2, weight: 0.4, most: 3.5 },
  { signal: 'plethBaseline', width: 4, weight: 0.2, most: 3.5 },
] as const;

/** Rows that a band looks back over, itself included. */
export const bandSpan = (band: number): number => 3 * bandShapes[band]!.width;

/** Centred moving mean over 2 x reach + 1 rows, from whatever is known; NaN when under half is. */
export function movingMean(values: Float64Array, reach: number): Float64Array {
  const out = new Float64Array(values.length);
  let sum = 0;
  let count = 0;
  const add = (i: number, sign: 1 | -1): void => {
    const value = values[i];
    if (value !== undefined && !Number.isNaN(value)) {
      sum += sign * value;
      count += sign;
    }
  };
  for (let i = 0; i < Math.min(reach, values.length); i++) {
    add(i, 1);
  }
  for (let i = 0; i < values.length; i++) {
    add(i + reach, 1);
    add(i - reach - 1, -1);
    if (count === 0) {
      sum = 0;
    }
    out[i] = count * 2 > 2 * reach ? sum / count : Number.NaN;
  }
  return out;
}

function secondDifference(values: Float64Array, width: number): Float64Array {
  const prefix = prefixOf(values);
  const block = (last: number): number => meanOver(prefix, last - width + 1, last);
  return values.map((_, i) =>
    i < 3 * width - 1 ? Number.NaN : block(i) - 2 * block(i - width) + block(i - 2 * width),
  );
}

function meanOver(prefix: { sum: Float64Array; count: Int32Array }, from: number, to: number): number {
  const low = Math.max(0, from);
  const high = Math.min(prefix.count.length - 1, to + 1);
  if (high <= low) {
    return Number.NaN;
  }
  const count = prefix.count[high]! - prefix.count[low]!;
  return count * 2 > to - from + 1 ? (prefix.sum[high]! - prefix.sum[low]!) / count : Number.NaN;
}

function prefixOf(values: Float64Array): { sum: Float64Array; count: Int32Array } {
  const sum = new Float64Array(values.length + 1);
  const count = new Int32Array(values.length + 1);
  for (let i = 0; i < values.length; i++) {
    const known = !Number.isNaN(values[i]!);
    sum[i + 1] = sum[i]! + (known ? values[i]! : 0);
    count[i + 1] = count[i]! + (known ? 1 : 0);
  }
  return { sum, count };
}

/** Makes the features of rows one second apart. */
export function featuresOf(rows: readonly SecondRow[]): RecordingFeatures {
  const length = rows.length;
  const sources = new Map<HeartRateSource, number>();
  for (const row of rows) {
    if (row.heartRateSource !== 'none') {
      sources.set(row.heartRateSource, (sources.get(row.heartRateSource) ?? 0) + 1);
    }
  }
  // Beats show breathing best; an averaged rate stands in for the whole recording only when beats are rare.
  let mainSource: HeartRateSource = 'none';
  for (const source of ['rr', 'heartRate', 'pulseRate'] as const) {
    if ((sources.get(source) ?? 0) > 0.35 * length) {
      mainSource = source;
      break;
    }
  }
  const heartRateBpm = new Float64Array(length);
  const fine = new Float64Array(length);
  const spo2Percent = new Float64Array(length);
  const baseline = new Float64Array(length);
  for (let i = 0; i < length; i++) {
    const row = rows[i]!;
    heartRateBpm[i] = row.heartRateBpm;
    baseline[i] = row.plethBreathing;
    // An averaged rate has lost the breathing; taking it for beats would look like a hold.
    fine[i] = row.heartRateSource === mainSource ? row.heartRateBpm : Number.NaN;
    spo2Percent[i] = row.spo2Percent;
  }
  const prefix = prefixOf(heartRateBpm);
  const fallAfter = new Float64Array(length);
  const riseAfter = new Float64Array(length);
  for (let i = 0; i < length; i++) {
    fallAfter[i] = meanOver(prefix, i, i + 6) - meanOver(prefix, i + 11, i + 19);
    riseAfter[i] = meanOver(prefix, i + 2, i + 7) - meanOver(prefix, i - 6, i - 1);
  }
  return {
    firstRowMs: rows[0]?.atMs ?? 0,
    length,
    heartRateBpm,
    bands: bandShapes.map(({ signal, width }) =>
      secondDifference(signal === 'heartRate' ? fine : baseline, width),
    ),
    level: movingMean(heartRateBpm, 2),
    fallAfter,
    riseAfter,
    spo2Percent,
    lowPoints: findLowPoints(spo2Percent),
    mainSource,
  };
}

/**
 * Low points: at least 2.5 % under the highest of the 150 s before, followed by a rise of half the depth and at
 * least 2 % within 45 s. Readings in whole per cent make smaller ones noise.
 */
export function findLowPoints(spo2Percent: Float64Array): LowPoint[] {
  const smooth = movingMean(spo2Percent, 2);
  const found: LowPoint[] = [];
  let i = 0;
  while (i < smooth.length) {
    const value = smooth[i]!;
    if (Number.isNaN(value)) {
      i += 1;
      continue;
    }
    let lowestAround = true;
    for (let j = Math.max(0, i - 15); j <= Math.min(smooth.length - 1, i + 15) && lowestAround; j++) {
      lowestAround = !(smooth[j]! < value);
    }
    if (!lowestAround) {
      i += 1;
      continue;
    }
    let top = value;
    for (let j = Math.max(0, i - 150); j < i; j++) {
      top = smooth[j]! > top ? smooth[j]! : top;
    }
    let last = i;
    while (last + 1 < smooth.length && smooth[last + 1]! <= value + 0.05) {
      last += 1;
    }
    const depth = top - value;
    let back = value;
    for (let j = last; j <= Math.min(smooth.length - 1, last + 45); j++) {
      back = smooth[j]! > back ? smooth[j]! : back;
    }
    if (depth >= 2.5 && back - value >= Math.max(2, 0.5 * depth)) {
      found.push({ row: (i + last) / 2, depthPercent: depth });
      i = last + 20;
    } else {
      i = last + 1;
    }
  }
  return found;
}
