// What is shown beside captured bytes is what the decoder makes of them: the same frames, the same readings, each byte named once,
// and refusals at the byte where the frame begins.

import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { type CapturedPacket, parseCapture } from '../../../src/profiles/capture-file.ts';
import { checksumOf } from '../../../src/profiles/checksum.ts';
import { decodeProfile, initialProfileState } from '../../../src/profiles/decode-profile.ts';
import { explainCapture } from '../../../src/profiles/explain-capture.ts';
import { parseProfile } from '../../../src/profiles/profile-file.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { fieldOf, profileOf } from './profile-of.ts';

const fixture = (name: string): string =>
  readFileSync(new URL(`../../../fixtures/profiles/${name}`, import.meta.url), 'utf8');

function lantern(): { readonly profile: SensorProfile; readonly packets: readonly CapturedPacket[] } {
  const profile = parseProfile(fixture('lantern-clip.json'));
  const packets = parseCapture(fixture('lantern-clip.capture.txt'));
  if (!profile.ok || !packets.ok) throw new Error('a fixture cannot be read');
  return { profile: profile.value, packets: packets.value };
}

const clip = profileOf(
  {
    sync: Uint8Array.of(0xaa, 0x55),
    length: { at: 2, plus: 4, most: 40 },
    checksum: { kind: 'crc8', from: 2, fromEnd: 1 },
  },
  [fieldOf('spo2Percent', 3, { invalid: [127] }), fieldOf('pulseRateBpm', 4, { type: 'u16le' })],
);
const frame = (spo2: number, pulse: number): number[] => {
  const body = [4, spo2, pulse & 0xff, pulse >> 8];
  return [0xaa, 0x55, ...body, 0, checksumOf('crc8', Uint8Array.from([...body, 0]))];
};
const packetsOf = (...all: readonly (readonly number[])[]): CapturedPacket[] =>
  all.map((bytes, index) => ({ atMs: 100 * index, characteristic: 'ff01', bytes: Uint8Array.from(bytes) }));
const rolesOf = (profile: SensorProfile | null, ...all: readonly (readonly number[])[]): string[] =>
  explainCapture(profile, packetsOf(...all)).packets.flatMap(({ bytes }) => bytes.map(({ role }) => role));

describe('an oximeter of the fixtures', () => {
  test('readings are those of the decoder, packet by packet', () => {
    const { profile, packets } = lantern();
    const shown = explainCapture(profile, packets).packets;
    let state = initialProfileState;
    let compared = 0;
    for (const [index, { atMs, characteristic, bytes }] of packets.entries()) {
      if (characteristic !== profile.link.notify) continue;
      const decoded = decodeProfile(
        profile,
        state,
        'capture',
        bytes,
        monotonicMs(10_000 + atMs),
        characteristic,
      );
      state = decoded.state;
      const slow = ({ channel }: { readonly channel: string }): boolean => channel !== 'pleth';
      expect(shown[index]!.samples.filter(slow).map(({ channel, value }) => [channel, value])).toEqual(
        decoded.samples.filter(slow).map(({ channel, value }) => [channel, value]),
      );
      compared += decoded.samples.length;
    }
    expect(compared).toBeGreaterThan(100);
  });

  test('one byte changed in a frame: that frame is refused at its first byte, and no other', () => {
    const { profile, packets } = lantern();
    const before = explainCapture(profile, packets);
    const row = before.packets.findIndex(
      ({ bytes }, index) => index > 4 && bytes[0]?.place === 0 && bytes[0].role === 'sync',
    );
    const damaged = packets.map((packet, index) =>
      index === row
        ? { ...packet, bytes: packet.bytes.map((byte, at) => (at === 4 ? byte ^ 0x10 : byte)) }
        : packet,
    );
    const after = explainCapture(profile, damaged);
    expect(after.frameCount).toBe(before.frameCount - 1);
    const added = after.refused.filter(
      ({ packet, byte }) => !before.refused.some((known) => known.packet === packet && known.byte === byte),
    );
    expect(added).toEqual([{ packet: row, byte: 0, fault: 'checksum' }]);
  });

  test('the battery of another characteristic is told; what the profile does not read is named so', () => {
    const { profile, packets } = lantern();
    const { packets: shown } = explainCapture(profile, packets);
    const other = shown.find(({ characteristic }) => characteristic === '2a19');
    expect(other?.bytes.map(({ role }) => role)).toEqual(['notRead']);
    const own = shown.filter(({ characteristic }) => characteristic === profile.link.notify);
    expect(own.flatMap(({ bytes }) => bytes).filter(({ role }) => role === 'notRead')).toEqual([]);
  });
});

describe('roles of bytes', () => {
  test('a frame between noise, and one that has not ended', () => {
    expect(rolesOf(clip, [0x13], [...frame(97, 60)], frame(96, 61).slice(0, 3))).toEqual([
      'outside',
      ...['sync', 'sync', 'length', 'field', 'field', 'field', 'unused', 'checksum'],
      ...['waiting', 'waiting', 'waiting'],
    ]);
  });

  test('a field of parts, of bits and a count: each byte names its fields', () => {
    const profile = profileOf(null, [
      fieldOf('spo2Percent', 0, {
        parts: [
          { at: 0, bits: [0, 3] },
          { at: 3, bits: [0, 3] },
        ],
      }),
      fieldOf('pleth', 1, { count: 2, rateHz: 50 }),
    ]);
    const [packet] = explainCapture(profile, packetsOf([6, 10, 11, 1, 9])).packets;
    expect(packet!.bytes.map(({ fields }) => fields)).toEqual([[0], [1], [1], [0], []]);
    expect(packet!.bytes.map(({ role }) => role)).toEqual(['field', 'field', 'field', 'field', 'unused']);
  });

  test('a packet too short for its fields is told', () => {
    const profile = profileOf(null, [fieldOf('spo2Percent', 3)]);
    expect(explainCapture(profile, packetsOf([1, 2], [0, 0, 0, 97])).refused).toEqual([
      { packet: 0, byte: 0, fault: 'short' },
    ]);
  });

  test('without a profile the bytes stand alone', () => {
    expect(rolesOf(null, [1, 2])).toEqual(['unused', 'unused']);
  });
});

const someBytes = fc.array(
  fc.oneof(
    fc.integer({ min: 0, max: 255 }).map((byte) => [byte]),
    fc
      .tuple(fc.integer({ min: 60, max: 100 }), fc.integer({ min: 30, max: 300 }))
      .map(([spo2, pulse]) => frame(spo2, pulse)),
  ),
  { maxLength: 40 },
);

test('however a stream is cut into packets, each byte is the same and as many frames are found', () => {
  fc.assert(
    fc.property(someBytes, fc.array(fc.integer({ min: 1, max: 9 }), { minLength: 1 }), (parts, cuts) => {
      const stream = parts.flat();
      const pieces: number[][] = [];
      for (let at = 0, cut = 0; at < stream.length; cut += 1) {
        const size = cuts[cut % cuts.length]!;
        pieces.push(stream.slice(at, at + size));
        at += size;
      }
      const whole = explainCapture(clip, packetsOf(stream));
      const cut = explainCapture(clip, packetsOf(...pieces));
      const bytesOf = ({ packets }: typeof whole) => packets.flatMap(({ bytes }) => bytes);
      expect(bytesOf(cut)).toEqual(bytesOf(whole));
      expect(cut.frameCount).toBe(whole.frameCount);
      expect(cut.refused.map(({ fault }) => fault)).toEqual(whole.refused.map(({ fault }) => fault));
      for (const { packet, byte } of cut.refused) expect(pieces[packet]![byte]).toBeDefined();
    }),
    { numRuns: 200 },
  );
});
