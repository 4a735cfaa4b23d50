// Cuts frames from a byte stream by a profile's framing: sync, escapes, length, checksum, and finding the way back
// after damage.

import { checksumFits } from './checksum.ts';
import type { ProfileFraming } from './sensor-profile.ts';

/** The longest frame there can be: one length byte plus what a profile may add. */
export const longestFrame = 512;

export interface CutResult {
  /** Bytes of a frame that has not come to its end. */
  readonly pending: Uint8Array;
  /** Whole frames, escapes undone. */
  readonly frames: readonly Uint8Array[];
  /** Bytes that belong to no frame. */
  readonly skippedByteCount: number;
  /** Places that began like a frame and whose checksum or length was wrong, or that another frame broke into. */
  readonly damagedCount: number;
}

export type FrameFault = 'checksum' | 'length' | 'brokenInto';

/** Hears where in the bytes (those pending before the chunk, then the chunk) things were found, for a person to see. */
export interface CutTrace {
  /** Where each byte of a whole frame stood; its escapes lie between. */
  frame(frame: Uint8Array, places: readonly number[]): void;
  /** A byte that belongs to no frame; with a fault where it began like one. */
  skipped(at: number, fault: FrameFault | null): void;
}

/** The result does not depend on how the stream was cut into chunks. */
export function cutFrames(
  framing: ProfileFraming,
  pending: Uint8Array,
  chunk: Uint8Array,
  trace?: CutTrace,
): CutResult {
  const bytes = new Uint8Array(pending.length + chunk.length);
  bytes.set(pending);
  bytes.set(chunk, pending.length);
  const frames: Uint8Array[] = [];
  let skippedByteCount = 0;
  let damagedCount = 0;
  let at = 0;
  while (at < bytes.length) {
    const match = matchSync(framing, bytes, at);
    if (match === 'begun') break;
    if (match === 'no') {
      trace?.skipped(at, null);
      skippedByteCount += 1;
      at += 1;
      continue;
    }
    const places: number[] | undefined = trace === undefined ? undefined : [];
    const taken = takeFrame(framing, bytes, at, places);
    if (taken === 'unfinished') break;
    const isWrong = taken === 'length' || taken === 'brokenInto';
    if (isWrong || !checksumFits(framing.checksum, taken.frame)) {
      trace?.skipped(at, isWrong ? taken : 'checksum');
      damagedCount += 1;
      skippedByteCount += 1;
      at += 1;
      continue;
    }
    frames.push(taken.frame);
    trace?.frame(taken.frame, places!);
    at += taken.byteCount;
  }
  return { pending: bytes.slice(at), frames, skippedByteCount, damagedCount };
}

function matchSync(framing: ProfileFraming, bytes: Uint8Array, at: number): 'whole' | 'begun' | 'no' {
  const { sync, syncMask } = framing;
  for (let index = 0; index < sync.length; index += 1) {
    if (at + index >= bytes.length) return 'begun';
    if ((bytes[at + index]! & (syncMask?.[index] ?? 0xff)) !== sync[index]) return 'no';
  }
  return 'whole';
}

/** Where one byte marks a frame's beginning and nothing else may look like it, a second one means a broken frame. */
const isUniqueSync = (framing: ProfileFraming): boolean =>
  framing.sync.length === 1 && (framing.escape !== undefined || framing.syncMask !== undefined);

function takeFrame(
  framing: ProfileFraming,
  bytes: Uint8Array,
  from: number,
  places: number[] | undefined,
): { readonly frame: Uint8Array; readonly byteCount: number } | 'unfinished' | 'length' | 'brokenInto' {
  const { sync, escape: escaping } = framing;
  const isUnique = isUniqueSync(framing);
  const frame: number[] = [...bytes.subarray(from, from + sync.length)];
  for (let i = 0; i < sync.length; i += 1) places?.push(from + i);
  let at = from + sync.length;
  /** How many bytes at the frame's end came as they are: only such can be its end mark. */
  let plain = 0;
  for (;;) {
    const length = frameLength(framing, frame, plain);
    if (length === 'wrong') return 'length';
    if (length !== 'unknown' && frame.length >= length) {
      return { frame: Uint8Array.from(frame), byteCount: at - from };
    }
    const byte = bytes[at];
    if (byte === undefined) return 'unfinished';
    if (isUnique && matchSync(framing, bytes, at) === 'whole') return 'brokenInto';
    places?.push(at);
    if (escaping !== undefined && byte === escaping.mark) {
      const escaped = bytes[at + 1];
      if (escaped === undefined) return 'unfinished';
      frame.push('xor' in escaping ? escaped ^ escaping.xor : (escaping.stands[escaped] ?? escaped));
      at += 2;
      plain = 0;
    } else {
      frame.push(byte);
      at += 1;
      plain += 1;
    }
  }
}

function frameLength(
  framing: ProfileFraming,
  frame: readonly number[],
  plain: number,
): number | 'unknown' | 'wrong' {
  const rule = framing.length;
  if ('fixed' in rule) return rule.fixed;
  if ('until' in rule) {
    const { until, most } = rule;
    const isEnd = plain >= until.length && until.every((byte, i) => frame.at(i - until.length) === byte);
    if (isEnd) return frame.length;
    return frame.length >= most ? 'wrong' : 'unknown';
  }
  const said = frame[rule.at];
  if (said === undefined) return 'unknown';
  if ('sizes' in rule) return rule.sizes[said] ?? 'wrong';
  const length = said + rule.plus;
  const least = Math.max(framing.sync.length, rule.at + 1, (framing.checksum?.fromEnd ?? 0) + 1);
  return length < least || length > rule.most ? 'wrong' : length;
}
