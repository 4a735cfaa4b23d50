// Finds heart beats in a pleth waveform by two moving averages, after Elgendi M et al., PLoS ONE 2013;8(10):e76585,
// doi:10.1371/journal.pone.0076585, as the samples come. Beats stand in for a strap's where there is none.

/** A beat found: when, and the interval since the one before; undefined for the first after a gap. */
export interface PlethBeat {
  readonly atMs: number;
  readonly rrIntervalMs: number | undefined;
}

export interface PlethBeats {
  /** Takes a sample in time order; returns the beats that have become certain, at most about 2 s late. */
  push(atMs: number, value: number): readonly PlethBeat[];
}

// Window lengths of the paper: about a systolic peak and about a beat, and its threshold offset.
const peakWindowMs = 111;
const beatWindowMs = 667;
const offsetShare = 0.02;
/** The signal is kept this long, looked at this often, and its newest part left to settle. */
const keptMs = 8_000;
const everyMs = 1_000;
const settleMs = 700;
/** No heart beats twice within this; 300 ms is 200 /min. */
const refractoryMs = 300;
/** Slower signals than this carry no beat times worth having. */
const slowestHz = 20;

const noBeats: readonly PlethBeat[] = [];

/** Makes a finder that has seen nothing. Constant memory for a given sampling rate. */
export function createPlethBeats(): PlethBeats {
  // The last seconds, the first `count` of each.
  let times = new Float64Array(firstRoom);
  let values = new Float64Array(firstRoom);
  let count = 0;
  let room = createRoom(firstRoom);
  let nextLookMs = Number.NaN;
  let lastBeatMs = Number.NEGATIVE_INFINITY;
  let brokenSince = true;
  /** Positive when pulses point up; a photodiode's raw light falls with each pulse. Slow, so that it does not flicker. */
  let uprightness = 0;
  /** Median-like follower of accepted intervals, so that a second wave of one pulse is not taken for a beat. */
  let usualMs = 800;

  const accept = (atMs: number): PlethBeat => {
    const interval = atMs - lastBeatMs;
    const beat = { atMs, rrIntervalMs: brokenSince || interval > 3_000 ? undefined : interval };
    if (!brokenSince && interval < 1_600) {
      usualMs += Math.max(-60, Math.min(60, 0.2 * (interval - usualMs)));
    }
    brokenSince = false;
    lastBeatMs = atMs;
    return beat;
  };

  const keep = (atMs: number, value: number): void => {
    if (count === times.length) {
      const [oldTimes, oldValues] = [times, values];
      times = new Float64Array(2 * count);
      values = new Float64Array(2 * count);
      times.set(oldTimes);
      values.set(oldValues);
      room = createRoom(2 * count);
    }
    times[count] = atMs;
    values[count] = value;
    count += 1;
  };

  const look = (): PlethBeat[] => {
    const first = times[0]!;
    const last = times[count - 1]!;
    const rateHz = ((count - 1) * 1_000) / (last - first);
    if (!(rateHz >= slowestHz) || last - first < 3_000) {
      return [];
    }
    const band = bandOf(values, count, rateHz, room);
    const skew = slopeSkew(band, rateHz);
    if (skew === undefined) {
      return [];
    }
    uprightness += 0.2 * (Math.max(-2, Math.min(2, skew)) - uprightness);
    const clipped = clip(band, uprightness < 0 ? -1 : 1, room.clipped);
    const found: PlethBeat[] = [];
    for (const top of topsOf(clipped, rateHz, room)) {
      const atMs = vertexTime(times, clipped, top);
      if (atMs > last - settleMs || atMs <= lastBeatMs + Math.max(refractoryMs, 0.55 * usualMs)) {
        continue;
      }
      found.push(accept(atMs));
    }
    return found;
  };

  return {
    push(atMs, value) {
      if (!Number.isFinite(atMs) || !Number.isFinite(value)) {
        return noBeats;
      }
      const previous = count === 0 ? undefined : times[count - 1]!;
      if (previous !== undefined && (atMs <= previous || atMs - previous > 400)) {
        if (atMs <= previous) {
          return noBeats;
        }
        count = 0;
        brokenSince = true;
        nextLookMs = Number.NaN;
      }
      keep(atMs, value);
      if (Number.isNaN(nextLookMs)) {
        nextLookMs = atMs + 3_500;
      }
      if (atMs < nextLookMs) {
        return noBeats;
      }
      nextLookMs = atMs + everyMs;
      const found = look();
      let drop = 0;
      while (drop < count && times[drop]! < atMs - keptMs) {
        drop += 1;
      }
      times.copyWithin(0, drop, count);
      values.copyWithin(0, drop, count);
      count -= drop;
      return found;
    },
  };
}

/** Samples that there is room for at first: 8 s at 128 Hz and a second more fit. */
const firstRoom = 1_200;

/** Room for one look's sums, kept from look to look: a wave is looked at every second of an hour. */
interface Room {
  readonly band: Float64Array;
  readonly clipped: Float64Array;
  readonly short: Float64Array;
  readonly long: Float64Array;
}

const createRoom = (size: number): Room => ({
  band: new Float64Array(size),
  clipped: new Float64Array(size),
  short: new Float64Array(size),
  long: new Float64Array(size),
});

/** Band-pass as the difference of a short and a long moving mean (about 0.5 to 8 Hz), of the first `count` values. */
function bandOf(values: Float64Array, count: number, rateHz: number, room: Room): Float64Array {
  const { short, long, band } = room;
  centred(values, count, Math.max(1, Math.round(rateHz * 0.03)), short);
  centred(values, count, Math.round(rateHz * 0.5), long);
  for (let i = 0; i < count; i++) {
    band[i] = short[i]! - long[i]!;
  }
  return band.subarray(0, count);
}

/** The squares of what points up by `sign`, 0 elsewhere. */
function clip(band: Float64Array, sign: number, out: Float64Array): Float64Array {
  for (let i = 0; i < band.length; i++) {
    const value = band[i]!;
    out[i] = sign * value > 0 ? value * value : 0;
  }
  return out.subarray(0, band.length);
}

/** Pulses rise faster than they fall: the skew of the slope tells which way is up. Undefined where nothing moves. */
function slopeSkew(band: Float64Array, rateHz: number): number | undefined {
  let squares = 0;
  let cubes = 0;
  const step = Math.max(1, Math.round(rateHz * 0.04));
  for (let i = step; i < band.length; i++) {
    const slope = band[i]! - band[i - step]!;
    squares += slope * slope;
    cubes += slope * slope * slope;
  }
  const count = band.length - step;
  const deviation = Math.sqrt(squares / count);
  return deviation > 0 ? cubes / count / deviation ** 3 : undefined;
}

/** The highest places of the blocks where the mean about a peak exceeds that about a beat, where they are wide enough. */
function topsOf(clipped: Float64Array, rateHz: number, room: Room): number[] {
  const { short: peakMean, long: beatMean } = room;
  centred(clipped, clipped.length, Math.max(1, Math.round((rateHz * peakWindowMs) / 2_000)), peakMean);
  centred(clipped, clipped.length, Math.round((rateHz * beatWindowMs) / 2_000), beatMean);
  let sum = 0;
  for (let i = 0; i < clipped.length; i++) {
    sum += clipped[i]!;
  }
  const offset = (offsetShare * sum) / clipped.length;
  const tops: number[] = [];
  let from = -1;
  for (let i = 0; i <= clipped.length; i++) {
    const inside = i < clipped.length && peakMean[i]! > beatMean[i]! + offset;
    if (inside && from < 0) {
      from = i;
    }
    if (inside || from < 0) {
      continue;
    }
    if (((i - from) * 1_000) / rateHz >= peakWindowMs) {
      tops.push(highestOf(clipped, from, i));
    }
    from = -1;
  }
  return tops;
}

function highestOf(values: Float64Array, from: number, to: number): number {
  let top = from;
  for (let j = from; j < to; j++) {
    top = values[j]! > values[top]! ? j : top;
  }
  return top;
}

/**
 * Centred moving mean of the first `length` values into `out`, shorter at the edges. In three stretches, so that the long one in
 * the middle asks nothing at each step: a wave takes four of these sums over 8 s in every second of an hour.
 */
function centred(values: Float64Array, length: number, reach: number, out: Float64Array): void {
  const atFirst = Math.min(reach, length);
  let sum = 0;
  for (let i = 0; i < atFirst; i++) {
    sum += values[i]!;
  }
  // Where the window has not left the first value behind, and where it has not reached the last.
  const wholeFrom = Math.min(reach + 1, length);
  const wholeTo = Math.max(0, length - reach);
  let count = atFirst;
  for (let i = 0; i < wholeFrom; i++) {
    if (i < wholeTo) {
      sum += values[i + reach]!;
      count += 1;
    }
    out[i] = sum / count;
  }
  for (let i = wholeFrom; i < wholeTo; i++) {
    sum += values[i + reach]!;
    sum -= values[i - reach - 1]!;
    out[i] = sum / count;
  }
  for (let i = Math.max(wholeFrom, wholeTo); i < length; i++) {
    sum -= values[i - reach - 1]!;
    count -= 1;
    out[i] = sum / count;
  }
}

/** Time of a maximum between samples, by the parabola through it and its neighbours. */
function vertexTime(times: Float64Array, values: Float64Array, at: number): number {
  const left = values[at - 1];
  const right = values[at + 1];
  if (left === undefined || right === undefined) {
    return times[at]!;
  }
  const bend = left - 2 * values[at]! + right;
  const shift = bend === 0 ? 0 : (0.5 * (left - right)) / bend;
  return times[at]! + Math.max(-0.5, Math.min(0.5, shift)) * ((times[at + 1]! - times[at - 1]!) / 2);
}
