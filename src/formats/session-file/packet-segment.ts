// Packets of a session file: segments of some thousand, each by the column, so that a reader needs no more than one of them
// in memory and packing finds what is alike. Every byte and every time comes back as it was.

import type { Said } from '../../../shared/said.ts';
import { said } from '../../../shared/said.ts';
import { failed, ok, type Result } from '../../result.ts';

/** A packet as it arrived; `stream` is a place in the head's list of streams. */
export interface FilePacket {
  readonly stream: number;
  /** Session-monotonic and Unix milliseconds. */
  readonly atMs: number;
  readonly wallAtMs: number;
  readonly bytes: Uint8Array;
}

/** Packets of a segment, and the bytes that they carry: whichever comes first ends it. */
export const segmentLimits = { packets: 16_384, bytes: 2 ** 20 } as const;
/** A notification carries at most 512 bytes (Bluetooth Core 5.4 Vol 3 Part F 3.2.9); our own wave packets a little more. */
const mostPacketBytes = 65_536;
/** Count, then by packet a stream, two times and a length. */
const headBytes = 4;
const columnBytes = 2 + 8 + 8 + 4;
/** What a segment can be long at most. */
export const mostSegmentBytes =
  headBytes + segmentLimits.packets * columnBytes + segmentLimits.bytes + mostPacketBytes;

/** Little-endian: count (u32); then columns of streams (u16), times (f64), wall times (f64), lengths (u32); then the bytes. */
export function encodeSegment(packets: readonly FilePacket[]): Uint8Array {
  const count = packets.length;
  const payload = packets.reduce((sum, { bytes }) => sum + bytes.length, 0);
  const out = new Uint8Array(headBytes + count * columnBytes + payload);
  const view = new DataView(out.buffer);
  view.setUint32(0, count, true);
  const columns = columnsFrom(count);
  let at = columns.bytes;
  packets.forEach(({ stream, atMs, wallAtMs, bytes }, index) => {
    view.setUint16(columns.streams + 2 * index, stream, true);
    view.setFloat64(columns.times + 8 * index, atMs, true);
    view.setFloat64(columns.wallTimes + 8 * index, wallAtMs, true);
    view.setUint32(columns.lengths + 4 * index, bytes.length, true);
    out.set(bytes, at);
    at += bytes.length;
  });
  return out;
}

/** Any bytes are answered with packets or with what is wrong; `name` is the segment's, `streamCount` what the head lists. */
export function decodeSegment(
  name: string,
  bytes: Uint8Array,
  streamCount: number,
  durationMs: number,
): Result<FilePacket[], Said> {
  const wrong = failed(said('sessionFile.packets', { name }));
  if (bytes.length < headBytes) return wrong;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const count = view.getUint32(0, true);
  if (count > segmentLimits.packets || headBytes + count * columnBytes > bytes.length) return wrong;
  const columns = columnsFrom(count);
  const packets: FilePacket[] = [];
  let at = columns.bytes;
  for (let index = 0; index < count; index += 1) {
    const stream = view.getUint16(columns.streams + 2 * index, true);
    const atMs = view.getFloat64(columns.times + 8 * index, true);
    const wallAtMs = view.getFloat64(columns.wallTimes + 8 * index, true);
    const length = view.getUint32(columns.lengths + 4 * index, true);
    const isPacket =
      stream < streamCount &&
      atMs >= 0 &&
      // A session lasts to its last event, whatever it is.
      atMs <= durationMs &&
      Number.isFinite(wallAtMs) &&
      length <= mostPacketBytes &&
      at + length <= bytes.length;
    if (!isPacket) return wrong;
    packets.push({ stream, atMs, wallAtMs, bytes: bytes.slice(at, at + length) });
    at += length;
  }
  return at === bytes.length ? ok(packets) : wrong;
}

function columnsFrom(count: number) {
  const streams = headBytes;
  const times = streams + 2 * count;
  const wallTimes = times + 8 * count;
  const lengths = wallTimes + 8 * count;
  return { streams, times, wallTimes, lengths, bytes: lengths + 4 * count };
}
