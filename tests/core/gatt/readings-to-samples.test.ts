import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { decodePacket } from '../../../src/gatt/decode-packet.ts';
import type { ReadingSamples } from '../../../src/gatt/readings-to-samples.ts';
import { readingToSamples } from '../../../src/gatt/readings-to-samples.ts';

const at = monotonicMs(100_000);

function samplesOf(characteristic: string, hexBytes: string, atMs = at): ReadingSamples {
  const bytes = Uint8Array.from(hexBytes.split(' '), (pair) => Number.parseInt(pair, 16));
  const result = decodePacket(characteristic, bytes);
  if (!result.ok) throw new Error(result.reason);
  return readingToSamples(result.value, 'sensor-1', atMs);
}

const spo2Of = (samples: ReadingSamples) => samples.samples.find(({ channel }) => channel === 'spo2Percent');

describe('heart rate to samples', () => {
  it('places the last beat at arrival and the earlier ones before it', () => {
    const { samples } = samplesOf('2a37', '16 4B 00 04 00 02');
    expect(samples.map(({ channel, atMs, value }) => [channel, atMs, value])).toEqual([
      ['rrIntervalMs', 99_500, 1000],
      ['rrIntervalMs', 100_000, 500],
      ['heartRateBpm', 100_000, 75],
    ]);
    expect(samples.every(({ quality }) => quality === 'good')).toBe(true);
  });

  it('a beat before the session began has no sample', () => {
    const { samples } = samplesOf('2a37', '16 4B 00 04 00 02', monotonicMs(300));
    expect(samples.map(({ atMs }) => atMs)).toEqual([300, 300]);
  });

  it('without skin contact everything is bad', () => {
    const { samples } = samplesOf('2a37', '14 4B 00 04');
    expect(samples.map(({ quality, reasons }) => [quality, reasons])).toEqual([
      ['bad', ['noContact']],
      ['bad', ['noContact']],
    ]);
  });

  it('a rate of 0 is missing, an impossible one bad', () => {
    expect(samplesOf('2a37', '04 00')).toEqual({
      samples: [],
      missing: [{ channel: 'heartRateBpm', atMs: at, sensorId: 'sensor-1', reasons: ['noContact'] }],
    });
    expect(samplesOf('2a37', '00 0A').samples[0]).toMatchObject({ quality: 'bad', reasons: ['outOfRange'] });
  });
});

describe('oximetry to samples', () => {
  it('good when nothing speaks against it', () => {
    const { samples, missing } = samplesOf('2a5f', '1C 5F 00 5A 00 20 00 00 00 00 57 F0');
    expect(missing).toEqual([]);
    expect(samples.map(({ channel, value, quality }) => [channel, value, quality])).toEqual([
      ['spo2Percent', 95, 'good'],
      ['pulseRateBpm', 90, 'good'],
      ['perfusionIndexPercent', 8.7, 'good'],
    ]);
  });

  it('prefers the fast saturation, and the normal one where fast is not available', () => {
    expect(spo2Of(samplesOf('2a5f', '01 62 00 48 00 5F 00 50 00'))?.value).toBe(95);
    expect(spo2Of(samplesOf('2a5f', '01 62 00 48 00 FF 07 FF 07'))?.value).toBe(98);
  });

  it.each([
    ['NaN', '00 FF 07 48 00'],
    ['0 %', '00 00 00 48 00'],
    ['127 %', '00 7F 00 48 00'],
    ['255 %', '00 FF 00 48 00'],
  ])('%s is missing, not a reading', (_, bytes) => {
    const { samples, missing } = samplesOf('2a5f', bytes);
    expect(samples.map(({ channel }) => channel)).toEqual(['pulseRateBpm']);
    expect(missing.map(({ channel }) => channel)).toEqual(['spo2Percent']);
  });

  it.each([
    [6, 'suspect', 'earlyEstimate'],
    [9, 'bad', 'fromStorage'],
    [10, 'bad', 'demoData'],
    [11, 'bad', 'demoData'],
    [12, 'suspect', 'calibrationOngoing'],
    [13, 'bad', 'notQualified'],
    [14, 'suspect', 'questionable'],
    [15, 'bad', 'notQualified'],
  ] as const)('measurement status bit %i makes it %s (%s)', (bit, quality, reason) => {
    const status = 1 << bit;
    const bytes = `04 62 00 48 00 ${(status & 255).toString(16)} ${(status >> 8).toString(16)}`;
    expect(spo2Of(samplesOf('2a5f', bytes))).toMatchObject({ quality, reasons: [reason] });
  });

  it.each([5, 7, 8])('measurement status bit %i takes nothing away', (bit) => {
    const status = 1 << bit;
    const bytes = `04 62 00 48 00 ${(status & 255).toString(16)} ${(status >> 8).toString(16)}`;
    expect(spo2Of(samplesOf('2a5f', bytes))?.quality).toBe('good');
  });

  it('a finger out of the probe is bad, a weak pulse suspect, both named', () => {
    expect(spo2Of(samplesOf('2a5f', '08 62 00 48 00 20 08 00'))).toMatchObject({
      quality: 'bad',
      reasons: ['lowPerfusion', 'noContact'],
    });
    expect(spo2Of(samplesOf('2a5f', '10 62 00 48 00 05 F0'))).toMatchObject({
      quality: 'suspect',
      reasons: ['lowPerfusion'],
    });
    // 1.0 % is not below 1 %.
    expect(spo2Of(samplesOf('2a5f', '10 62 00 48 00 0A F0'))?.quality).toBe('good');
  });

  it('more than 100 % is bad; less than 40 % only doubtful, for it may be a danger', () => {
    expect(spo2Of(samplesOf('2a5f', '00 65 00 48 00'))?.quality).toBe('bad');
    expect(spo2Of(samplesOf('2a5f', '00 27 00 48 00'))).toMatchObject({
      quality: 'suspect',
      reasons: ['outOfRange'],
    });
  });

  it('a stored spot check is not a live reading', () => {
    expect(spo2Of(samplesOf('2a5e', '02 62 00 48 00 00 02'))).toMatchObject({
      quality: 'bad',
      reasons: ['fromStorage'],
    });
  });
});

describe('any reading', () => {
  it('gives finite samples in time order, none after its arrival', () => {
    fc.assert(
      fc.property(
        fc.constantFrom('2a37', '2a5f', '2a5e', '2a19', '2a60'),
        fc.uint8Array({ maxLength: 40 }),
        fc.integer({ min: 0, max: 10_000_000 }),
        (characteristic, bytes, atMs) => {
          const decoded = decodePacket(characteristic, bytes);
          if (!decoded.ok) return;
          const { samples } = readingToSamples(decoded.value, 's', monotonicMs(atMs));
          let last = 0;
          for (const sample of samples) {
            expect(Number.isFinite(sample.value)).toBe(true);
            expect(sample.atMs).toBeGreaterThanOrEqual(last);
            expect(sample.atMs).toBeLessThanOrEqual(atMs);
            expect(sample.quality === 'good').toBe(sample.reasons.length === 0);
            last = sample.atMs;
          }
        },
      ),
      { numRuns: 3_000 },
    );
  });
});
