// What protocols of the market do beside plain frames: each oddity in a frame made here by hand, read by a profile.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { checksumOf, crcOf } from '../../../src/profiles/checksum.ts';
import { decodeProfile, initialProfileState } from '../../../src/profiles/decode-profile.ts';
import { cutFrames } from '../../../src/profiles/frame-cutter.ts';
import type { ProfileFraming, SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { fieldOf, profileOf } from './profile-of.ts';

const framing = (rest: Partial<ProfileFraming>): ProfileFraming => ({
  sync: Uint8Array.of(0xaa),
  length: { fixed: 5 },
  checksum: null,
  ...rest,
});

function read(profile: SensorProfile, packets: readonly (readonly [number, readonly number[], string?])[]) {
  const states = new Map<string, typeof initialProfileState>();
  const samples: Sample[] = [];
  let batteryPercent: number | undefined;
  for (const [atMs, bytes, from = 'ff01'] of packets) {
    const decoded = decodeProfile(
      profile,
      states.get(from) ?? initialProfileState,
      's',
      Uint8Array.from(bytes),
      monotonicMs(atMs),
      from,
    );
    states.set(from, decoded.state);
    samples.push(...decoded.samples);
    batteryPercent = decoded.batteryPercent ?? batteryPercent;
  }
  return { samples, batteryPercent };
}
const valuesOf = (samples: readonly Sample[], channel: Sample['channel']): number[] =>
  samples.filter((sample) => sample.channel === channel).map(({ value }) => value);

describe('frames', () => {
  test('the first byte alone has bit 7: a broken frame is skipped and the next one read', () => {
    const profile = profileOf(framing({ sync: Uint8Array.of(0x80), syncMask: Uint8Array.of(0x80) }), [
      fieldOf('spo2Percent', 3, { bits: [0, 6] }),
      // The pulse rate's eighth bit stands in another byte.
      fieldOf('pulseRateBpm', 0, {
        parts: [
          { at: 1, bits: [6, 6] },
          { at: 2, bits: [0, 6] },
        ],
      }),
    ]);
    const { samples } = read(profile, [
      [0, [0x85, 0x40, 0x0a, 97, 0, 0x91, 0x00]],
      [20, [0x86, 0x00, 0x3c, 96, 0]],
    ]);
    expect(valuesOf(samples, 'spo2Percent')).toEqual([97, 96]);
    expect(valuesOf(samples, 'pulseRateBpm')).toEqual([128 + 10, 60]);
  });

  test.each([
    ['an exclusive-or', { mark: 0x7d, xor: 0x20 }, [0x7d, 0x5e]],
    ['a byte that stands for another', { mark: 0x7d, stands: { 1: 0x7e, 2: 0x7d } }, [0x7d, 0x01]],
  ] as const)('escaped by %s', (_what, escaping, written) => {
    const rule = framing({ sync: Uint8Array.of(0x7e), escape: escaping, length: { fixed: 4 } });
    const profile = profileOf(rule, [
      fieldOf('perfusionIndexPercent', 1, { scale: 0.1 }),
      fieldOf('spo2Percent', 2),
    ]);
    // 0x7e inside the frame is 126: a perfusion of 12.6 %.
    const { samples } = read(profile, [
      [0, [0x7e, ...written.slice(0, 1)]],
      [10, [...written.slice(1), 97, 0]],
    ]);
    expect(valuesOf(samples, 'perfusionIndexPercent')[0]).toBeCloseTo(12.6, 9);
    expect(valuesOf(samples, 'spo2Percent')).toEqual([97]);
  });

  test('types of frames of different length in one stream, over several notifications', () => {
    const profile = profileOf(framing({ length: { at: 1, sizes: { 1: 4, 2: 7, 9: 3 } } }), [
      fieldOf('spo2Percent', 2, { when: { at: 1, is: 1 } }),
      fieldOf('pleth', 2, { count: 5, rateHz: 100, when: { at: 1, is: 2 } }),
      fieldOf('batteryPercent', 2, { when: { at: 1, is: 9 } }),
    ]);
    const { samples, batteryPercent } = read(profile, [
      [100, [0xaa, 2, 1, 2, 3, 4]],
      [120, [5, 0xaa, 1, 95]],
      [140, [0, 0xaa, 9, 61, 0xaa, 77, 0xaa]],
      [160, [1, 94, 0]],
    ]);
    expect(valuesOf(samples, 'spo2Percent')).toEqual([95, 94]);
    expect(valuesOf(samples, 'pleth')).toEqual([1, 2, 3, 4, 5]);
    expect(batteryPercent).toBe(61);
  });

  test('whatever is in the frames, escaping and cutting anywhere gives them back', () => {
    const rule = framing({
      sync: Uint8Array.of(0xc0),
      escape: { mark: 0xdb, xor: 0x20 },
      length: { fixed: 9 },
    });
    const bodies = fc.array(fc.uint8Array({ minLength: 8, maxLength: 8 }), { minLength: 1, maxLength: 6 });
    fc.assert(
      fc.property(bodies, fc.array(fc.integer({ min: 1, max: 9 })), (frames, cuts) => {
        const stream = frames.flatMap((body) => [
          0xc0,
          ...[...body].flatMap((byte) => (byte === 0xc0 || byte === 0xdb ? [0xdb, byte ^ 0x20] : [byte])),
        ]);
        let pending = new Uint8Array(0);
        const found: number[][] = [];
        for (let at = 0, turn = 0; at < stream.length; turn += 1) {
          const size = cuts[turn] ?? 5;
          const cut = cutFrames(rule, pending, Uint8Array.from(stream.slice(at, at + size)));
          at += size;
          pending = Uint8Array.from(cut.pending);
          found.push(...cut.frames.map((frame) => [...frame.subarray(1)]));
        }
        expect(found).toEqual(frames.map((body) => [...body]));
      }),
    );
  });
});

describe('checksums', () => {
  // Check values over the digits "123456789", from the catalogue of parametrised CRC algorithms (reveng, public list).
  const digits = new TextEncoder().encode('123456789');
  test.each([
    ['CRC-8/SMBUS', 8, { polynomial: 0x07, initial: 0, final: 0, reflected: false }, 0xf4],
    ['CRC-8/MAXIM-DOW', 8, { polynomial: 0x31, initial: 0, final: 0, reflected: true }, 0xa1],
    ['CRC-8/ROHC', 8, { polynomial: 0x07, initial: 0xff, final: 0, reflected: true }, 0xd0],
    ['CRC-16/IBM-3740', 16, { polynomial: 0x1021, initial: 0xffff, final: 0, reflected: false }, 0x29b1],
    ['CRC-16/XMODEM', 16, { polynomial: 0x1021, initial: 0, final: 0, reflected: false }, 0x31c3],
    ['CRC-16/MODBUS', 16, { polynomial: 0x8005, initial: 0xffff, final: 0, reflected: true }, 0x4b37],
    ['CRC-16/X-25', 16, { polynomial: 0x1021, initial: 0xffff, final: 0xffff, reflected: true }, 0x906e],
  ] as const)('%s agrees with the catalogue', (_name, width, parameters, check) => {
    expect(crcOf(width, parameters, digits)).toBe(check);
  });

  test.each([true, false])('sixteen bits, low byte first: %s; a flipped bit is found', (lowByteFirst) => {
    const rule = framing({
      length: { fixed: 5 },
      checksum: { kind: 'crc16', from: 1, fromEnd: 2, lowByteFirst },
    });
    const crc = checksumOf('crc16', Uint8Array.of(97, 60));
    const two = lowByteFirst ? [crc & 0xff, crc >> 8] : [crc >> 8, crc & 0xff];
    expect(cutFrames(rule, new Uint8Array(0), Uint8Array.of(0xaa, 97, 60, ...two)).frames).toHaveLength(1);
    expect(cutFrames(rule, new Uint8Array(0), Uint8Array.of(0xaa, 96, 60, ...two)).frames).toHaveLength(0);
  });
});

describe('numbers', () => {
  test('nibbles with a sign, and a condition that is true when 0', () => {
    const profile = profileOf(null, [
      fieldOf('spo2Percent', 0),
      fieldOf('pleth', 1, { bits: [4, 7], signed: true, rateHz: 50 }),
      fieldOf('noContact', 1, { bits: [0, 0], inverted: true }),
    ]);
    const { samples } = read(profile, [
      [100, [97, 0x71]],
      [120, [96, 0xf1]],
      [140, [95, 0x80]],
    ]);
    expect(valuesOf(samples, 'pleth')).toEqual([7, -1, -8]);
    const saturations = samples.filter(({ channel }) => channel === 'spo2Percent');
    expect(saturations.map(({ quality }) => quality)).toEqual(['good', 'good', 'bad']);
  });

  test('a second characteristic has frames of its own', () => {
    const base = profileOf(framing({ length: { fixed: 3 } }), [
      fieldOf('spo2Percent', 1),
      fieldOf('pulseRateBpm', 0, { from: 'ff02' }),
    ]);
    const profile = { ...base, link: { ...base.link, also: [{ notify: 'ff02', frame: null }] } };
    const { samples } = read(profile, [
      [0, [0xaa, 97]],
      [10, [61], 'ff02'],
      [20, [0], 'ff01'],
    ]);
    expect(valuesOf(samples, 'spo2Percent')).toEqual([97]);
    expect(valuesOf(samples, 'pulseRateBpm')).toEqual([61]);
  });
});

describe('times', () => {
  test('the sensor stamps its frames: readings keep its spacing, not that of the radio', () => {
    const profile = profileOf(null, [
      fieldOf('spo2Percent', 0),
      fieldOf('timestamp', 1, { type: 'u16le', scale: 2 }),
    ]);
    let seed = 7;
    const chance = (): number => {
      seed = (seed * 16_807) % 2_147_483_647;
      return seed / 2_147_483_647;
    };
    const packets = Array.from({ length: 300 }, (_, i) => {
      const ticks = (60_000 + i * 250) % 65_536;
      return [10_000 + i * 500 + 150 * chance(), [90 + (i % 9), ticks & 0xff, ticks >> 8]] as const;
    });
    const times = read(profile, packets).samples.map(({ atMs }) => atMs as number);
    expect(times).toHaveLength(300);
    const late = times.slice(100);
    for (const [i, at] of late.entries()) {
      if (i > 0) expect(Math.abs(at - late[i - 1]! - 500)).toBeLessThan(6);
      expect(Math.abs(at - (10_000 + (i + 100) * 500))).toBeLessThan(20);
    }
  });

  test('frames that the counter misses leave their room in the waveform', () => {
    const profile = profileOf(null, [fieldOf('counter', 0), fieldOf('pleth', 1, { count: 5, rateHz: 50 })]);
    const packets = Array.from({ length: 60 }, (_, i) => i)
      .filter((i) => i !== 30 && i !== 31)
      .map((i) => [1_000 + i * 100, [i, 1, 2, 3, 4, 5]] as const);
    const times = read(profile, packets)
      .samples.filter(({ channel }) => channel === 'pleth')
      .map(({ atMs }) => atMs as number);
    const gaps = times.slice(1).map((at, i) => at - times[i]!);
    expect(gaps.filter((gap) => gap > 30)).toHaveLength(1);
    // Ten samples of 20 ms are missing: 220 ms from the one before to the one after.
    expect(Math.max(...gaps)).toBeCloseTo(220, 0);
    for (const [i, gap] of gaps.entries()) if (gap < 30) expect(Math.abs(gap - 20), `${i}`).toBeLessThan(1.5);
  });

  /** When the last of the five samples of each frame lies, one frame sent every 100 ms and here when `arrivedAtMs` says. */
  const framesPlaced = (fields: ReturnType<typeof fieldOf>[], arrivedAtMs: readonly number[]): number[] =>
    read(
      profileOf(null, fields),
      arrivedAtMs.map((at, i) => [at, [i % 256, 1, 2, 3, 4, 5]] as const),
    )
      .samples.filter(({ channel }) => channel === 'pleth')
      .filter((_, i) => i % 5 === 4)
      .map(({ atMs }) => atMs as number);
  const wave = fieldOf('pleth', 1, { count: 5, rateHz: 50 });
  const sentAtMs = Array.from({ length: 150 }, (_, i) => 1_000 + i * 100);
  /** Nothing came through from 6 to 10 s; what was sent then comes in one burst. */
  const burst = sentAtMs.map((at, i) => (at > 6_000 && at < 10_000 ? 10_000 + i : at));

  test('a wave that comes late in one burst lies where it was sent, where its counter misses nothing', () => {
    const off = framesPlaced([fieldOf('counter', 0), wave], burst).map((at, i) =>
      Math.abs(at - sentAtMs[i]!),
    );
    // The last three of the burst are late by less than a gap, and so move the clock a little.
    expect(Math.max(...off)).toBeLessThan(60);
    // Without a counter the burst may as well be the only frames there were.
    const uncounted = framesPlaced([wave], burst).map((at, i) => Math.abs(at - sentAtMs[i]!));
    expect(Math.max(...uncounted)).toBeGreaterThan(3_000);
  });

  test('a sensor that stood still, and counts only what it sends, is placed by arrival 2 s later', () => {
    const stoodStill = sentAtMs.map((at) => (at > 6_000 ? at + 4_000 : at));
    const off = framesPlaced([fieldOf('counter', 0), wave], stoodStill).map((at, i) => stoodStill[i]! - at);
    expect(off.findLastIndex((ms) => ms > 300)).toBeLessThan(51 + 21);
    expect(Math.max(...off.slice(51 + 21))).toBeLessThan(30);
  });

  test('a counter that may have gone round is not believed', () => {
    // Of three bits: 800 ms of frames may be lost without its showing.
    const short = fieldOf('counter', 0, { bits: [0, 2] });
    const off = framesPlaced([short, wave], burst).map((at, i) => burst[i]! - at);
    expect(Math.max(...off)).toBeLessThan(30);
  });
});
