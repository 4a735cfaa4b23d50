// What the hold networks see of each second: heart rate against the person's own level and breathing rhythm,
// saturation against its usual value, the pleth's baseline and swing. Causal (looks back only), so it serves live and later.

import { selectPlace } from '../signal/order-statistics.ts';
import type { SecondRow } from '../signal/second-rows.ts';

/** Numbers a row has, in the order of `writeFeatures`. The networks' weights depend on it. */
export const featureCount = 24;

/** Rhythm bands: second differences of block means, `width` rows a block, pass periods near 2 x width seconds. */
const rateWidths = [1, 2, 4, 8] as const;
const plethWidths = [1, 2, 4] as const;
/** A rate or saturation is carried over gaps of up to this many rows. */
const carryRows = 4;

const sourceCodes = { none: 0, rr: 1, heartRate: 2, pulseRate: 3 } as const;

/** Asked of every row: by hand, because a look-up by so many names is not compiled well. */
function codeOf(source: SecondRow['heartRateSource']): number {
  if (source === 'rr') return sourceCodes.rr;
  if (source === 'heartRate') return sourceCodes.heartRate;
  return source === 'pulseRate' ? sourceCodes.pulseRate : sourceCodes.none;
}

/** Seconds before they are set against the person's usual values, by the column. NaN where not known. */
class RawRows {
  count = 0;
  /** 100 x natural logarithm of the heart rate, so that differences are per cent. */
  readonly rate: Float64Array;
  readonly rateBands: readonly Float64Array[];
  readonly source: Uint8Array;
  readonly spo2Percent: Float64Array;
  readonly spo2Change: Float64Array;
  readonly pleth: Float64Array;
  readonly plethBands: readonly Float64Array[];
  /** Natural logarithm of the pleth's swing within the second. */
  readonly plethSwing: Float64Array;
  #lastRate = Number.NaN;
  #rateAge = 0;
  #lastSpo2 = Number.NaN;
  #spo2Age = 0;

  constructor(most: number) {
    this.rate = new Float64Array(most);
    this.rateBands = columns(rateWidths.length, most);
    this.source = new Uint8Array(most);
    this.spo2Percent = new Float64Array(most);
    this.spo2Change = new Float64Array(most);
    this.pleth = new Float64Array(most);
    this.plethBands = columns(plethWidths.length, most);
    this.plethSwing = new Float64Array(most);
  }

  append(row: SecondRow): void {
    if (row.heartRateBpm > 0) {
      this.#lastRate = 100 * Math.log(row.heartRateBpm);
      this.#rateAge = 0;
    } else {
      this.#rateAge += 1;
      if (this.#rateAge > carryRows) this.#lastRate = Number.NaN;
    }
    if (Number.isFinite(row.spo2Percent)) {
      this.#lastSpo2 = row.spo2Percent;
      this.#spo2Age = 0;
    } else {
      this.#spo2Age += 1;
      if (this.#spo2Age > carryRows) this.#lastSpo2 = Number.NaN;
    }
    const at = this.count;
    this.count += 1;
    this.rate[at] = this.#lastRate;
    this.source[at] = Number.isNaN(this.#lastRate) ? sourceCodes.none : codeOf(row.heartRateSource);
    this.spo2Percent[at] = this.#lastSpo2;
    this.spo2Change[at] = at < 5 ? Number.NaN : this.#lastSpo2 - this.spo2Percent[at - 5]!;
    this.pleth[at] = row.plethBreathing;
    this.plethSwing[at] = row.plethSwing > 0 ? Math.log(row.plethSwing) : Number.NaN;
    for (let b = 0; b < rateWidths.length; b++)
      this.rateBands[b]![at] = secondDifference(this.rate, at, rateWidths[b]!);
    for (let b = 0; b < plethWidths.length; b++)
      this.plethBands[b]![at] = secondDifference(this.pleth, at, plethWidths[b]!);
  }

  /** Forgets all of them. */
  clear(): void {
    this.count = 0;
    this.#lastRate = Number.NaN;
    this.#rateAge = 0;
    this.#lastSpo2 = Number.NaN;
    this.#spo2Age = 0;
  }

  /** Forgets all but the newest, which must be more than any band reaches back. */
  keepNewest(kept: number): void {
    const columns = [this.rate, this.source, this.spo2Percent, this.spo2Change, this.pleth, this.plethSwing];
    for (const column of [...columns, ...this.rateBands, ...this.plethBands])
      column.copyWithin(0, this.count - kept, this.count);
    this.count = kept;
  }
}

/** Pushed one by one: the engine then knows one kind of array, and compiles what asks it once. */
function columns(count: number, most: number): readonly Float64Array[] {
  const made: Float64Array[] = [];
  for (let i = 0; i < count; i++) made.push(new Float64Array(most));
  return made;
}

/** The person's usual values over some stretch of rows. */
interface UsualValues {
  readonly rateMiddle: number;
  readonly rateLow: number;
  readonly rateBands: Float64Array;
  readonly spo2Top: number;
  readonly plethMiddle: number;
  readonly plethBands: Float64Array;
  readonly plethSwing: number;
  /** 0 to 1: how much of ten minutes they rest on. */
  readonly maturity: number;
}

/** Of the last three blocks of `width` values up to place `at`; NaN when one of them is not known. */
function secondDifference(values: Float64Array, at: number, width: number): number {
  // The newest of them not known is the usual case where a signal is missing.
  if (at + 1 < 3 * width || Number.isNaN(values[at]!)) return Number.NaN;
  let sum = 0;
  for (let i = 0; i < width; i++) {
    sum += values[at - i]! - 2 * values[at - width - i]! + values[at - 2 * width - i]!;
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

/** The values of a column that are known, of every `stride`th row. Good until the next is taken. */
function known(column: Float64Array, from: number, to: number, stride: number): Float64Array {
  const values = columnRoom;
  let count = 0;
  for (let i = from; i < to; i += stride) {
    const value = column[i]!;
    if (!Number.isNaN(value)) {
      values[count++] = value;
    }
  }
  return values.subarray(0, count);
}

function atShare(values: Float64Array, share: number): number {
  return values.length === 0
    ? Number.NaN
    : selectPlace(values, values.length, Math.min(values.length - 1, Math.floor(share * values.length)));
}

function bandSize(values: Float64Array, least: number): number {
  for (let i = 0; i < values.length; i++) values[i] = Math.abs(values[i]!);
  return Math.max(least, atShare(values, bandShare) || least);
}

function bandSizes(
  bands: readonly Float64Array[],
  from: number,
  to: number,
  stride: number,
  least: number,
): Float64Array {
  const sizes = new Float64Array(bands.length);
  for (let b = 0; b < bands.length; b++) sizes[b] = bandSize(known(bands[b]!, from, to, stride), least);
  return sizes;
}

/** Usual values over rows `from` to `to` - 1. Looks at no more than about 600 of them. */
function usualValues(rows: RawRows, from: number, to: number): UsualValues {
  const stride = Math.max(1, Math.floor((to - from) / 600));
  const mostValues = Math.ceil((to - from) / stride);
  if (columnRoom.length < mostValues) columnRoom = new Float64Array(mostValues);
  const rate = known(rows.rate, from, to, stride);
  const [rateMiddle, rateLow] = [atShare(rate, 0.5), atShare(rate, 0.15)];
  return {
    rateMiddle,
    rateLow,
    rateBands: bandSizes(rows.rateBands, from, to, stride, leastRateBand),
    spo2Top: atShare(known(rows.spo2Percent, from, to, stride), 0.85),
    plethMiddle: atShare(known(rows.pleth, from, to, stride), 0.5),
    plethBands: bandSizes(rows.plethBands, from, to, stride, leastPlethBand),
    plethSwing: atShare(known(rows.plethSwing, from, to, stride), 0.5),
    maturity: Math.min(1, (to - from) / 600),
  };
}

const clip = (value: number, low: number, high: number): number =>
  value < low ? low : value > high ? high : value;
/** Not known is 0, which every channel also means by "as usual". */
const orZero = (value: number, low: number, high: number): number =>
  Number.isNaN(value) ? 0 : clip(value, low, high);

/** Writes the `featureCount` numbers of row `i` at `out[at]`. Scales are chosen to be about 1 and clipped. */
function writeFeatures(out: Float32Array, at: number, rows: RawRows, i: number, usual: UsualValues): void {
  for (let b = 0; b < rateWidths.length; b++) {
    out[at + b] = orZero(rows.rateBands[b]![i]! / usual.rateBands[b]!, -4, 4);
    out[at + 4 + b] = clip(Math.log(usual.rateBands[b]! / 3), -2.5, 2.5);
  }
  const rate = rows.rate[i]!;
  const source = rows.source[i]!;
  const spo2Percent = rows.spo2Percent[i]!;
  const pleth = rows.pleth[i]!;
  out[at + 8] = orZero((rate - usual.rateMiddle) / 10, -4, 4);
  out[at + 9] = orZero((rate - usual.rateLow) / 10, -4, 4);
  // 417.4 is 100 ln 65: a resting rate in the middle.
  out[at + 10] = orZero((rate - 417.4) / 33, -2, 3);
  out[at + 11] = source === sourceCodes.rr ? 1 : 0;
  out[at + 12] = source === sourceCodes.heartRate ? 1 : 0;
  out[at + 13] = source === sourceCodes.pulseRate ? 1 : 0;
  out[at + 14] = Number.isNaN(spo2Percent) ? 0 : 1;
  out[at + 15] = orZero((spo2Percent - usual.spo2Top) / 4, -6, 2);
  out[at + 16] = orZero(rows.spo2Change[i]! / 2, -3, 3);
  out[at + 17] = Number.isNaN(pleth) ? 0 : 1;
  out[at + 18] = orZero((pleth - usual.plethMiddle) / usual.plethBands[2]!, -4, 4);
  for (let b = 0; b < plethWidths.length; b++) {
    out[at + 19 + b] = orZero(rows.plethBands[b]![i]! / usual.plethBands[b]!, -4, 4);
  }
  out[at + 22] = usual.maturity;
  out[at + 23] = orZero(rows.plethSwing[i]! - usual.plethSwing, -3, 3);
}

/** Rows that share usual values, and how far around them those are taken, when the whole recording is at hand. */
const blockRows = 60;
const aroundRows = 600;

/** For one recording at a time, if it is no longer than the live looking back, which asks some hundred times an hour. */
const roomRows = 660;
let room: RawRows | undefined;

function emptyRoomFor(rowCount: number): RawRows {
  if (rowCount > roomRows) return new RawRows(rowCount);
  room ??= new RawRows(roomRows);
  room.clear();
  return room;
}

/** Features of a whole recording, row after row. Usual values are those of ten minutes on either side. */
export function featuresOfRecording(rows: readonly SecondRow[]): Float32Array {
  const raw = emptyRoomFor(rows.length);
  for (const row of rows) raw.append(row);
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
      writeFeatures(out, i * featureCount, raw, i, usual);
    }
  }
  return out;
}

/** How often a stream renews its usual values, rows. */
const renewRows = 15;

/** Features of a stream, each row as it comes; the returned array is reused. Keeps ten minutes of rows. */
export function createFeatureStream(): (row: SecondRow) => Float32Array {
  const kept = new RawRows(aroundRows + renewRows);
  let usual: UsualValues | undefined;
  let seen = 0;
  const out = new Float32Array(featureCount);
  return (row) => {
    kept.append(row);
    seen += 1;
    if (kept.count >= aroundRows + renewRows) {
      kept.keepNewest(aroundRows);
    }
    // Early on every row tells much about the person.
    if (usual === undefined || seen < 30 || seen % renewRows === 0) {
      usual = usualValues(kept, Math.max(0, kept.count - aroundRows), kept.count);
    }
    writeFeatures(out, 0, kept, kept.count - 1, usual);
    return out;
  };
}
