// Bytes made from a profile by a program in another language come back as what went in, however the radio cuts them.

import { spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { decodeProfile, initialProfileState } from '../../../src/profiles/decode-profile.ts';
import { parseProfile } from '../../../src/profiles/profile-file.ts';

type Json = Record<string, unknown>;
interface Case {
  readonly profile: Json & { readonly fields: readonly Json[] };
  /** Raw numbers of each field, a frame; null for a field that the frame does not have. */
  readonly frames: readonly (readonly (readonly number[] | null)[])[];
  readonly cuts: readonly number[];
}

const encoder = fileURLToPath(new URL('./encode_by_profile.py', import.meta.url));
function encoded(cases: readonly Case[]): readonly Uint8Array[] {
  const input = cases.map(({ profile, frames }) => JSON.stringify({ profile, frames })).join('\n');
  const done = spawnSync('python3', [encoder], { input, encoding: 'utf8', maxBuffer: 1 << 28 });
  expect(done.stderr).toBe('');
  return done.stdout
    .trimEnd()
    .split('\n')
    .map((line) => Uint8Array.from(line.match(/../g) ?? [], (pair) => Number.parseInt(pair, 16)));
}

const profileWith = (frame: Json | null, fields: readonly Json[]): Case['profile'] => ({
  profile: 1,
  name: 'any',
  measures: ['breathing'],
  match: { namePrefix: 'Any' },
  link: { service: 'ff00', notify: 'ff01' },
  ...(frame === null ? {} : { frame }),
  fields,
});

const ranges: Readonly<Record<string, readonly [number, number]>> = {
  u8: [0, 255],
  i8: [-128, 127],
  u16le: [0, 65_535],
  u16be: [0, 65_535],
  i16le: [-32_768, 32_767],
  i16be: [-32_768, 32_767],
  u24le: [0, 2 ** 24 - 1],
  u24be: [0, 2 ** 24 - 1],
  i24le: [-(2 ** 23), 2 ** 23 - 1],
  i24be: [-(2 ** 23), 2 ** 23 - 1],
  u32le: [0, 2 ** 32 - 1],
  u32be: [0, 2 ** 32 - 1],
  i32le: [-(2 ** 31), 2 ** 31 - 1],
  i32be: [-(2 ** 31), 2 ** 31 - 1],
};
const bytesOf = (type: string): number => Number(/\d+/.exec(type)![0]) / 8;

const checksum = fc.oneof(
  fc.constant(null),
  fc.constantFrom('sum8', 'sum7', 'xor8', 'negatedSum8').map((kind) => ({ kind, from: 1 })),
  fc.record({
    kind: fc.constant('crc8'),
    from: fc.constant(1),
    polynomial: fc.constantFrom(0x07, 0x31, 0x9b, 0xd5),
    initial: fc.constantFrom(0, 0xff),
    final: fc.constantFrom(0, 0x55),
    reflected: fc.boolean(),
  }),
  fc.record({
    kind: fc.constant('crc16'),
    from: fc.constant(1),
    polynomial: fc.constantFrom(0x1021, 0x8005, 0x3d65),
    initial: fc.constantFrom(0, 0xffff),
    final: fc.constantFrom(0, 0xffff),
    reflected: fc.boolean(),
    lowByteFirst: fc.boolean(),
  }),
);

/** Three numbers of any type one after another, then a wave to the frame's end or of so many, in any framing. */
const anyCase: fc.Arbitrary<Case> = fc
  .record({
    types: fc.array(fc.constantFrom(...Object.keys(ranges)), { minLength: 2, maxLength: 4 }),
    waveType: fc.constantFrom(...Object.keys(ranges)),
    waveCount: fc.integer({ min: 1, max: 6 }),
    toTheEnd: fc.boolean(),
    way: fc.constantFrom('fixed', 'told', 'until', 'until2'),
    escape: fc.constantFrom('xor', 'stands', null),
    checksum,
    frameCount: fc.integer({ min: 1, max: 5 }),
    seed: fc.integer({ min: 1, max: 2 ** 30 }),
    cuts: fc.array(fc.integer({ min: 1, max: 20 }), { minLength: 1, maxLength: 10 }),
  })
  .map((wish) => {
    let seed = wish.seed;
    const chance = (): number => {
      seed = (seed * 48_271) % 2_147_483_647;
      return seed / 2_147_483_647;
    };
    const whole = ([low, high]: readonly [number, number]): number =>
      Math.min(high, low + Math.floor(chance() * (high - low + 1)));
    let at = 2;
    const fields: Json[] = wish.types.map((type) => {
      const field = { gives: 'respirationRaw', at, type };
      at += bytesOf(type);
      return field;
    });
    const isToTheEnd = wish.toTheEnd && wish.way !== 'until' && wish.way !== 'until2';
    fields.push({
      gives: 'pleth',
      at,
      type: wish.waveType,
      rateHz: 50,
      count: isToTheEnd ? 'rest' : wish.waveCount,
    });
    at += bytesOf(wish.waveType) * wish.waveCount;
    const width = wish.checksum === null ? 0 : wish.checksum.kind === 'crc16' ? 2 : 1;
    // Frames up to an end mark need escapes, for any number may look like the mark.
    const isMarked = wish.way === 'until' || wish.way === 'until2';
    const escaping = isMarked ? (wish.escape ?? 'xor') : wish.escape;
    const end = wish.way === 'until2' ? 'c1 c2' : 'c1';
    const length =
      wish.way === 'fixed'
        ? { fixed: at + width }
        : wish.way === 'told'
          ? { at: 1, plus: 3, most: 200 }
          : { until: end, most: 250 };
    const stands = { '0xd0': 0xc0, '0xd1': 0xc1, '0xd2': 0xc2, '0xdd': 0xdb };
    const frame = {
      sync: 'c0',
      length,
      ...(escaping === 'xor' && { escape: { mark: 0xdb, xor: 0x20 } }),
      ...(escaping === 'stands' && { escape: { mark: 0xdb, stands } }),
      ...(wish.checksum !== null && { checksum: wish.checksum }),
    };
    // With an end mark the checksum stands before the mark.
    const markBytes = isMarked ? end.split(' ').length : 0;
    if (isMarked && wish.checksum !== null)
      Object.assign(frame, { checksum: { ...wish.checksum, fromEnd: markBytes + width } });
    const frames = Array.from({ length: wish.frameCount }, () => [
      ...wish.types.map((type) => [whole(ranges[type]!)]),
      Array.from({ length: wish.waveCount }, () => whole(ranges[wish.waveType]!)),
    ]);
    return { profile: profileWith(frame, fields), frames, cuts: wish.cuts };
  });

/** What comes out, field by field in the frames' order. */
function decoded(
  { profile, cuts }: Case,
  stream: Uint8Array,
): { numbers: number[]; wave: number[]; lost: number } {
  const parsed = parseProfile(JSON.stringify(profile));
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.reason));
  let state = initialProfileState;
  const numbers: number[] = [];
  const wave: number[] = [];
  for (let at = 0, turn = 0; at < stream.length; turn += 1) {
    const size = cuts[turn % cuts.length]!;
    const result = decodeProfile(
      parsed.value,
      state,
      's',
      stream.subarray(at, at + size),
      // Far enough from zero that no sample of a wave lies before it.
      monotonicMs(100_000 + turn * 100),
    );
    state = result.state;
    for (const { channel, value } of result.samples) (channel === 'pleth' ? wave : numbers).push(value);
    at += size;
  }
  return { numbers, wave, lost: state.counts.damaged + state.counts.skippedBytes + state.pending.length };
}

describe('frames of any kind, made in Python', () => {
  test('300 profiles: every number comes back, in order, and no byte is left over', () => {
    const cases = fc.sample(anyCase, { numRuns: 300, seed: 20 });
    const streams = encoded(cases);
    let frames = 0;
    for (const [index, each] of cases.entries()) {
      const { numbers, wave, lost } = decoded(each, streams[index]!);
      const what = JSON.stringify(each.profile);
      // A reading that a frame says again at the same time is one reading.
      const said = each.frames.flatMap((frame) => frame.slice(0, -1).map((raws) => raws![0]!));
      expect(withoutEchoes(numbers), what).toEqual(withoutEchoes(said));
      expect(wave, what).toEqual(each.frames.flatMap((frame) => frame.at(-1)!));
      expect(lost, what).toBe(0);
      frames += each.frames.length;
    }
    expect(frames).toBeGreaterThan(700);
  });

  test('a flipped bit makes no other number where a checksum of sixteen bits stands guard', () => {
    const guarded = fc
      .sample(anyCase, { numRuns: 400, seed: 4 })
      .filter(({ profile }) => (profile['frame'] as Json)['checksum'] !== undefined)
      .filter(({ profile }) => ((profile['frame'] as Json)['checksum'] as Json)['kind'] === 'crc16')
      .slice(0, 60);
    const streams = encoded(guarded);
    let lost = 0;
    for (const [index, each] of guarded.entries()) {
      const stream = Uint8Array.from(streams[index]!);
      stream[Math.floor(stream.length / 2)]! ^= 1 << (index % 8);
      const whole = decoded(each, streams[index]!).wave;
      const { wave } = decoded(each, stream);
      const sizes = each.frames[0]!.at(-1)!.length;
      expect(wave.length % sizes).toBe(0);
      // What comes is some of what was sent, in order.
      let at = 0;
      for (const value of wave) {
        at = whole.indexOf(value, at);
        expect(at, JSON.stringify(each.profile)).toBeGreaterThanOrEqual(0);
        at += 1;
      }
      lost += wave.length < whole.length ? 1 : 0;
    }
    expect(guarded.length).toBeGreaterThan(40);
    expect(lost).toBeGreaterThan(0.9 * guarded.length);
  });

  test('bits, parts, turns and types: an accelerometer whose axes take turns, nibbles and split numbers', () => {
    const profile = profileWith({ sync: '48 50', length: { at: 2, sizes: { '1': 17, '2': 7 } } }, [
      { gives: 'accelX', at: 4, type: 'i16le', stride: 6, count: 2, rateHz: 25, when: { at: 2, is: 1 } },
      { gives: 'accelY', at: 6, type: 'i16le', stride: 6, count: 2, rateHz: 25, when: { at: 2, is: 1 } },
      { gives: 'accelZ', at: 8, type: 'i16le', stride: 6, count: 2, rateHz: 25, when: { at: 2, is: 1 } },
      {
        gives: 'batteryPercent',
        parts: [
          { at: 3, bits: [0, 2] },
          { at: 4, bits: [4, 7] },
        ],
        when: { at: 2, is: 2, mask: 0x0f },
      },
      { gives: 'noContact', at: 5, bits: [2, 3], is: [3], when: { at: 2, is: 2, mask: 0x0f } },
    ]);
    const frames: Case['frames'] = [
      [[-3, 4], [-20_000, 20_000], [16_384, -1], null, null],
      [null, null, null, [99], [3]],
      [[5, 6], [7, 8], [9, 10], null, null],
    ];
    const [stream] = encoded([{ profile, frames, cuts: [] }]);
    const parsed = parseProfile(JSON.stringify(profile));
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.reason));
    const result = decodeProfile(parsed.value, initialProfileState, 's', stream!, monotonicMs(10_000));
    const of = (gives: string) => result.sources.filter((each) => each.gives === gives);
    expect(of('accelX').map(({ value }) => value)).toEqual([-3, 4, 5, 6]);
    expect(of('accelY').map(({ value }) => value)).toEqual([-20_000, 20_000, 7, 8]);
    expect(of('accelZ').map(({ value }) => value)).toEqual([16_384, -1, 9, 10]);
    expect(result.batteryPercent).toBe(99);
    // The status frame stands for what follows it.
    expect(of('accelX').map(({ reasons }) => reasons.join())).toEqual(['', '', 'noContact', 'noContact']);
    expect(result.state.standing).toEqual(['noContact']);
  });
});

const withoutEchoes = (numbers: readonly number[]): number[] =>
  numbers.filter((number, i) => i === 0 || number !== numbers[i - 1]);
