// Cuts frames from a byte stream by a profile's framing: sync, length, checksum, and finding the way back after damage.

import type { ChecksumKind, ProfileFraming } from './sensor-profile.ts';

/** The longest frame there can be: one length byte plus what a profile may add. */
export const longestFrame = 512;

export interface CutResult {
  /** Bytes of a frame that has not come to its end. */
  readonly pending: Uint8Array;
  readonly frames: readonly Uint8Array[];
  /** Bytes that belong to no frame. */
  readonly skippedByteCount: number;
  /** Places that began like a frame and whose checksum or length was wrong. */
  readonly damagedCount: number;
}

/** The result does not depend on how the stream was cut into chunks. */
export function cutFrames(framing: ProfileFraming, pending: Uint8Array, chunk: Uint8Array): CutResult {
  const bytes = new Uint8Array(pending.length + chunk.length);
  bytes.set(pending);
  bytes.set(chunk, pending.length);
  const frames: Uint8Array[] = [];
  let skippedByteCount = 0;
  let damagedCount = 0;
  let at = 0;
  while (at < bytes.length) {
    const match = matchSync(framing.sync, bytes, at);
    if (match === 'no') {
      skippedByteCount += 1;
      at += 1;
      continue;
    }
    const length = match === 'whole' ? frameLength(framing, bytes, at) : 'unknown';
    if (length === 'unknown') break;
    if (length === 'wrong') {
      damagedCount += 1;
      skippedByteCount += 1;
      at += 1;
      continue;
    }
    if (bytes.length - at < length) break;
    const frame = bytes.slice(at, at + length);
    if (!checksumFits(framing, frame)) {
      damagedCount += 1;
      skippedByteCount += 1;
      at += 1;
      continue;
    }
    frames.push(frame);
    at += length;
  }
  return { pending: bytes.slice(at), frames, skippedByteCount, damagedCount };
}

function matchSync(sync: Uint8Array, bytes: Uint8Array, at: number): 'whole' | 'begun' | 'no' {
  for (let index = 0; index < sync.length; index += 1) {
    if (at + index >= bytes.length) return 'begun';
    if (bytes[at + index] !== sync[index]) return 'no';
  }
  return 'whole';
}

function frameLength(framing: ProfileFraming, bytes: Uint8Array, at: number): number | 'unknown' | 'wrong' {
  if ('fixed' in framing.length) return framing.length.fixed;
  const { at: place, plus, most } = framing.length;
  const said = bytes[at + place];
  if (said === undefined) return 'unknown';
  const length = said + plus;
  const least = Math.max(framing.sync.length, place + 1, (framing.checksum?.fromEnd ?? 0) + 1);
  return length < least || length > most ? 'wrong' : length;
}

function checksumFits(framing: ProfileFraming, frame: Uint8Array): boolean {
  const checksum = framing.checksum;
  if (checksum === null) return true;
  const place = frame.length - checksum.fromEnd;
  return (
    place > checksum.from && checksumOf(checksum.kind, frame.subarray(checksum.from, place)) === frame[place]
  );
}

/** One byte over the bytes given. */
export function checksumOf(kind: ChecksumKind, bytes: Uint8Array): number {
  switch (kind) {
    case 'xor8':
      return bytes.reduce((all, byte) => all ^ byte, 0);
    case 'sum8':
      return bytes.reduce((sum, byte) => (sum + byte) & 0xff, 0);
    case 'sum7':
      return bytes.reduce((sum, byte) => (sum + byte) & 0x7f, 0);
    case 'negatedSum8':
      return -bytes.reduce((sum, byte) => (sum + byte) & 0xff, 0) & 0xff;
    case 'crc8': {
      let crc = 0;
      for (const byte of bytes) {
        crc ^= byte;
        for (let bit = 0; bit < 8; bit += 1) crc = crc & 0x80 ? ((crc << 1) ^ 0x07) & 0xff : crc << 1;
      }
      return crc;
    }
  }
}
