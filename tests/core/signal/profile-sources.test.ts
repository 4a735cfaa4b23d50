// Waves of a profile's sensor that become something else: three axes one breathing channel, an electrocardiogram beats.

import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { SourceSample } from '../../../src/profiles/decode-profile.ts';
import { beatSample, createProfileSources } from '../../../src/signal/profile-sources.ts';

const wave = (
  gives: SourceSample['gives'],
  atMs: number,
  value: number,
  reasons: SourceSample['reasons'] = [],
): SourceSample => ({ gives, atMs: monotonicMs(atMs), value, rateHz: 250, reasons });

/** SIMULATED: a narrow bump a beat on a slow wander, 250 samples a second; beats `intervalMs` apart. */
function electrocardiogram(fromMs: number, seconds: number, intervalMs: number): SourceSample[] {
  return Array.from({ length: seconds * 250 }, (_, i) => {
    const atMs = fromMs + i * 4;
    const fromBeat = ((atMs + intervalMs / 2) % intervalMs) - intervalMs / 2;
    const bump = 1_000 * Math.exp(-(fromBeat ** 2) / (2 * 12 ** 2));
    return wave('ecg', atMs, bump + 50 * Math.sin(atMs / 600));
  });
}

describe('an electrocardiogram', () => {
  test('intervals are those of the beats', () => {
    const sources = createProfileSources('patch');
    const beats = sources.push(electrocardiogram(0, 30, 900)).filter(({ atMs }) => atMs > 6_000);
    expect(beats.length).toBeGreaterThan(20);
    for (const { channel, value, quality, sensorId } of beats) {
      expect({ channel, quality, sensorId }).toEqual({
        channel: 'rrIntervalMs',
        quality: 'good',
        sensorId: 'patch',
      });
      expect(Math.abs(value - 900)).toBeLessThanOrEqual(4);
    }
  });

  test('electrodes that were off: no beat while they were, and no interval across', () => {
    const sources = createProfileSources('patch');
    sources.push(electrocardiogram(0, 20, 900));
    const off = electrocardiogram(20_000, 5, 900).map((each) => ({
      ...each,
      reasons: ['noContact'] as const,
    }));
    expect(sources.push(off)).toEqual([]);
    const after = sources.push(electrocardiogram(25_000, 20, 700)).filter(({ atMs }) => atMs > 31_000);
    expect(after.length).toBeGreaterThan(10);
    for (const { value } of after) expect(Math.abs(value - 700)).toBeLessThanOrEqual(4);
  });

  test('an interval that no heart has is bad, and says why', () => {
    expect(beatSample('patch', 1_000, 150, [])).toMatchObject({ quality: 'bad', reasons: ['outOfRange'] });
    expect(beatSample('patch', 1_000, 800, ['poorSignal'])).toMatchObject({ quality: 'suspect' });
  });
});

describe('an accelerometer', () => {
  /** SIMULATED: gravity in z, breathing of 6 s as a tilt in x, a heart's tremor. */
  const axes = (fromMs: number, seconds: number, breadth: number): SourceSample[] =>
    Array.from({ length: seconds * 25 }, (_, i) => {
      const atMs = fromMs + i * 40;
      const tilt =
        breadth * Math.sin((2 * Math.PI * atMs) / 6_000) + 2 * Math.sin((2 * Math.PI * atMs) / 850);
      return [wave('accelX', atMs, tilt), wave('accelY', atMs, 3), wave('accelZ', atMs, 1_000)];
    }).flat();

  test('one breathing value a sample, which swings with the breath', () => {
    const sources = createProfileSources('band');
    const breathing = sources.push(axes(0, 60, 40));
    expect(breathing).toHaveLength(60 * 25);
    const late = breathing.filter(({ atMs }) => atMs > 30_000);
    expect(new Set(late.map(({ channel }) => channel))).toEqual(new Set(['respirationRaw']));
    // Highest and lowest once a breath: turns of direction over a breath's half, 10 of them in 30 s.
    const mean = late.reduce((sum, { value }) => sum + value, 0) / late.length;
    const crossings = late.filter(({ value }, i) => i > 0 && value >= mean !== late[i - 1]!.value >= mean);
    expect(crossings.length).toBeGreaterThanOrEqual(8);
    expect(crossings.length).toBeLessThanOrEqual(14);
  });

  test('an axis that is missing from a moment leaves that moment out', () => {
    const sources = createProfileSources('band');
    const [x, y, z, ...rest] = axes(0, 1, 40);
    expect(sources.push([x!, z!, ...rest]).map(({ atMs }) => atMs)).not.toContain(y!.atMs);
  });

  test('no contact, said by the sensor, makes its breathing bad', () => {
    const sources = createProfileSources('band');
    const off = axes(0, 1, 40).map((each) => ({ ...each, reasons: ['noContact'] as const }));
    expect(new Set(sources.push(off).map(({ quality }) => quality))).toEqual(new Set(['bad']));
  });
});
