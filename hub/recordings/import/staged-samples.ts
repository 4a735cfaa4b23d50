// Readings of a file on their way to a session: written aside as they are found and read back in order of time, however
// many there are and in whatever order the file had them. Memory is that of a few blocks.

import { closeSync, openSync, readSync, rmSync, writeSync } from 'node:fs';
import { said } from '../../../shared/said.ts';
import { type Channel, channelSchema, type SampleQuality } from '../../../shared/schema-parts.ts';
import type { ImportSink } from '../../../src/formats/import-file.ts';
import type { ImportedSample } from '../../../src/sessions/imported-recording.ts';
import { ImportRefused } from './checked-sink.ts';

const channels = channelSchema.options;
const qualities = ['good', 'suspect', 'bad'] as const satisfies readonly SampleQuality[];

/** Readings of a block, which is sorted by itself. */
const blockLength = 16_384;
/** Doubles of time, span and value; a byte each of channel and quality. */
const bytesPerSample = 34;
/** Blocks that reach over one time: rows further out of order than this are not put in order. */
const mostOpenBlocks = 120;

interface Columns {
  readonly bytes: Uint8Array;
  readonly atMs: Float64Array;
  readonly earliestMs: Float64Array;
  readonly latestMs: Float64Array;
  readonly value: Float64Array;
  readonly channel: Uint8Array;
  readonly quality: Uint8Array;
}

function createColumns(): Columns {
  const buffer = new ArrayBuffer(blockLength * bytesPerSample);
  const doubles = (index: number): Float64Array =>
    new Float64Array(buffer, index * 8 * blockLength, blockLength);
  return {
    bytes: new Uint8Array(buffer),
    atMs: doubles(0),
    earliestMs: doubles(1),
    latestMs: doubles(2),
    value: doubles(3),
    channel: new Uint8Array(buffer, 32 * blockLength, blockLength),
    quality: new Uint8Array(buffer, 33 * blockLength, blockLength),
  };
}

interface Block {
  readonly offset: number;
  readonly length: number;
  readonly leastMs: number;
}

export interface StagedSamples {
  readonly sink: Pick<ImportSink, 'sample'>;
  readonly count: number;
  /** Channels that have readings. */
  readonly channels: ReadonlySet<Channel>;
  /** Everything in order of time, `beginMs` taken off; those of the same time in the order of the channels. Once. */
  inOrder(beginMs: number): Generator<ImportedSample>;
  /** Takes the file away. */
  close(): void;
}

/** `path` is of a file that does not exist yet. Throws what the file system throws. */
export function createStagedSamples(path: string): StagedSamples {
  const file = openSync(path, 'wx+', 0o600);
  const blocks: Block[] = [];
  const seen = new Set<Channel>();
  const order = new Map<Channel, number>(channels.map((channel, index) => [channel, index]));
  const filling = createColumns();
  let length = 0;
  let leastMs = Number.POSITIVE_INFINITY;
  let fileBytes = 0;
  let count = 0;

  function flush(): void {
    if (length === 0) return;
    writeSync(file, filling.bytes, 0, filling.bytes.length, fileBytes);
    blocks.push({ offset: fileBytes, length, leastMs });
    fileBytes += filling.bytes.length;
    count += length;
    length = 0;
    leastMs = Number.POSITIVE_INFINITY;
  }

  return {
    sink: {
      sample(channel, atMs, earliestMs, latestMs, value, quality) {
        filling.atMs[length] = atMs;
        filling.earliestMs[length] = earliestMs;
        filling.latestMs[length] = latestMs;
        filling.value[length] = value;
        filling.channel[length] = order.get(channel)!;
        seen.add(channel);
        filling.quality[length] = qualities.indexOf(quality);
        if (atMs < leastMs) leastMs = atMs;
        length += 1;
        if (length === blockLength) flush();
      },
    },
    get count() {
      return count + length;
    },
    get channels() {
      return seen;
    },
    *inOrder(beginMs) {
      flush();
      const waiting = blocks.toSorted((a, b) => a.leastMs - b.leastMs);
      const open: Cursor[] = [];
      let next = 0;
      for (;;) {
        let first: Cursor | undefined;
        for (const cursor of open) if (first === undefined || isBefore(cursor, first)) first = cursor;
        const block = waiting[next];
        if (block !== undefined && (first === undefined || block.leastMs <= first.atMs)) {
          if (open.length >= mostOpenBlocks) throw new ImportRefused(said('import.tooDisordered'));
          open.push(new Cursor(file, block));
          next += 1;
          continue;
        }
        if (first === undefined) return;
        yield first.sample(beginMs);
        if (!first.advance()) open.splice(open.indexOf(first), 1);
      }
    },
    close() {
      closeSync(file);
      rmSync(path, { force: true });
    },
  };
}

/** A block being read, the earliest reading first. */
class Cursor {
  readonly #columns: Columns;
  readonly #rows: Uint32Array;
  #at = 0;
  atMs: number;
  channel: number;

  constructor(file: number, block: Block) {
    this.#columns = createColumns();
    readSync(file, this.#columns.bytes, 0, this.#columns.bytes.length, block.offset);
    const { atMs, channel } = this.#columns;
    const rows = Uint32Array.from({ length: block.length }, (_, row) => row);
    let sorted = true;
    for (let row = 1; row < block.length && sorted; row += 1)
      sorted =
        atMs[row]! > atMs[row - 1]! || (atMs[row] === atMs[row - 1] && channel[row]! >= channel[row - 1]!);
    this.#rows = sorted
      ? rows
      : rows.sort((a, b) => atMs[a]! - atMs[b]! || channel[a]! - channel[b]! || a - b);
    this.atMs = atMs[this.#rows[0]!]!;
    this.channel = channel[this.#rows[0]!]!;
  }

  sample(beginMs: number): ImportedSample {
    const row = this.#rows[this.#at]!;
    const { atMs, earliestMs, latestMs, value, channel, quality } = this.#columns;
    return {
      channel: channels[channel[row]!]!,
      atMs: moved(atMs[row]!, beginMs),
      earliestMs: moved(earliestMs[row]!, beginMs),
      latestMs: moved(latestMs[row]!, beginMs),
      value: value[row]!,
      quality: qualities[quality[row]!]!,
    };
  }

  /** False at the end of the block. */
  advance(): boolean {
    this.#at += 1;
    const row = this.#rows[this.#at];
    if (row === undefined) return false;
    this.atMs = this.#columns.atMs[row]!;
    this.channel = this.#columns.channel[row]!;
    return true;
  }
}

const isBefore = (a: Cursor, b: Cursor): boolean =>
  a.atMs < b.atMs || (a.atMs === b.atMs && a.channel < b.channel);

/** Rounded to the nanosecond, which undoes the rounding of binary fractions. */
const moved = (atMs: number, beginMs: number): number =>
  beginMs === 0 ? atMs : Math.round((atMs - beginMs) * 1e6) / 1e6;
