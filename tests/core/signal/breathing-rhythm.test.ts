// Breathing rate and swing of drawn signals. Real people: the accuracy bench (neck pleth against pressure at the mouth).

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { Sample } from '../../../src/samples/sample.ts';
import { breathingRhythm } from '../../../src/signal/breathing-rhythm.ts';
import { evenHeartRate } from '../../../src/signal/even-heart-rate.ts';
import { drawnBeats } from '../../support/drawn-beats.ts';

const wave = (perMin: number, swing: number, seconds: number, perSecond: number): number[] =>
  Array.from(
    { length: seconds * perSecond },
    (_, i) => (swing / 2) * Math.sin((2 * Math.PI * perMin * i) / (60 * perSecond)),
  );

describe('breathing rhythm', () => {
  test.each([
    [5.5, 60, 2],
    [12, 60, 2],
    [20, 45, 2],
    [14, 60, 1],
    [24, 60, 1],
  ])(
    'of %d breaths a minute over %d s at %d /s is found in spite of a drift',
    (perMin, seconds, perSecond) => {
      const values = wave(perMin, 8, seconds, perSecond).map((value, i) => value + 0.1 * i + 60);
      const rhythm = breathingRhythm(values, perSecond)!;
      expect(Math.abs(rhythm.breathsPerMin - perMin)).toBeLessThan(0.5);
      expect(rhythm.swing).toBeCloseTo(8, 0);
    },
  );

  test('a quick breath in and a slow breath out are one breath, not two', () => {
    const values = Array.from({ length: 240 }, (_, i) => {
      const phase = (i / 4 / 5) % 1;
      return phase < 0.25 ? phase / 0.25 : 1 - (phase - 0.25) / 0.75;
    });
    expect(breathingRhythm(values, 4)!.breathsPerMin).toBeCloseTo(12, 0);
  });

  test('two rhythms of one size leave it open, and so does unrest without rhythm', () => {
    const slow = wave(6, 4, 60, 2);
    const two = wave(15.5, 4, 60, 2).map((value, i) => value + slow[i]!);
    expect(breathingRhythm(two, 2)).toBeUndefined();
    expect(
      breathingRhythm(
        Array.from({ length: 120 }, (_, i) => Math.sin(i * i * 12.9898) * 3),
        2,
      ),
    ).toBeUndefined();
    expect(breathingRhythm(new Array(120).fill(60), 2)).toBeUndefined();
    expect(breathingRhythm(wave(12, 4, 20, 2), 2)).toBeUndefined();
  });

  test('is finite and in the range looked for, whatever the values', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -1e9, max: 1e9, noNaN: true }), { maxLength: 150 }),
        fc.constantFrom(1, 2, 4),
        (values, perSecond) => {
          const rhythm = breathingRhythm(values, perSecond);
          if (rhythm !== undefined) {
            expect(rhythm.breathsPerMin).toBeGreaterThan(4);
            expect(rhythm.breathsPerMin).toBeLessThan(37);
            expect(Number.isFinite(rhythm.swing)).toBe(true);
          }
        },
      ),
    );
  });
});

/** A heart of 60 /min that breathing swings by `swing` /min at `perMin`. */
const beats = (perMin: number, swing: number, wrongAt = -1): Sample[] =>
  drawnBeats(90_000, (atMs, n) => {
    const bpm = 60 + (swing / 2) * Math.sin((2 * Math.PI * perMin * atMs) / 60_000);
    return n === wrongAt ? 120_000 / bpm : 60_000 / bpm;
  });

describe('heart rate at even steps', () => {
  test('shows the breathing that swings it', () => {
    const { bpm } = evenHeartRate(beats(10, 9), 20_000, 80_000, 2)!;
    const rhythm = breathingRhythm(bpm, 2)!;
    expect(Math.abs(rhythm.breathsPerMin - 10)).toBeLessThan(0.6);
    // A beat averages over its own length, which takes a little of the swing.
    expect(rhythm.swing).toBeGreaterThan(7.5);
    expect(rhythm.swing).toBeLessThan(9.5);
  });

  test('mends a missed beat and says so', () => {
    const clean = evenHeartRate(beats(10, 4), 20_000, 80_000, 2)!;
    const mended = evenHeartRate(beats(10, 4, 50), 20_000, 80_000, 2)!;
    expect(clean.correctedShare).toBe(0);
    expect(mended.correctedShare).toBeGreaterThan(0);
    expect(Math.min(...mended.bpm)).toBeGreaterThan(50);
  });

  test('is not known over a gap, or without beats', () => {
    const gap = beats(10, 4).filter((beat) => beat.atMs < 40_000 || beat.atMs > 46_000);
    expect(evenHeartRate(gap, 20_000, 80_000, 2)).toBeUndefined();
    expect(evenHeartRate([], 20_000, 80_000, 2)).toBeUndefined();
  });
});
