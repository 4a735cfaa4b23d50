// A sealed chunk: consecutive packets of a session by the column, every byte, time and place in the order kept exactly.

import type { MonotonicMs, WallMs } from '../../shared/units.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import type { PacketColumns, StoredPacket } from '../base/ports/stored-session.ts';
import { ByteReader, MalformedBytes } from './byte-reader.ts';
import { ByteWriter } from './byte-writer.ts';
import { readDoubles, readIntegers, writeDoubles, writeIntegers } from './number-columns.ts';
import { readStreamNames, StreamNumbers } from './packet-batch.ts';
import { readPayloads, writePayloads } from './payload-columns.ts';

const formatVersion = 1;
/** Bounds on what a chunk may claim to hold, so that a hostile one cannot ask for all memory. */
const mostPackets = 2 ** 22;
const mostPayloadBytes = 2 ** 27;

const orderedByTime = 0;
const orderedByList = 1;

const wallConstantOffset = 0;
const wallWholeOffset = 1;
const wallAsIs = 2;

/** The streams of a chunk, and for each packet in the order of arrival the number of its stream. */
export interface PacketChunk {
  readonly streams: readonly PacketColumns[];
  readonly order: Uint32Array;
}

/** Layout: version, stream names with packet counts, order, then times, wall times, lengths, bytes of each stream. */
export function encodeChunk(packets: readonly StoredPacket[]): Uint8Array {
  const numbers = new StreamNumbers();
  const order = new Uint32Array(packets.length);
  packets.forEach((packet, i) => {
    order[i] = numbers.numberOf(packet);
  });
  const byStream: StoredPacket[][] = numbers.names.map(() => []);
  packets.forEach((packet, i) => {
    byStream[order[i]!]!.push(packet);
  });
  const times = byStream.map((ofStream) => columnOf(ofStream, (packet) => packet.atMs));

  const writer = new ByteWriter();
  writer.u8(formatVersion);
  numbers.write(writer);
  for (const ofStream of byStream) writer.varint(ofStream.length);
  if (equal(order, orderByTime(times))) writer.u8(orderedByTime);
  else {
    writer.u8(orderedByList);
    writeIntegers(writer, Float64Array.from(order));
  }
  byStream.forEach((ofStream, stream) => {
    const atMs = times[stream]!;
    writeDoubles(writer, atMs);
    writeWallTimes(
      writer,
      atMs,
      columnOf(ofStream, (packet) => packet.wallAtMs),
    );
    writeIntegers(
      writer,
      columnOf(ofStream, (packet) => packet.bytes.length),
    );
    writePayloads(writer, joinPayloads(ofStream));
  });
  return writer.finish();
}

/** Never throws: a reason for anything that `encodeChunk` did not write. */
export function decodeChunk(bytes: Uint8Array): Result<PacketChunk> {
  try {
    const reader = new ByteReader(bytes);
    const version = reader.u8();
    if (version !== formatVersion) return failed('unknownVersion');
    const names = readStreamNames(reader);
    let packetCount = 0;
    const counts = names.map(() => {
      const count = reader.varint(mostPackets);
      packetCount += count;
      return count;
    });
    if (packetCount > mostPackets) return failed('tooManyPackets');
    const byTime = reader.u8() === orderedByTime;
    const listed = byTime ? undefined : Uint32Array.from(readIntegers(reader, packetCount));
    let payloadBytes = 0;
    const streams = names.map(({ sensorId, characteristic }, stream): PacketColumns => {
      const count = counts[stream]!;
      const atMs = readDoubles(reader, count);
      const wallAtMs = readWallTimes(reader, atMs);
      const lengths = readIntegers(reader, count);
      const offsets = new Uint32Array(count + 1);
      let total = 0;
      for (let i = 0; i < count; i++) {
        const length = lengths[i]!;
        total += length;
        if (!(length >= 0) || payloadBytes + total > mostPayloadBytes)
          throw new MalformedBytes(`a packet of ${length} bytes`);
        offsets[i + 1] = total;
      }
      payloadBytes += total;
      const payload = new Uint8Array(total);
      readPayloads(reader, { offsets, bytes: payload });
      return { sensorId, characteristic, atMs, wallAtMs, offsets, bytes: payload };
    });
    reader.end();
    const order = listed ?? orderByTime(streams.map((stream) => stream.atMs));
    const left = [...counts];
    for (const stream of order)
      if (stream >= left.length || left[stream]!-- === 0) return failed('unfittingOrder');
    return ok({ streams, order });
  } catch (cause) {
    if (cause instanceof MalformedBytes) return failed(cause.message);
    throw cause;
  }
}

/** True if `body` decodes to exactly these packets. */
export function isChunkOf(body: Uint8Array, packets: readonly StoredPacket[]): boolean {
  const decoded = decodeChunk(body);
  if (!decoded.ok || decoded.value.order.length !== packets.length) return false;
  let i = 0;
  for (const packet of packetsOf(decoded.value)) {
    const original = packets[i++]!;
    if (
      packet.sensorId !== original.sensorId ||
      packet.characteristic !== original.characteristic ||
      !Object.is(packet.atMs, original.atMs) ||
      !Object.is(packet.wallAtMs, original.wallAtMs) ||
      Buffer.compare(packet.bytes, original.bytes) !== 0
    )
      return false;
  }
  return true;
}

/** The packets in the order of arrival, their bytes views of the chunk's columns. */
export function* packetsOf(chunk: PacketChunk): Generator<StoredPacket, void, undefined> {
  const next = new Uint32Array(chunk.streams.length);
  for (const number of chunk.order) {
    const stream = chunk.streams[number]!;
    const i = next[number]!;
    next[number] = i + 1;
    yield {
      sensorId: stream.sensorId,
      characteristic: stream.characteristic,
      bytes: stream.bytes.subarray(stream.offsets[i], stream.offsets[i + 1]),
      atMs: stream.atMs[i] as MonotonicMs,
      wallAtMs: stream.wallAtMs[i] as WallMs,
    };
  }
}

/** Packets by the column, one entry a stream. */
export function columnsOfPackets(packets: readonly StoredPacket[]): PacketColumns[] {
  const numbers = new StreamNumbers();
  const byStream: StoredPacket[][] = [];
  for (const packet of packets) {
    const number = numbers.numberOf(packet);
    const ofStream = byStream[number];
    if (ofStream === undefined) byStream[number] = [packet];
    else ofStream.push(packet);
  }
  return byStream.map((ofStream, stream) => ({
    ...numbers.names[stream]!,
    atMs: columnOf(ofStream, (packet) => packet.atMs),
    wallAtMs: columnOf(ofStream, (packet) => packet.wallAtMs),
    ...joinPayloads(ofStream),
  }));
}

/** A loop: `Float64Array.from` with a function takes ten times as long. */
function columnOf(packets: readonly StoredPacket[], value: (packet: StoredPacket) => number): Float64Array {
  const column = new Float64Array(packets.length);
  for (let i = 0; i < packets.length; i++) column[i] = value(packets[i]!);
  return column;
}

function joinPayloads(packets: readonly StoredPacket[]): { offsets: Uint32Array; bytes: Uint8Array } {
  const offsets = new Uint32Array(packets.length + 1);
  let total = 0;
  packets.forEach((packet, i) => {
    total += packet.bytes.length;
    offsets[i + 1] = total;
  });
  const bytes = new Uint8Array(total);
  packets.forEach((packet, i) => {
    bytes.set(packet.bytes, offsets[i]);
  });
  return { offsets, bytes };
}

/**
 * The order that streams merge to by time, the lower number first at equal times: usually that of arrival.
 * A binary heap of streams, the one whose next packet is earliest on top; a time that is no number comes last.
 */
function orderByTime(times: readonly Float64Array[]): Uint32Array {
  if (times.length === 1) return new Uint32Array(times[0]!.length);
  let packetCount = 0;
  const heap: number[] = [];
  const next = new Uint32Array(times.length);
  const nextAtMs = new Float64Array(times.length);
  const load = (stream: number): boolean => {
    const atMs = times[stream]![next[stream]!];
    if (atMs === undefined) return false;
    nextAtMs[stream] = Number.isNaN(atMs) ? Number.POSITIVE_INFINITY : atMs;
    return true;
  };
  const before = (a: number, b: number): boolean =>
    nextAtMs[a]! < nextAtMs[b]! || (nextAtMs[a] === nextAtMs[b] && a < b);
  const sink = (from: number): void => {
    const stream = heap[from]!;
    let at = from;
    for (;;) {
      let child = 2 * at + 1;
      if (child >= heap.length) break;
      if (child + 1 < heap.length && before(heap[child + 1]!, heap[child]!)) child++;
      if (!before(heap[child]!, stream)) break;
      heap[at] = heap[child]!;
      at = child;
    }
    heap[at] = stream;
  };
  times.forEach((ofStream, stream) => {
    packetCount += ofStream.length;
    if (load(stream)) heap.push(stream);
  });
  for (let at = heap.length >> 1; at >= 0; at--) if (at < heap.length) sink(at);
  const order = new Uint32Array(packetCount);
  for (let i = 0; i < packetCount; i++) {
    const stream = heap[0]!;
    order[i] = stream;
    next[stream]!++;
    if (!load(stream)) {
      const last = heap.pop()!;
      if (heap.length === 0) break;
      if (last !== stream || heap[0] !== stream) heap[0] = last;
    }
    sink(0);
  }
  return order;
}

function equal(a: Uint32Array, b: Uint32Array): boolean {
  for (let i = 0; i < a.length; i++) if (a[i] !== b[i]) return false;
  return a.length === b.length;
}

/** Wall time is session time and an offset that seldom changes; anything else is kept as it is. */
function writeWallTimes(writer: ByteWriter, atMs: Float64Array, wallAtMs: Float64Array): void {
  if (atMs.length === 0) return;
  const offset = wallAtMs[0]! - atMs[0]!;
  if (isConstantOffset(atMs, wallAtMs, offset)) {
    writer.u8(wallConstantOffset);
    writer.f64(offset);
    return;
  }
  const offsets = wholeOffsets(atMs, wallAtMs);
  if (offsets !== undefined) {
    writer.u8(wallWholeOffset);
    writeIntegers(writer, offsets);
    return;
  }
  writer.u8(wallAsIs);
  writeDoubles(writer, wallAtMs);
}

function isConstantOffset(atMs: Float64Array, wallAtMs: Float64Array, offset: number): boolean {
  for (let i = 0; i < atMs.length; i++) if (!Object.is(wallAtMs[i], atMs[i]! + offset)) return false;
  return true;
}

/** From the session's whole milliseconds to the wall's; undefined unless every wall time is one. */
function wholeOffsets(atMs: Float64Array, wallAtMs: Float64Array): Float64Array | undefined {
  const offsets = new Float64Array(atMs.length);
  for (let i = 0; i < atMs.length; i++) {
    const wall = wallAtMs[i]!;
    const at = Math.floor(atMs[i]!);
    // Beyond 2^49 the difference would no longer be exact; and minus zero would come back as zero.
    if (!Number.isInteger(wall) || wall === 0 || !(Math.abs(wall) < 2 ** 49 && Math.abs(at) < 2 ** 49))
      return undefined;
    offsets[i] = wall - at;
  }
  return offsets;
}

function readWallTimes(reader: ByteReader, atMs: Float64Array): Float64Array {
  if (atMs.length === 0) return new Float64Array(0);
  const kind = reader.u8();
  if (kind === wallConstantOffset) {
    const offset = reader.f64();
    const wallAtMs = new Float64Array(atMs.length);
    for (let i = 0; i < atMs.length; i++) wallAtMs[i] = atMs[i]! + offset;
    return wallAtMs;
  }
  if (kind === wallWholeOffset) {
    const wallAtMs = readIntegers(reader, atMs.length);
    for (let i = 0; i < atMs.length; i++) wallAtMs[i]! += Math.floor(atMs[i]!);
    return wallAtMs;
  }
  if (kind === wallAsIs) return readDoubles(reader, atMs.length);
  throw new MalformedBytes('unknownWallTimes');
}
