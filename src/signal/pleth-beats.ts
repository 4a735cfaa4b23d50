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

/** Makes a finder that has seen nothing. Constant memory for a given sampling rate. */
export function createPlethBeats(): PlethBeats {
  let times: number[] = [];
  let values: number[] = [];
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

  const look = (): PlethBeat[] => {
    const first = times[0]!;
    const last = times[times.length - 1]!;
    const rateHz = ((times.length - 1) * 1_000) / (last - first);
    if (!(rateHz >= slowestHz) || last - first < 3_000) {
      return [];
    }
    const band = bandOf(values, rateHz);
    const skew = slopeSkew(band, rateHz);
    if (skew === undefined) {
      return [];
    }
    uprightness += 0.2 * (Math.max(-2, Math.min(2, skew)) - uprightness);
    const sign = uprightness < 0 ? -1 : 1;
    const clipped = band.map((value) => (sign * value > 0 ? value * value : 0));
    const found: PlethBeat[] = [];
    for (const top of topsOf(clipped, rateHz)) {
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
        return [];
      }
      const previous = times[times.length - 1];
      if (previous !== undefined && (atMs <= previous || atMs - previous > 400)) {
        if (atMs <= previous) {
          return [];
        }
        times = [];
        values = [];
        brokenSince = true;
        nextLookMs = Number.NaN;
      }
      times.push(atMs);
      values.push(value);
      if (Number.isNaN(nextLookMs)) {
        nextLookMs = atMs + 3_500;
      }
      if (atMs < nextLookMs) {
        return [];
      }
      nextLookMs = atMs + everyMs;
      const found = look();
      let drop = 0;
      while (drop < times.length && times[drop]! < atMs - keptMs) {
        drop += 1;
      }
      times = times.slice(drop);
      values = values.slice(drop);
      return found;
    },
  };
}

/** Band-pass as the difference of a short and a long moving mean (about 0.5 to 8 Hz). */
function bandOf(values: readonly number[], rateHz: number): number[] {
  const short = centred(values, Math.max(1, Math.round(rateHz * 0.03)));
  const long = centred(values, Math.round(rateHz * 0.5));
  return short.map((value, i) => value - long[i]!);
}

/** Pulses rise faster than they fall: the skew of the slope tells which way is up. Undefined where nothing moves. */
function slopeSkew(band: readonly number[], rateHz: number): number | undefined {
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
function topsOf(clipped: readonly number[], rateHz: number): number[] {
  const peakMean = centred(clipped, Math.max(1, Math.round((rateHz * peakWindowMs) / 2_000)));
  const beatMean = centred(clipped, Math.round((rateHz * beatWindowMs) / 2_000));
  const offset = (offsetShare * clipped.reduce((sum, value) => sum + value, 0)) / clipped.length;
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

function highestOf(values: readonly number[], from: number, to: number): number {
  let top = from;
  for (let j = from; j < to; j++) {
    top = values[j]! > values[top]! ? j : top;
  }
  return top;
}

/** Centred moving mean, shorter at the edges. */
function centred(values: readonly number[], reach: number): number[] {
  const out: number[] = new Array(values.length);
  let sum = 0;
  let count = 0;
  for (let i = 0; i < Math.min(reach, values.length); i++) {
    sum += values[i]!;
    count += 1;
  }
  for (let i = 0; i < values.length; i++) {
    if (i + reach < values.length) {
      sum += values[i + reach]!;
      count += 1;
    }
    if (i - reach - 1 >= 0) {
      sum -= values[i - reach - 1]!;
      count -= 1;
    }
    out[i] = sum / count;
  }
  return out;
}

/** Time of a maximum between samples, by the parabola through it and its neighbours. */
function vertexTime(times: readonly number[], values: readonly number[], at: number): number {
  const left = values[at - 1];
  const right = values[at + 1];
  if (left === undefined || right === undefined) {
    return times[at]!;
  }
  const bend = left - 2 * values[at]! + right;
  const shift = bend === 0 ? 0 : (0.5 * (left - right)) / bend;
  return times[at]! + Math.max(-0.5, Math.min(0.5, shift)) * ((times[at + 1]! - times[at - 1]!) / 2);
}
