import * as fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createSignalCleaner } from '../../../src/signal/signal-cleaner.ts';

const sample = (channel: Sample['channel'], seconds: number, value: number): Sample => ({
  channel,
  atMs: monotonicMs(seconds * 1_000),
  value,
  sensorId: channel === 'heartRateBpm' || channel === 'rrIntervalMs' ? 'strap' : 'oximeter',
  quality: 'good',
  reasons: [],
});
const cleanAll = (samples: readonly Sample[]): Sample[] => {
  const cleaner = createSignalCleaner();
  return samples.flatMap((one) => [...cleaner.push(one)]);
};

describe('the cleaner', () => {
  test('a motion dip is doubted while it lasts and nothing after it is', () => {
    const values = [98, 98, 98, 98, 84, 83, 85, 98, 98, 98];
    const out = cleanAll(values.map((value, i) => sample('spo2Percent', i, value)));
    expect(out.map((s) => s.quality)).toEqual(values.map((value) => (value < 90 ? 'suspect' : 'good')));
    expect(out[4]!.reasons).toEqual(['motionDip']);
  });

  test('a fall that stays is believed within 6 s, however steep, and is never bad', () => {
    const values = [97, 97, 97, ...Array.from({ length: 12 }, () => 70)];
    const out = cleanAll(values.map((value, i) => sample('spo2Percent', i, value)));
    expect(out.every((s) => s.quality !== 'bad')).toBe(true);
    expect(out.slice(9).every((s) => s.quality === 'good')).toBe(true);
  });

  test('the steepest fall a finger can show passes without a doubt', () => {
    // 0.35 %/s is the steepest in the table of lag errors (derived from reference 3.11); here twice that.
    const out = cleanAll(
      Array.from({ length: 60 }, (_, i) => sample('spo2Percent', i, Math.round(98 - 0.7 * i))),
    );
    expect(out.every((s) => s.quality === 'good')).toBe(true);
  });

  test('a sensor that repeats itself is doubted; a steady saturation with a living pulse is not', () => {
    const stuck = cleanAll(
      Array.from({ length: 90 }, (_, i) => [
        sample('spo2Percent', i, 97),
        sample('pulseRateBpm', i, 61),
      ]).flat(),
    ).filter((s) => s.channel === 'spo2Percent');
    expect(stuck.at(-1)!.reasons).toContain('stuckValue');
    const living = cleanAll(
      Array.from({ length: 90 }, (_, i) => [
        sample('spo2Percent', i, 97),
        sample('pulseRateBpm', i, 60 + (i % 5)),
      ]).flat(),
    ).filter((s) => s.channel === 'spo2Percent');
    expect(living.every((s) => s.quality === 'good')).toBe(true);
  });

  test('values no person has are bad and kept', () => {
    const out = cleanAll([
      sample('spo2Percent', 1, 127),
      sample('heartRateBpm', 2, 0),
      sample('rrIntervalMs', 3, 9_000),
    ]);
    expect(out.map((s) => s.quality)).toEqual(['bad', 'bad', 'bad']);
    expect(out.map((s) => s.value)).toEqual([127, 0, 9_000]);
  });

  test('a pulse rate far from the strap for long is doubted', () => {
    const out = cleanAll(
      Array.from({ length: 40 }, (_, i) => [
        sample('heartRateBpm', i, 60),
        sample('pulseRateBpm', i, 95 + (i % 3)),
      ]).flat(),
    );
    expect(out.at(-1)!.reasons).toContain('sensorsDisagree');
    expect(out.filter((s) => s.channel === 'heartRateBpm').every((s) => s.quality === 'good')).toBe(true);
  });

  test('any samples in any order: none thrown at, none lost, none changed in value', () => {
    const anySample = fc.record({
      channel: fc.constantFrom<Sample['channel']>(
        'heartRateBpm',
        'rrIntervalMs',
        'spo2Percent',
        'pulseRateBpm',
        'perfusionIndexPercent',
        'pleth',
      ),
      atMs: fc.double().map((value) => monotonicMs(value)),
      value: fc.double(),
      sensorId: fc.constantFrom('a', 'b'),
      quality: fc.constantFrom('good' as const, 'suspect' as const, 'bad' as const),
      reasons: fc.constant([]),
    });
    fc.assert(
      fc.property(fc.array(anySample, { maxLength: 60 }), (samples) => {
        const out = cleanAll(samples);
        expect(out.map((s) => s.value)).toEqual(samples.map((s) => s.value));
      }),
      { numRuns: 100 },
    );
  });
});
