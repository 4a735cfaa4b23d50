// What a profile makes of captured bytes, for a person to see beside them: which byte belongs to what, which readings came out of
// which packet, and where and why bytes were refused.

import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../samples/sample.ts';
import { createPacketReader } from '../signal/packet-reader.ts';
import type { CapturedPacket } from './capture-file.ts';
import { fieldsOf } from './decode-profile.ts';
import { countIn, endOf, strideOf } from './field-bits.ts';
import { cutFrames, type FrameFault } from './frame-cutter.ts';
import {
  framingOf,
  numberSizes,
  type ProfileField,
  type ProfileFraming,
  readsCharacteristic,
  type SensorProfile,
} from './sensor-profile.ts';

/** What a byte is. */
export type ByteRole =
  | 'sync'
  | 'length'
  | 'checksum'
  | 'field'
  | 'unused'
  | 'outside'
  | 'refused'
  | 'waiting'
  | 'notRead';

export interface ExplainedByte {
  readonly value: number;
  readonly role: ByteRole;
  /** Numbers of the fields that it belongs to. */
  readonly fields: readonly number[];
  /** Its place in its frame. */
  readonly place: number | null;
}

export interface ExplainedPacket {
  readonly atMs: number;
  readonly characteristic: string;
  readonly bytes: readonly ExplainedByte[];
  readonly samples: readonly Sample[];
  /** Channels that the packet said it has no reading of. */
  readonly missing: readonly string[];
}

export interface RefusedFrame {
  /** Number of the packet and of the byte in it, from 0. */
  readonly packet: number;
  readonly byte: number;
  readonly fault: FrameFault | 'short';
}

export interface Explanation {
  readonly packets: readonly ExplainedPacket[];
  readonly refused: readonly RefusedFrame[];
  readonly frameCount: number;
  readonly batteryPercent: number | undefined;
}

interface Place {
  readonly packet: number;
  readonly byte: number;
}

/** `profile` null: the bytes alone. Never throws, whatever the bytes. */
export function explainCapture(
  profile: SensorProfile | null,
  packets: readonly CapturedPacket[],
): Explanation {
  const bytes = packets.map((packet) =>
    [...packet.bytes].map(
      (value): ExplainedByte => ({
        value,
        role: profile === null ? 'unused' : 'notRead',
        fields: [],
        place: null,
      }),
    ),
  );
  const refused: RefusedFrame[] = [];
  let frameCount = 0;
  const read = profile === null ? [] : [...new Set(packets.map((packet) => packet.characteristic))];
  for (const characteristic of read) {
    if (!readsCharacteristic(profile!, characteristic)) continue;
    frameCount += explainStream(profile!, characteristic, packets, bytes, refused);
  }
  const reader = createPacketReader(profile === null ? [] : [profile]);
  let batteryPercent: number | undefined;
  const explained = packets.map(({ atMs, characteristic, bytes: raw }, index): ExplainedPacket => {
    const atStreamMs = monotonicMs(startMs + atMs);
    const answer =
      profile === null || !readsCharacteristic(profile, characteristic)
        ? { samples: [], missing: [], batteryPercent: undefined }
        : reader.read({ atMs: atStreamMs, sensorId: 'capture', characteristic, bytes: raw });
    batteryPercent = answer.batteryPercent ?? batteryPercent;
    return {
      atMs,
      characteristic,
      bytes: bytes[index]!,
      samples: answer.samples.map((sample) => ({
        ...sample,
        atMs: monotonicMs(Math.max(0, sample.atMs - startMs)),
      })),
      missing: answer.missing.map(({ channel }) => channel),
    };
  });
  refused.sort((a, b) => a.packet - b.packet || a.byte - b.byte);
  return { packets: explained, refused, frameCount, batteryPercent };
}

/** A wave's first samples lie before their packet, and nothing lies before 0. */
const startMs = 10_000;

/** Marks the bytes of one characteristic; answers how many whole frames there were. */
function explainStream(
  profile: SensorProfile,
  characteristic: string,
  packets: readonly CapturedPacket[],
  marked: ExplainedByte[][],
  refused: RefusedFrame[],
): number {
  const framing = framingOf(profile, characteristic);
  const places: Place[] = [];
  const stream: number[] = [];
  let frames = 0;
  const mark = ({ packet, byte }: Place, change: Partial<ExplainedByte>): void => {
    marked[packet]![byte] = { ...marked[packet]![byte]!, ...change };
  };
  const markFrame = (frame: Uint8Array, of: readonly Place[]): void => {
    frames += 1;
    const fields = fieldsOf(profile, characteristic, frame);
    if (fields.some((field) => endOf(field) > frame.length)) refused.push({ ...of[0]!, fault: 'short' });
    for (const [place, at] of of.entries())
      mark(at, { place, ...roleOf(profile.fields, fields, framing, frame.length, place) });
  };
  for (const [packet, { characteristic: from, bytes }] of packets.entries()) {
    if (from !== characteristic) continue;
    const own = [...bytes].map((_, byte): Place => ({ packet, byte }));
    if (framing === null) markFrame(bytes, own);
    places.push(...own);
    stream.push(...bytes);
  }
  if (framing === null) return frames;
  for (const place of places) mark(place, { role: 'waiting' });
  let before = 0;
  const passed = (upTo: number): void => {
    // Between the bytes of a frame stand the escapes.
    for (; before < upTo; before += 1)
      if (markedRole(marked, places[before]!) === 'waiting') mark(places[before]!, { role: 'sync' });
  };
  cutFrames(framing, new Uint8Array(0), Uint8Array.from(stream), {
    frame: (frame, at) => {
      markFrame(
        frame,
        at.map((each) => places[each]!),
      );
      passed(at.at(-1)! + 1);
    },
    skipped: (at, fault) => {
      mark(places[at]!, { role: fault === null ? 'outside' : 'refused' });
      if (fault !== null) refused.push({ ...places[at]!, fault });
    },
  });
  return frames;
}

const markedRole = (marked: readonly (readonly ExplainedByte[])[], { packet, byte }: Place): ByteRole =>
  marked[packet]![byte]!.role;

function roleOf(
  all: readonly ProfileField[],
  fields: readonly ProfileField[],
  framing: ProfileFraming | null,
  frameLength: number,
  place: number,
): Pick<ExplainedByte, 'role' | 'fields'> {
  const checksum = framing?.checksum ?? null;
  const bodyEnd = frameLength - (checksum?.fromEnd ?? 0);
  const own = fields.filter((field) => isIn(field, bodyEnd, place)).map((field) => all.indexOf(field));
  if (own.length > 0) return { role: 'field', fields: own };
  const isPlain = framing !== null && place < framing.sync.length;
  if (isPlain) return { role: 'sync', fields: [] };
  if (checksum !== null && place >= bodyEnd && place < bodyEnd + (checksum.kind === 'crc16' ? 2 : 1))
    return { role: 'checksum', fields: [] };
  if (framing !== null && 'at' in framing.length && framing.length.at === place)
    return { role: 'length', fields: [] };
  return { role: 'unused', fields: [] };
}

function isIn(field: ProfileField, bodyEnd: number, place: number): boolean {
  if (field.parts !== undefined) return field.parts.some(({ at }) => at === place);
  const into = place - field.at;
  if (into < 0) return false;
  const stride = strideOf(field);
  return Math.floor(into / stride) < countIn(field, bodyEnd) && into % stride < numberSizes[field.type];
}
