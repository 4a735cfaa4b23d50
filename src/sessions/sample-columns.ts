// Samples of one channel as growing typed columns: hours of a waveform in a few megabytes, and quick min/max thinning.

import type { SampleQuality } from '../../shared/schema-parts.ts';

/** Order is by severity, so that the worst quality of a bucket is the greatest code. */
const codeOf: Record<SampleQuality, number> = { good: 0, suspect: 1, bad: 2 };
const letterOf = ['g', 's', 'b'] as const;

export interface SampleColumns {
  readonly length: number;
  append(atMs: number, value: number, quality: SampleQuality): void;
  /** The samples with `fromMs <= atMs <= toMs`, thinned to at most `buckets` spans of equal time. */
  thin(fromMs: number, toMs: number, buckets: number): ThinnedColumn;
}

export interface ThinnedColumn {
  readonly atMs: number[];
  readonly value: number[];
  /** One letter a sample: g, s or b. */
  readonly quality: string;
  /** False when every sample of the span is there. */
  readonly thinned: boolean;
}

/** Columns in time order; a sample that arrives out of order is put where it belongs. */
export function createSampleColumns(): SampleColumns {
  let times = new Float64Array(1_024);
  let values = new Float32Array(1_024);
  let codes = new Uint8Array(1_024);
  let length = 0;

  function grow(): void {
    const capacity = times.length * 2;
    const [oldTimes, oldValues, oldCodes] = [times, values, codes];
    times = new Float64Array(capacity);
    values = new Float32Array(capacity);
    codes = new Uint8Array(capacity);
    times.set(oldTimes);
    values.set(oldValues);
    codes.set(oldCodes);
  }

  /** First index with a time not before `atMs`. */
  function lowerBound(atMs: number): number {
    let low = 0;
    let high = length;
    while (low < high) {
      const middle = (low + high) >>> 1;
      if (times[middle]! < atMs) low = middle + 1;
      else high = middle;
    }
    return low;
  }

  function pick(indices: readonly number[], thinned: boolean): ThinnedColumn {
    const atMs: number[] = new Array(indices.length);
    const value: number[] = new Array(indices.length);
    const letters: string[] = new Array(indices.length);
    for (let i = 0; i < indices.length; i += 1) {
      const index = indices[i]!;
      atMs[i] = times[index]!;
      value[i] = values[index]!;
      letters[i] = letterOf[codes[index]!]!;
    }
    return { atMs, value, quality: letters.join(''), thinned };
  }

  return {
    get length() {
      return length;
    },
    append(atMs, value, quality) {
      if (length === times.length) grow();
      let at = length;
      while (at > 0 && times[at - 1]! > atMs) at -= 1;
      if (at < length) {
        times.copyWithin(at + 1, at, length);
        values.copyWithin(at + 1, at, length);
        codes.copyWithin(at + 1, at, length);
      }
      times[at] = atMs;
      values[at] = value;
      codes[at] = codeOf[quality];
      length += 1;
    },
    thin(fromMs, toMs, buckets) {
      const first = lowerBound(fromMs);
      let last = lowerBound(toMs);
      while (last < length && times[last]! <= toMs) last += 1;
      const count = last - first;
      // A bucket keeps up to two samples, its least and its greatest: thin only where that makes fewer.
      if (count <= buckets * 2) return pick(range(first, last), false);
      const indices: number[] = [];
      const bucketMs = (toMs - fromMs) / buckets;
      let index = first;
      for (let bucket = 0; bucket < buckets && index < last; bucket += 1) {
        const bucketEndMs =
          bucket === buckets - 1 ? Number.POSITIVE_INFINITY : fromMs + (bucket + 1) * bucketMs;
        let least = -1;
        let greatest = -1;
        for (; index < last && times[index]! < bucketEndMs; index += 1) {
          if (least === -1 || values[index]! < values[least]!) least = index;
          if (greatest === -1 || values[index]! > values[greatest]!) greatest = index;
        }
        if (least === -1) continue;
        if (least === greatest) indices.push(least);
        else indices.push(Math.min(least, greatest), Math.max(least, greatest));
      }
      return pick(indices, true);
    },
  };
}

function range(first: number, last: number): number[] {
  return Array.from({ length: last - first }, (_, i) => first + i);
}
