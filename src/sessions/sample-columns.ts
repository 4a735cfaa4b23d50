// Samples of one channel as growing typed columns: hours of a waveform in a few megabytes, and quick min/max decimation.

import type { SampleQuality } from '../../shared/schema-parts.ts';

/** Order is by severity, so that the worst quality of a bucket is the greatest code. */
const codeOf: Record<SampleQuality, number> = { good: 0, suspect: 1, bad: 2 };
const letterOf = ['g', 's', 'b'] as const;

/** What the columns consist of, for handing them to another thread. */
export interface ColumnBuffers {
  readonly atMs: Float64Array<ArrayBuffer>;
  readonly value: Float32Array<ArrayBuffer>;
  readonly quality: Uint8Array<ArrayBuffer>;
  /** Where the least and the greatest value of each block of `blockLength` samples stand: two a block. */
  readonly extremes: Uint32Array<ArrayBuffer>;
}

/** Decimation looks at blocks where it can: hours of a waveform in the time of a minute. */
const blockLength = 32;

export interface SampleColumns {
  readonly length: number;
  /** Copies of exactly the samples there are. */
  buffers(): ColumnBuffers;
  append(atMs: number, value: number, quality: SampleQuality): void;
  /** The samples with `fromMs <= atMs <= toMs`, decimated to at most `buckets` spans of equal time. */
  decimate(fromMs: number, toMs: number, buckets: number): DecimatedColumn;
}

export interface DecimatedColumn {
  readonly atMs: number[];
  readonly value: number[];
  /** One letter a sample: g, s or b. */
  readonly quality: string;
  /** False when every sample of the span is there. */
  readonly decimated: boolean;
}

/** Columns in time order; a sample that arrives out of order is put where it belongs. `from` is taken over, not copied. */
export function createSampleColumns(from?: ColumnBuffers): SampleColumns {
  let times = from?.atMs ?? new Float64Array(1_024);
  let values = from?.value ?? new Float32Array(1_024);
  let codes = from?.quality ?? new Uint8Array(1_024);
  let length = from?.atMs.length ?? 0;
  /** Undefined when samples came after it was made. */
  let extremes = from?.extremes;

  function grow(): void {
    const capacity = Math.max(1_024, times.length * 2);
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

  function extremesNow(): Uint32Array<ArrayBuffer> {
    if (extremes !== undefined) return extremes;
    const blockCount = Math.floor(length / blockLength);
    extremes = new Uint32Array(2 * blockCount);
    for (let block = 0; block < blockCount; block += 1) {
      let least = block * blockLength;
      let greatest = least;
      for (let index = least + 1; index < (block + 1) * blockLength; index += 1) {
        if (values[index]! < values[least]!) least = index;
        if (values[index]! > values[greatest]!) greatest = index;
      }
      extremes[2 * block] = least;
      extremes[2 * block + 1] = greatest;
    }
    return extremes;
  }

  /** Indices of the least and greatest value from `first` up to but not including `end`; the first of equals. */
  function extremesOf(first: number, end: number, blocks: Uint32Array): [least: number, greatest: number] {
    let least = first;
    let greatest = first;
    const look = (low: number, high: number): void => {
      if (values[low]! < values[least]!) least = low;
      if (values[high]! > values[greatest]!) greatest = high;
    };
    let index = first;
    while (index < end) {
      if (index % blockLength === 0 && index + blockLength <= end) {
        const block = index / blockLength;
        look(blocks[2 * block]!, blocks[2 * block + 1]!);
        index += blockLength;
      } else {
        look(index, index);
        index += 1;
      }
    }
    return [least, greatest];
  }

  function pick(indices: readonly number[], decimated: boolean): DecimatedColumn {
    const atMs: number[] = new Array(indices.length);
    const value: number[] = new Array(indices.length);
    const letters: string[] = new Array(indices.length);
    for (let i = 0; i < indices.length; i += 1) {
      const index = indices[i]!;
      atMs[i] = times[index]!;
      value[i] = values[index]!;
      letters[i] = letterOf[codes[index]!]!;
    }
    return { atMs, value, quality: letters.join(''), decimated };
  }

  return {
    get length() {
      return length;
    },
    buffers: () => ({
      atMs: times.slice(0, length),
      value: values.slice(0, length),
      quality: codes.slice(0, length),
      extremes: extremesNow().slice(),
    }),
    append(atMs, value, quality) {
      extremes = undefined;
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
    decimate(fromMs, toMs, buckets) {
      const first = lowerBound(fromMs);
      let last = lowerBound(toMs);
      while (last < length && times[last]! <= toMs) last += 1;
      const count = last - first;
      // A bucket keeps up to two samples, its least and its greatest: decimate only where that makes fewer.
      if (count <= buckets * 2) return pick(range(first, last), false);
      const blocks = extremesNow();
      const indices: number[] = [];
      const bucketMs = (toMs - fromMs) / buckets;
      let index = first;
      for (let bucket = 0; bucket < buckets && index < last; bucket += 1) {
        const end =
          bucket === buckets - 1 ? last : Math.min(last, lowerBound(fromMs + (bucket + 1) * bucketMs));
        if (end <= index) continue;
        const [least, greatest] = extremesOf(index, end, blocks);
        if (least === greatest) indices.push(least);
        else indices.push(Math.min(least, greatest), Math.max(least, greatest));
        index = end;
      }
      return pick(indices, true);
    },
  };
}

function range(first: number, last: number): number[] {
  return Array.from({ length: last - first }, (_, i) => first + i);
}
