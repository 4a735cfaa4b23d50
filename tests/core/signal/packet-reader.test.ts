// What is remembered from packet to packet, and what a new link makes of it.

import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { createPacketReader } from '../../../src/signal/packet-reader.ts';
import { fieldOf, profileOf } from '../profiles/profile-of.ts';

/** Frames of five bytes without a checksum: sync, saturation, pulse, status, end. */
const uncheckedProfile = profileOf({ sync: Uint8Array.of(0xaa), length: { fixed: 5 }, checksum: null }, [
  fieldOf('spo2Percent', 1),
  fieldOf('pulseRateBpm', 2),
]);
const packet = (atMs: number, ...bytes: number[]) => ({
  atMs: monotonicMs(atMs),
  sensorId: 'clip',
  characteristic: uncheckedProfile.link.notify,
  bytes: Uint8Array.from(bytes),
});

test('half a frame does not outlive its link: no saturation is put together from two links', () => {
  const reader = createPacketReader([uncheckedProfile]);
  const first = reader.read(packet(0, 0xaa, 97, 60, 0, 0, 0xaa));
  expect(first.samples.map(({ value }) => value)).toEqual([97, 60]);
  reader.newLink('clip');
  // Were the sync byte remembered, 80 would be read as a saturation.
  const second = reader.read(packet(400, 80, 97, 60, 0, 0, 0xaa, 96, 61, 0, 0));
  expect(second.samples.map(({ value }) => value)).toEqual([96, 61]);
});

test('half a frame that is never finished is forgotten after a second and a half', () => {
  const reader = createPacketReader([uncheckedProfile]);
  reader.read(packet(0, 0xaa));
  const late = reader.read(packet(2_000, 80, 97, 60, 0, 0xaa, 96, 61, 0, 0));
  expect(late.samples.map(({ value }) => value)).toEqual([96, 61]);
  const soon = createPacketReader([uncheckedProfile]);
  soon.read(packet(0, 0xaa, 95));
  expect(soon.read(packet(200, 62, 0, 0)).samples.map(({ value }) => value)).toEqual([95, 62]);
});

test('beats are placed by the timeline, another sensor apart', () => {
  const reader = createPacketReader();
  const strap = (atMs: number, sensorId: string, ticks: number) => ({
    atMs: monotonicMs(atMs),
    sensorId,
    characteristic: '2a37',
    bytes: Uint8Array.of(0x10, 60, ticks & 0xff, ticks >> 8),
  });
  const times: number[] = [];
  for (let i = 1; i <= 30; i += 1) {
    // Each a second after the one before, arriving 0 to 40 ms late.
    const { samples } = reader.read(strap(i * 1_000 + (i % 5) * 10, 'strap', 1_024));
    times.push(...samples.filter(({ channel }) => channel === 'rrIntervalMs').map(({ atMs }) => atMs));
    reader.read(strap(i * 1_000 + 500, 'other', 900));
  }
  const spacings = times.slice(11).map((at, i) => at - times[i + 10]!);
  for (const spacing of spacings) expect(Math.abs(spacing - 1_000)).toBeLessThan(12);
});
