// What the hold networks see of each second: heart rate against the person's own level and breathing rhythm,
// saturation against its usual value, the pleth's baseline and swing. Causal (looks back only), so it serves live and later.

import type { SecondRow } from '../signal/second-rows.ts';
import { selectPlace } from './order-statistics.ts';

/** Numbers a row has, in the order of `writeFeatures`. The networks' weights depend on it. */
export const featureCount = 24;

/** Rhythm bands: second differences of block means, `width` rows a block, pass periods near 2 x width seconds. */
const rateWidths = [1, 2, 4, 8] as const;
const plethWidths = [1, 2, 4] as const;
/** A rate or saturation is carried over gaps of up to this many rows. */
const carryRows = 4;

/** One second before it is set against the person's usual values. NaN where not known. */
export interface RawRow {
  /** 100 x natural logarithm of the heart rate, so that differences are per cent. */
  readonly rate: number;
  readonly rateBands: readonly number[];
  readonly source: SecondRow['heartRateSource'];
  readonly spo2Percent: number;
  readonly spo2Change: number;
  readonly pleth: number;
  readonly plethBands: readonly number[];
  /** Natural logarithm of the pleth's swing within the second. */
  readonly plethSwing: number;
}

/** The person's usual values over some stretch of rows. */
export interface UsualValues {
  readonly rateMiddle: number;
  readonly rateLow: number;
  readonly rateBands: readonly number[];
  readonly spo2Top: number;
  readonly plethMiddle: number;
  readonly plethBands: readonly number[];
  readonly plethSwing: number;
  /** 0 to 1: how much of ten minutes they rest on. */
  readonly maturity: number;
}

/** Makes the raw rows of a stream. Keeps 24 rows. */
function createRawRows(): (row: SecondRow) => RawRow {
  const span = 3 * rateWidths[rateWidths.length - 1]!;
  const rates: number[] = [];
  const pleths: number[] = [];
  const spo2s: number[] = [];
  let lastRate = Number.NaN;
  let rateAge = 0;
  let lastSpo2 = Number.NaN;
  let spo2Age = 0;
  const keep = (values: number[], value: number): void => {
    values.push(value);
    if (values.length > span) {
      values.shift();
    }
  };
  return (row) => {
    if (row.heartRateBpm > 0) {
      lastRate = 100 * Math.log(row.heartRateBpm);
      rateAge = 0;
    } else {
      rateAge += 1;
      lastRate = rateAge > carryRows ? Number.NaN : lastRate;
    }
    if (Number.isFinite(row.spo2Percent)) {
      lastSpo2 = row.spo2Percent;
      spo2Age = 0;
    } else {
      spo2Age += 1;
      lastSpo2 = spo2Age > carryRows ? Number.NaN : lastSpo2;
    }
    keep(rates, lastRate);
    keep(spo2s, lastSpo2);
    keep(pleths, row.plethBreathing);
    return {
      rate: lastRate,
      rateBands: rateWidths.map((width) => secondDifference(rates, width)),
      source: Number.isNaN(lastRate) ? 'none' : row.heartRateSource,
      spo2Percent: lastSpo2,
      spo2Change: spo2s.length > 5 ? lastSpo2 - spo2s[spo2s.length - 6]! : Number.NaN,
      pleth: row.plethBreathing,
      plethBands: plethWidths.map((width) => secondDifference(pleths, width)),
      plethSwing: row.plethSwing > 0 ? Math.log(row.plethSwing) : Number.NaN,
    };
  };
}

/** Of the last three blocks of `width` values; NaN when one of them is not known. */
function secondDifference(values: readonly number[], width: number): number {
  const n = values.length;
  if (n < 3 * width) {
    return Number.NaN;
  }
  let sum = 0;
  for (let i = 0; i < width; i++) {
    sum += values[n - 1 - i]! - 2 * values[n - 1 - width - i]! + values[n - 1 - 2 * width - i]!;
  }
  return sum / width;
}

/** Least usual size of a band, per cent: rounding of 60 /min to whole beats has a standard deviation of 0.5 %. */
const leastRateBand = 0.15;
const leastPlethBand = 1e-9;
/** Of a band's absolute values: breathing is livelier than holding, and a third of a session may be holds. */
const bandShare = 0.8;

/** For one column at a time: they are asked for every few seconds of every athlete. */
let columnRoom = new Float64Array(1_200);

/** Usual values over rows `from` to `to` - 1. Looks at no more than about 600 of them. */
function usualValues(rows: readonly RawRow[], from: number, to: number): UsualValues {
  const stride = Math.max(1, Math.floor((to - from) / 600));
  const mostValues = Math.ceil((to - from) / stride);
  if (columnRoom.length < mostValues) columnRoom = new Float64Array(mostValues);
  /** The values that are known. Good until the next column is taken. */
  const column = (of: (row: RawRow) => number): Float64Array => {
    const values = columnRoom;
    let count = 0;
    for (let i = from; i < to; i += stride) {
      const value = of(rows[i]!);
      if (!Number.isNaN(value)) {
        values[count++] = value;
      }
    }
    return values.subarray(0, count);
  };
  const at = (values: Float64Array, share: number): number =>
    values.length === 0
      ? Number.NaN
      : selectPlace(values, values.length, Math.min(values.length - 1, Math.floor(share * values.length)));
  const rate = column((row) => row.rate);
  const [rateMiddle, rateLow] = [at(rate, 0.5), at(rate, 0.15)];
  const bandSize = (values: Float64Array, least: number): number =>
    Math.max(least, at(values, bandShare) || least);
  return {
    rateMiddle,
    rateLow,
    rateBands: rateWidths.map((_, b) =>
      bandSize(
        column((row) => Math.abs(row.rateBands[b]!)),
        leastRateBand,
      ),
    ),
    spo2Top: at(
      column((row) => row.spo2Percent),
      0.85,
    ),
    plethMiddle: at(
      column((row) => row.pleth),
      0.5,
    ),
    plethBands: plethWidths.map((_, b) =>
      bandSize(
        column((row) => Math.abs(row.plethBands[b]!)),
        leastPlethBand,
      ),
    ),
    plethSwing: at(
      column((row) => row.plethSwing),
      0.5,
    ),
    maturity: Math.min(1, (to - from) / 600),
  };
}

const clip = (value: number, low: number, high: number): number =>
  value < low ? low : value > high ? high : value;
/** Not known is 0, which every channel also means by "as usual". */
const orZero = (value: number, low: number, high: number): number =>
  Number.isNaN(value) ? 0 : clip(value, low, high);

/** Writes the `featureCount` numbers of a row at `out[at]`. Scales are chosen to be about 1 and clipped. */
function writeFeatures(out: Float32Array, at: number, row: RawRow, usual: UsualValues): void {
  for (let b = 0; b < rateWidths.length; b++) {
    out[at + b] = orZero(row.rateBands[b]! / usual.rateBands[b]!, -4, 4);
    out[at + 4 + b] = clip(Math.log(usual.rateBands[b]! / 3), -2.5, 2.5);
  }
  out[at + 8] = orZero((row.rate - usual.rateMiddle) / 10, -4, 4);
  out[at + 9] = orZero((row.rate - usual.rateLow) / 10, -4, 4);
  // 417.4 is 100 ln 65: a resting rate in the middle.
  out[at + 10] = orZero((row.rate - 417.4) / 33, -2, 3);
  out[at + 11] = row.source === 'rr' ? 1 : 0;
  out[at + 12] = row.source === 'heartRate' ? 1 : 0;
  out[at + 13] = row.source === 'pulseRate' ? 1 : 0;
  out[at + 14] = Number.isNaN(row.spo2Percent) ? 0 : 1;
  out[at + 15] = orZero((row.spo2Percent - usual.spo2Top) / 4, -6, 2);
  out[at + 16] = orZero(row.spo2Change / 2, -3, 3);
  const plethKnown = !Number.isNaN(row.pleth);
  out[at + 17] = plethKnown ? 1 : 0;
  out[at + 18] = orZero((row.pleth - usual.plethMiddle) / usual.plethBands[2]!, -4, 4);
  for (let b = 0; b < plethWidths.length; b++) {
    out[at + 19 + b] = orZero(row.plethBands[b]! / usual.plethBands[b]!, -4, 4);
  }
  out[at + 22] = usual.maturity;
  out[at + 23] = orZero(row.plethSwing - usual.plethSwing, -3, 3);
}

/** Rows that share usual values, and how far around them those are taken, when the whole recording is at hand. */
const blockRows = 60;
const aroundRows = 600;

/** Features of a whole recording, row after row. Usual values are those of ten minutes on either side. */
export function featuresOfRecording(rows: readonly SecondRow[]): Float32Array {
  const toRaw = createRawRows();
  const raw = rows.map(toRaw);
  const out = new Float32Array(rows.length * featureCount);
  let usual: UsualValues | undefined;
  let around = [0, 0];
  for (let from = 0; from < rows.length; from += blockRows) {
    const to = Math.min(rows.length, from + blockRows);
    const first = Math.max(0, from - aroundRows);
    const end = Math.min(rows.length, to + aroundRows);
    // Blocks of a short recording all see the whole of it.
    if (usual === undefined || first !== around[0] || end !== around[1]) {
      usual = usualValues(raw, first, end);
      around = [first, end];
    }
    for (let i = from; i < to; i++) {
      writeFeatures(out, i * featureCount, raw[i]!, usual);
    }
  }
  return out;
}

/** How often a stream renews its usual values, rows. */
const renewRows = 15;

/** Features of a stream, each row as it comes; the returned array is reused. Keeps ten minutes of rows. */
export function createFeatureStream(): (row: SecondRow) => Float32Array {
  const toRaw = createRawRows();
  let kept: RawRow[] = [];
  let usual: UsualValues | undefined;
  let seen = 0;
  const out = new Float32Array(featureCount);
  return (row) => {
    const raw = toRaw(row);
    kept.push(raw);
    seen += 1;
    if (kept.length >= aroundRows + renewRows) {
      kept = kept.slice(-aroundRows);
    }
    // Early on every row tells much about the person.
    if (usual === undefined || seen < 30 || seen % renewRows === 0) {
      usual = usualValues(kept, Math.max(0, kept.length - aroundRows), kept.length);
    }
    writeFeatures(out, 0, raw, usual);
    return out;
  };
}
