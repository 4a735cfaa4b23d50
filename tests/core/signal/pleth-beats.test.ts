import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { createPlethBeats } from '../../../src/signal/pleth-beats.ts';

/** Pulses with a notch, one each `rr` seconds, on a wandering baseline. */
function pulses(rr: (beat: number) => number, seconds: number, rateHz: number, sign: 1 | -1) {
  const beats: number[] = [];
  let t = 0.5;
  for (let i = 0; t < seconds + 2; i++) {
    beats.push(t);
    t += rr(i);
  }
  const wave = (x: number): number =>
    Math.exp(-(((x - 0.15) / 0.07) ** 2)) + 0.35 * Math.exp(-(((x - 0.42) / 0.09) ** 2));
  return {
    beats,
    samples: Array.from({ length: seconds * rateHz }, (_, i) => {
      const at = i / rateHz;
      const pulse = beats.reduce(
        (sum, beat) => (at >= beat - 0.1 && at < beat + 1 ? sum + wave(at - beat) : sum),
        0,
      );
      return { atMs: at * 1_000, value: 3 + sign * pulse + 0.4 * Math.sin(at / 1.3) };
    }),
  };
}

describe('beats in a pleth', () => {
  test.each([
    [100, 1],
    [250, -1],
    [50, 1],
  ] as const)('every beat once at %i Hz, polarity %i, within 25 ms', (rateHz, sign) => {
    const { beats, samples } = pulses((i) => 0.9 + 0.08 * Math.sin(i / 2), 60, rateHz, sign);
    const finder = createPlethBeats();
    const found = samples.flatMap(({ atMs, value }) => [...finder.push(atMs, value)]);
    const late = found.filter(({ atMs }) => atMs > 6_000);
    const expected = beats.filter((beat) => beat > 6 && beat < 58).length;
    expect(Math.abs(late.length - expected)).toBeLessThanOrEqual(1);
    const intervals = late.slice(1).map(({ rrIntervalMs }) => rrIntervalMs!);
    for (const interval of intervals) {
      expect(interval).toBeGreaterThan(780);
      expect(interval).toBeLessThan(1_020);
    }
  });

  test('a flat line has no beats, and nonsense does not throw', () => {
    const finder = createPlethBeats();
    for (let i = 0; i < 2_000; i++) {
      expect(finder.push(i * 10, 5)).toEqual([]);
    }
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY, -1e300, 1e300]) {
      finder.push(30_000, value);
    }
  });

  test('a neck recording of a real person gives a pulse of a resting person', () => {
    const rows = readFileSync(
      new URL('../../../fixtures/simulated-apnoea/subject1-4cmH2O-apnea2-pd3-50hz.csv', import.meta.url),
      'utf8',
    )
      .trim()
      .split('\n')
      .slice(1);
    const finder = createPlethBeats();
    const intervals = rows
      .flatMap((row) => [...finder.push(Number(row.split(',')[0]) * 1_000, Number(row.split(',')[1]))])
      .map(({ rrIntervalMs }) => rrIntervalMs)
      .filter((rr) => rr !== undefined)
      .sort((a, b) => a - b);
    // Autocorrelation of the same channel gave 58 to 65 /min (hold_labels_derived.csv).
    const medianBpm = 60_000 / intervals[intervals.length >> 1]!;
    expect(medianBpm).toBeGreaterThan(50);
    expect(medianBpm).toBeLessThan(75);
  });
});
