// How recordings name the packets of characteristics that several makers share, and by which profile those are read.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { characteristicOf, markedStream, profileOfStream } from '../../../src/profiles/stream-name.ts';
import { createPacketReader } from '../../../src/signal/packet-reader.ts';
import { fieldOf, profileOf } from './profile-of.ts';

const called = (name: string, at: number): SensorProfile => ({
  ...profileOf(null, [fieldOf('spo2Percent', at)]),
  name,
});
const profiles = [called('Of the quay', 0), called('Of the basin', 1)];
const { notify } = profiles[0]!.link;

test('a marked stream is read by its own profile, one without a mark by the first, a strange one by none', () => {
  const nameOf = (stream: string) => profileOfStream(profiles, stream)?.name;
  expect(profiles.map(({ name }) => nameOf(markedStream(notify, name)))).toEqual([
    'Of the quay',
    'Of the basin',
  ]);
  expect(nameOf(notify)).toBe('Of the quay');
  for (const strange of [markedStream(notify, 'Of the weir'), markedStream(notify, null), '2a37', ''])
    expect(nameOf(strange)).toBeUndefined();
});

test('any name keeps the characteristic, within what a recording takes', () => {
  fc.assert(
    fc.property(fc.string({ unit: 'binary', maxLength: 80 }), (name) => {
      const stream = markedStream('7a5e0002c0de4d0a9b1f2f6e54696465', name);
      expect(characteristicOf(stream)).toBe('7a5e0002c0de4d0a9b1f2f6e54696465');
      // src/formats/session-file/session-content.ts
      expect(stream.length).toBeLessThanOrEqual(80);
    }),
  );
});

test('two sensors that share a characteristic are read side by side, frames cut apart', () => {
  const reader = createPacketReader(profiles);
  const read = (sensorId: string, name: string) =>
    reader
      .read({
        sensorId,
        characteristic: markedStream(notify, name),
        bytes: Uint8Array.of(97, 91),
        atMs: monotonicMs(1_000),
      })
      .samples.map(({ sensorId: of, value }) => [of, value]);
  expect(read('one', 'Of the quay')).toEqual([['one', 97]]);
  expect(read('other', 'Of the basin')).toEqual([['other', 91]]);
});
