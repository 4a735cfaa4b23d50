// Packets for the recorder's tests: anything at all, and waves in every layout the chunk coding looks for.

import fc from 'fast-check';
import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import type { MonotonicMs, WallMs } from '../../shared/units.ts';

const ids = fc.stringMatching(/^[A-Za-z0-9._:-]{1,12}$/);

function packet(
  sensorId: string,
  characteristic: string,
  bytes: Uint8Array,
  atMs: number,
  wallAtMs: number,
): StoredPacket {
  return { sensorId, characteristic, bytes, atMs: atMs as MonotonicMs, wallAtMs: wallAtMs as WallMs };
}

/** Times as they come: on a grid and rising, or any double at all. */
const times = (count: number): fc.Arbitrary<number[]> =>
  fc.oneof(
    fc
      .tuple(
        fc.array(fc.nat({ max: 2_000 }), { minLength: count, maxLength: count }),
        fc.constantFrom(1, 8, 1024),
      )
      .map(([steps, grid]) => {
        let at = 0;
        return steps.map((step) => {
          at += step;
          return at / grid;
        });
      }),
    fc.array(fc.double(), { minLength: count, maxLength: count }),
  );

/** Wall times with a constant offset, as whole milliseconds, or any double at all. */
const wallTimes = (atMs: readonly number[]): fc.Arbitrary<number[]> =>
  fc.oneof(
    fc.constant(atMs.map((at) => at + 1_790_000_000_000)),
    fc
      .array(fc.integer({ min: -3, max: 3 }), { minLength: atMs.length, maxLength: atMs.length })
      .map((jitter) => jitter.map((j, i) => Math.floor(1_790_000_000_000 + (atMs[i] ?? 0)) + j)),
    fc.array(fc.double(), { minLength: atMs.length, maxLength: atMs.length }),
  );

/** Up to 60 packets of a few streams, any bytes (none included), any times. */
export const anyPackets: fc.Arbitrary<StoredPacket[]> = fc
  .tuple(
    fc.uniqueArray(fc.tuple(ids, ids), { minLength: 1, maxLength: 4, selector: (pair) => pair.join('/') }),
    fc.array(fc.tuple(fc.nat(), fc.uint8Array({ maxLength: 40 })), { maxLength: 60 }),
  )
  .chain(([streams, contents]) =>
    times(contents.length).chain((atMs) =>
      wallTimes(atMs).map((wall) =>
        contents.map(([stream, bytes], i) => {
          const [sensorId, characteristic] = streams[stream % streams.length]!;
          return packet(sensorId, characteristic, bytes, atMs[i]!, wall[i]!);
        }),
      ),
    ),
  );

/** Notifications of equal length carrying a smooth or rough wave behind a header. */
export const wavePackets: fc.Arbitrary<StoredPacket[]> = fc
  .record({
    headerBytes: fc.nat({ max: 4 }),
    sampleBytes: fc.constantFrom(1, 2, 3),
    bigEndian: fc.boolean(),
    samplesPerPacket: fc.integer({ min: 3, max: 20 }),
    packetCount: fc.integer({ min: 1, max: 90 }),
    slope: fc.integer({ min: 0, max: 3_000_000 }),
    noise: fc.constantFrom(0, 3, 200, 16_777_216),
    seed: fc.nat(),
  })
  .map((wave) => {
    let state = wave.seed | 1;
    const random = (): number => {
      state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
      return state / 2 ** 32;
    };
    const packets: StoredPacket[] = [];
    let phase = 0;
    for (let i = 0; i < wave.packetCount; i++) {
      const bytes = new Uint8Array(wave.headerBytes + wave.samplesPerPacket * wave.sampleBytes);
      bytes.fill(i, 0, wave.headerBytes);
      for (let at = wave.headerBytes; at < bytes.length; at += wave.sampleBytes) {
        phase += wave.slope;
        const value = Math.floor(8_000_000 * Math.sin(phase / 1e8) + wave.noise * random());
        for (let b = 0; b < wave.sampleBytes; b++)
          bytes[at + (wave.bigEndian ? wave.sampleBytes - 1 - b : b)] = value >> (8 * b);
      }
      packets.push(packet('wave', 'f00d', bytes, 100 * i, 1_790_000_000_000 + 100 * i));
    }
    return packets;
  });

/** Equal in number, order, names, bytes and times, bit for bit (so NaN equals NaN, and -0 is not 0). */
export function samePackets(a: readonly StoredPacket[], b: readonly StoredPacket[]): boolean {
  return (
    a.length === b.length &&
    a.every((one, i) => {
      const other = b[i]!;
      return (
        one.sensorId === other.sensorId &&
        one.characteristic === other.characteristic &&
        Object.is(one.atMs, other.atMs) &&
        Object.is(one.wallAtMs, other.wallAtMs) &&
        one.bytes.length === other.bytes.length &&
        one.bytes.every((byte, k) => byte === other.bytes[k])
      );
    })
  );
}
