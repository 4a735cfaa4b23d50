// Profile decoding: framing that finds its way back, values independent of chunking, and any bytes whatever.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { checksumOf } from '../../../src/profiles/checksum.ts';
import {
  decodeProfile,
  initialProfileState,
  type ProfileState,
} from '../../../src/profiles/decode-profile.ts';
import { cutFrames } from '../../../src/profiles/frame-cutter.ts';
import {
  checksumKinds,
  numberTypes,
  type ProfileField,
  type SensorProfile,
} from '../../../src/profiles/sensor-profile.ts';
import type { Sample } from '../../../src/samples/sample.ts';

const field = (gives: ProfileField['gives'], at: number, rest: Partial<ProfileField> = {}): ProfileField => ({
  gives,
  at,
  type: 'u8',
  bits: null,
  scale: 1,
  offset: 0,
  invalid: [],
  count: 1,
  rateHz: null,
  when: null,
  ...rest,
});

const clip: SensorProfile = {
  name: 'invented',
  measures: ['oximeter'],
  match: { services: [], namePrefix: 'X' },
  link: { service: 'ff00', notify: 'ff01', start: [] },
  frame: {
    sync: Uint8Array.of(0xaa, 0x55),
    length: { at: 2, plus: 4, most: 40 },
    checksum: { kind: 'crc8', from: 2, fromEnd: 1 },
  },
  fields: [
    field('counter', 3, { bits: [0, 3] }),
    field('noContact', 3, { bits: [7, 7] }),
    field('poorSignal', 3, { bits: [6, 6] }),
    field('spo2Percent', 4, { invalid: [127] }),
    field('pulseRateBpm', 5, { type: 'u16le', invalid: [0xffff] }),
    field('pleth', 7, { count: 4, rateHz: 100 }),
  ],
};

/** AA 55, length less 4, flags and counter, SpO2, pulse u16le, four waveform bytes, CRC. */
const frame = (counter: number, spo2: number, pulse: number, flags = 0, wave = [1, 2, 3, 4]): number[] => {
  const body = [8, flags | (counter & 15), spo2, pulse & 0xff, pulse >> 8, ...wave];
  return [0xaa, 0x55, ...body, checksumOf('crc8', Uint8Array.from(body))];
};

/** Decodes chunks that arrive `everyMs` apart. */
function run(profile: SensorProfile, chunks: readonly (readonly number[] | Uint8Array)[], everyMs = 40) {
  let state: ProfileState = initialProfileState;
  const samples: Sample[] = [];
  const missing: string[] = [];
  const discards: string[] = [];
  for (const [index, chunk] of chunks.entries()) {
    const result = decodeProfile(
      profile,
      state,
      's',
      Uint8Array.from(chunk),
      monotonicMs(1_000 + index * everyMs),
    );
    state = result.state;
    samples.push(...result.samples);
    missing.push(...result.missing.map(({ channel }) => channel));
    discards.push(...result.discards);
  }
  return { state, samples, missing, discards };
}
const valuesOf = (samples: readonly Sample[], channel: string): number[] =>
  samples.flatMap((sample) => (sample.channel === channel ? [sample.value] : []));

test('a frame gives its fields, scaled and named', () => {
  const { samples, state } = run(clip, [frame(0, 97, 300)]);
  expect(valuesOf(samples, 'spo2Percent')).toEqual([97]);
  // 300 /min is no pulse: kept, marked bad.
  expect(samples.find(({ channel }) => channel === 'pulseRateBpm')).toMatchObject({
    value: 300,
    quality: 'bad',
    reasons: ['outOfRange'],
  });
  expect(valuesOf(samples, 'pleth')).toEqual([1, 2, 3, 4]);
  expect(state.counts).toEqual({ frames: 1, damaged: 0, skippedBytes: 0, missed: 0, repeated: 0 });
});

test('values that mean "none" are missing, not numbers', () => {
  const { samples, missing } = run(clip, [frame(0, 127, 0xffff), frame(1, 0, 0)]);
  expect(valuesOf(samples, 'spo2Percent')).toEqual([]);
  expect(missing).toEqual(['spo2Percent', 'pulseRateBpm', 'spo2Percent', 'pulseRateBpm']);
});

test('conditions of the sensor doubt or spoil everything in their frame', () => {
  const { samples } = run(clip, [frame(0, 96, 60, 0x40), frame(1, 96, 60, 0x80), frame(2, 96, 60)]);
  expect(samples.filter(({ channel }) => channel === 'spo2Percent').map(({ quality }) => quality)).toEqual([
    'suspect',
    'bad',
    'good',
  ]);
});

test('a low saturation is doubted and kept, an impossible one is bad', () => {
  const { samples } = run(clip, [frame(0, 35, 60), frame(1, 101, 60)]);
  expect(samples.filter(({ channel }) => channel === 'spo2Percent')).toMatchObject([
    { value: 35, quality: 'suspect' },
    { value: 101, quality: 'bad' },
  ]);
});

test('the counter finds missing and repeated frames', () => {
  const { state, samples } = run(clip, [
    frame(14, 90, 60),
    frame(15, 91, 60),
    frame(15, 91, 60),
    frame(3, 92, 60),
  ]);
  expect(state.counts).toMatchObject({ frames: 3, repeated: 1, missed: 3 });
  expect(valuesOf(samples, 'spo2Percent')).toEqual([90, 91, 92]);
});

test('noise, a damaged frame and an impossible length are skipped and the next frame is read', () => {
  const damaged = frame(1, 95, 60);
  damaged[4]! ^= 1;
  const { state, samples, discards } = run(clip, [
    [1, 2, 0xaa, 3, ...frame(0, 94, 60)],
    damaged,
    [0xaa, 0x55, 250, 1, 2],
    frame(2, 96, 60),
  ]);
  expect(valuesOf(samples, 'spo2Percent')).toEqual([94, 96]);
  expect(state.counts).toMatchObject({ frames: 2, damaged: 2, missed: 1, skippedBytes: 4 + 12 + 5 });
  expect(discards.length).toBeGreaterThan(0);
});

test('without framing each notification is a frame, and a short one is told', () => {
  const bare = { ...clip, frame: null, fields: [field('spo2Percent', 1)] };
  const { samples, discards } = run(bare, [[0, 97], [0], [0, 95]]);
  expect(valuesOf(samples, 'spo2Percent')).toEqual([97, 95]);
  expect(discards).toEqual(['shortFrame']);
});

test('fields of other frame types are left alone', () => {
  const typed = {
    ...clip,
    frame: null,
    fields: [
      field('spo2Percent', 1, { when: { at: 0, is: 1 } }),
      field('pulseRateBpm', 5, { when: { at: 0, is: 2 } }),
    ],
  };
  const { samples, discards } = run(typed, [
    [1, 97],
    [2, 0, 0, 0, 0, 61],
    [3, 1],
  ]);
  expect(samples.map(({ channel, value }) => `${channel} ${value}`)).toEqual([
    'spo2Percent 97',
    'pulseRateBpm 61',
  ]);
  expect(discards).toEqual([]);
});

test.each([
  ['u8', [0xfe], 254],
  ['i8', [0xfe], -2],
  ['u16le', [0x34, 0x12], 0x1234],
  ['u16be', [0x12, 0x34], 0x1234],
  ['i16le', [0xfe, 0xff], -2],
  ['i16be', [0xff, 0xfe], -2],
  ['u32le', [0x78, 0x56, 0x34, 0x92], 0x92345678],
  ['u32be', [0x92, 0x34, 0x56, 0x78], 0x92345678],
] as const)('%s is read as it should be', (type, bytes, value) => {
  const bare = { ...clip, frame: null, fields: [field('pleth', 0, { type, rateHz: 50 })] };
  expect(valuesOf(run(bare, [bytes]).samples, 'pleth')).toEqual([value]);
});

test('bits are cut from any width', () => {
  const bare = {
    ...clip,
    frame: null,
    fields: [field('pleth', 0, { type: 'u32be', bits: [28, 31], rateHz: 50 })],
  };
  expect(valuesOf(run(bare, [[0x92, 0, 0, 0]]).samples, 'pleth')).toEqual([9]);
});

test('checksums agree with the catalogue', () => {
  const digits = new TextEncoder().encode('123456789');
  // CRC-8 with polynomial 0x07 and initial value 0 has the check value 0xF4 (catalogue of parametrised CRCs, from memory).
  expect(checksumOf('crc8', digits)).toBe(0xf4);
  expect(checksumOf('sum8', digits)).toBe(477 & 0xff);
  expect(checksumOf('sum7', digits)).toBe(477 & 0x7f);
  expect((checksumOf('negatedSum8', digits) + 477) & 0xff).toBe(0);
  expect(checksumOf('xor8', digits)).toBe(0x31);
});

describe('the waveform', () => {
  test('runs at its rate without drift, in order, never ahead of its arrival, whatever the jitter', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 0, max: 60 }), { minLength: 200, maxLength: 200 }), (jitter) => {
        let state = initialProfileState;
        let lastMs = -1;
        let last = 0;
        let arrivedMs = 0;
        for (const [index, ms] of jitter.entries()) {
          arrivedMs = Math.max(arrivedMs, 1_000 + index * 40 + ms);
          const arrivedAtMs = monotonicMs(arrivedMs);
          const result = decodeProfile(clip, state, 's', Uint8Array.from(frame(index, 97, 60)), arrivedAtMs);
          state = result.state;
          for (const { channel, atMs } of result.samples) {
            if (channel !== 'pleth') continue;
            expect(atMs).toBeGreaterThanOrEqual(lastMs);
            expect(atMs).toBeLessThanOrEqual(arrivedAtMs);
            lastMs = atMs;
            last = 1_000 + index * 40;
          }
        }
        expect(Math.abs(lastMs - last)).toBeLessThan(80);
      }),
      { numRuns: 30 },
    );
  });

  test('a gap is a gap: after silence the trace starts at the arrival', () => {
    let state = initialProfileState;
    for (const [index, at] of [1_000, 1_040, 5_000].entries()) {
      const result = decodeProfile(clip, state, 's', Uint8Array.from(frame(index, 97, 60)), monotonicMs(at));
      state = result.state;
      if (at !== 5_000) continue;
      expect(result.samples.filter(({ channel }) => channel === 'pleth').map(({ atMs }) => atMs)).toEqual([
        4_970, 4_980, 4_990, 5_000,
      ]);
    }
  });
});

/** Any stream: whole frames, cut frames, noise. */
const stream = fc
  .array(
    fc.oneof(
      {
        weight: 3,
        arbitrary: fc.tuple(fc.nat(15), fc.nat(127), fc.nat(250)).map(([c, s, p]) => frame(c, s, p)),
      },
      { weight: 1, arbitrary: fc.array(fc.nat(255), { maxLength: 20 }) },
      { weight: 1, arbitrary: fc.constant([0xaa, 0x55]) },
    ),
    { maxLength: 30 },
  )
  .map((parts) => parts.flat());

test('frames do not depend on how the stream is cut', () => {
  fc.assert(
    fc.property(stream, fc.array(fc.integer({ min: 1, max: 25 }), { minLength: 1 }), (bytes, sizes) => {
      const whole = cutFrames(clip.frame!, new Uint8Array(0), Uint8Array.from(bytes));
      let pending: Uint8Array = new Uint8Array(0);
      const frames: Uint8Array[] = [];
      let skipped = 0;
      let damaged = 0;
      for (let at = 0, turn = 0; at < bytes.length; turn += 1) {
        const size = sizes[turn % sizes.length]!;
        const cut = cutFrames(clip.frame!, pending, Uint8Array.from(bytes.slice(at, at + size)));
        pending = cut.pending;
        frames.push(...cut.frames);
        skipped += cut.skippedByteCount;
        damaged += cut.damagedCount;
        at += size;
      }
      expect(frames).toEqual(whole.frames);
      expect(pending).toEqual(whole.pending);
      expect([skipped, damaged]).toEqual([whole.skippedByteCount, whole.damagedCount]);
    }),
  );
});

test('any profile takes any bytes: nothing throws, every byte is a frame, pending or counted as skipped', () => {
  const anyField: fc.Arbitrary<ProfileField> = fc.record({
    gives: fc.constantFrom(
      'spo2Percent',
      'pulseRateBpm',
      'pleth',
      'noContact',
      'counter',
      'perfusionIndexPercent',
    ),
    at: fc.nat(40),
    type: fc.constantFrom(...numberTypes),
    bits: fc.option(
      fc.tuple(fc.nat(7), fc.nat(7)).map(([a, b]): [number, number] => [Math.min(a, b), Math.max(a, b)]),
    ),
    scale: fc.constantFrom(1, 0.1, -2),
    offset: fc.constantFrom(0, -40),
    invalid: fc.array(fc.nat(255), { maxLength: 3 }),
    count: fc.integer({ min: 1, max: 8 }),
    rateHz: fc.constantFrom(50, 100),
    when: fc.option(fc.record({ at: fc.nat(40), is: fc.nat(255) })),
  });
  const anyProfile: fc.Arbitrary<SensorProfile> = fc.record({
    name: fc.constant('any'),
    measures: fc.constant(['oximeter'] as const),
    match: fc.constant(clip.match),
    link: fc.constant(clip.link),
    frame: fc.option(
      fc.record({
        sync: fc.uint8Array({ minLength: 1, maxLength: 3 }).map((bytes) => bytes.map((byte) => byte & 3)),
        length: fc.oneof(
          fc.record({ fixed: fc.integer({ min: 4, max: 40 }) }),
          fc.record({
            at: fc.nat(8),
            plus: fc.integer({ min: -16, max: 64 }),
            most: fc.integer({ min: 1, max: 256 }),
          }),
        ),
        checksum: fc.option(
          fc.record({
            kind: fc.constantFrom(...checksumKinds),
            from: fc.nat(6),
            fromEnd: fc.integer({ min: 1, max: 16 }),
          }),
        ),
      }),
    ),
    fields: fc.array(anyField, { minLength: 1, maxLength: 8 }),
  });
  fc.assert(
    fc.property(
      anyProfile,
      fc.array(fc.array(fc.oneof(fc.nat(3), fc.nat(255)), { maxLength: 40 }), { maxLength: 12 }),
      (profile, chunks) => {
        const { state, samples } = run(profile, chunks);
        for (const sample of samples) {
          expect(Number.isFinite(sample.value)).toBe(true);
          expect(sample.atMs).toBeGreaterThanOrEqual(0);
        }
        expect(state.pending.length).toBeLessThanOrEqual(512);
      },
    ),
  );
});
