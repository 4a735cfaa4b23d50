// Imported samples become standard packets, and decoding those gives the samples back.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { packetsOfSamples } from '../../../hub/recordings/import/packets-of-samples.ts';
import type { SampleQuality } from '../../../shared/schema-parts.ts';
import type { ImportedSample } from '../../../src/sessions/imported-recording.ts';
import { sensorSamples } from '../../../src/sessions/sensor-samples.ts';

type Channel = ImportedSample['channel'];

const row = (
  channel: Channel,
  atMs: number,
  value: number,
  quality: SampleQuality = 'good',
): ImportedSample => ({
  channel,
  atMs,
  earliestMs: atMs - 0.499,
  latestMs: atMs + 0.499,
  value,
  quality,
});

function decoded(samples: readonly ImportedSample[]) {
  const { packets, leftOutCount } = packetsOfSamples(samples);
  const back = sensorSamples(
    packets.map(({ device, characteristic, atMs, bytes }) => ({
      type: 'packet' as const,
      atMs,
      sensorId: device,
      characteristic,
      bytes,
    })),
  );
  return { packets, back, leftOutCount };
}

const anyValue: Record<Channel, fc.Arbitrary<number>> = {
  pleth: fc.double({ noNaN: true, noDefaultInfinity: true }),
  heartRateBpm: fc.integer({ min: 30, max: 220 }),
  rrIntervalMs: fc.integer({ min: 250, max: 2_399 }).map((units) => Math.round(units * 1.024) / 1.024),
  spo2Percent: fc.integer({ min: 410, max: 1_000 }).map((tenths) => tenths / 10),
  pulseRateBpm: fc.oneof(
    fc.integer({ min: 300, max: 2_000 }).map((tenths) => tenths / 10),
    fc.integer({ min: 205, max: 240 }),
  ),
  perfusionIndexPercent: fc.integer({ min: 100, max: 2_000 }).map((hundredths) => hundredths / 100),
};

test('any rows come back: same channel, value and quality, at the same millisecond', () => {
  const anyRow = fc
    .constantFrom(...(Object.keys(anyValue) as (keyof typeof anyValue)[]))
    .chain((channel) =>
      fc.tuple(
        fc.constant(channel),
        fc.integer({ min: 3_000, max: 20_000 }),
        anyValue[channel],
        channel === 'perfusionIndexPercent'
          ? fc.constant('good' as const)
          : fc.constantFrom<SampleQuality>('good', 'bad'),
      ),
    );
  fc.assert(
    fc.property(fc.array(anyRow, { maxLength: 40 }), (rows) => {
      // One reading of a channel at a time; a file with intervals alone is given rates, which is another test.
      const seen = new Set<string>();
      const samples = rows
        .filter(([channel, atMs]) => !seen.has(`${channel} ${atMs}`) && seen.add(`${channel} ${atMs}`))
        .map(([channel, atMs, value, quality]) => row(channel, atMs, value, quality))
        .sort((a, b) => a.atMs - b.atMs);
      if (!samples.some(({ channel }) => channel === 'heartRateBpm'))
        samples.push(row('heartRateBpm', 20_001, 60));
      const { back, leftOutCount } = decoded(samples);
      const key = (atMs: number, channel: string, value: number, quality: string): string =>
        `${Math.round(atMs)} ${channel} ${value.toFixed(4)} ${quality}`;
      expect(leftOutCount).toBe(0);
      expect(back.map((s) => key(s.atMs, s.channel, s.value, s.quality)).sort()).toEqual(
        samples.map((s) => key(s.atMs, s.channel, s.value, s.quality)).sort(),
      );
    }),
  );
});

test('two intervals a second do not cost a packet each: a second of beats goes in one', () => {
  const samples: ImportedSample[] = [];
  for (let second = 3; second < 30; second += 1) {
    const atMs = second * 1000 + 0.37;
    const [first, last] = [500 / 1.024, 512 / 1.024];
    samples.push(row('rrIntervalMs', Math.round(atMs - last), first));
    samples.push(row('rrIntervalMs', Math.round(atMs), last));
    samples.push(row('heartRateBpm', Math.round(atMs), 120));
  }
  const { packets, back } = decoded(samples.sort((a, b) => a.atMs - b.atMs));
  expect(packets.length).toBeLessThanOrEqual(2 * 27);
  expect(back).toHaveLength(3 * 27);
});

test('intervals without rates are given the rate of each', () => {
  const { back } = decoded([row('rrIntervalMs', 1_000, 1_000), row('rrIntervalMs', 2_000, 1_000)]);
  expect(back.filter(({ channel }) => channel === 'heartRateBpm').map(({ value }) => value)).toEqual([
    60, 60,
  ]);
});

test('what no sensor can send is counted and left out, never thrown', () => {
  fc.assert(
    fc.property(
      fc.array(
        fc.record({
          channel: fc.constantFrom<Channel>(
            'heartRateBpm',
            'rrIntervalMs',
            'spo2Percent',
            'pulseRateBpm',
            'perfusionIndexPercent',
            'pleth',
          ),
          atMs: fc.double({ min: 0, max: 1e7, noNaN: true }),
          value: fc.double(),
        }),
        { maxLength: 20 },
      ),
      (rows) => void decoded(rows.map(({ channel, atMs, value }) => row(channel, atMs, value))),
    ),
  );
});
