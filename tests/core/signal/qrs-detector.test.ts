// Beats of an electrocardiogram, against times that are known: a wave of Gaussian bumps placed on each beat, as in the published dynamical
// model (McSharry, Clifford, Tarassenko, Smith, IEEE Trans Biomed Eng 50(3):289-294, 2003; amplitudes and widths from memory), with
// wander, mains and muscle on it. SIMULATED: no open record with an electrocardiogram was at hand.

import { describe, expect, test } from 'vitest';
import { createQrsDetector } from '../../../src/signal/qrs-detector.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';

/** P, Q, R, S, T: where in the beat (share of the interval, R at 0), how high in mV, how wide in s at 60 /min. */
const bumps = [
  [-0.2, 0.15, 0.025],
  [-0.04, -0.12, 0.012],
  [0, 1, 0.012],
  [0.04, -0.25, 0.012],
  [0.3, 0.3, 0.05],
] as const;

function recording(
  beatsPerMin: (atS: number) => number,
  rateHz: number,
  noise: number,
  seed: number,
  seconds = 120,
) {
  const random = createRandom(seed);
  const beats: number[] = [];
  for (let at = 0.4; at < seconds; ) {
    beats.push(at);
    // Breathing quickens and slows the heart; so does chance.
    at += (60 / beatsPerMin(at)) * (1 + 0.05 * Math.sin(2 * Math.PI * 0.23 * at) + 0.02 * random.normal());
  }
  let next = 0;
  const samples = Array.from({ length: seconds * rateHz }, (_, i) => {
    const atS = i / rateHz;
    while (next < beats.length - 1 && beats[next]! < atS - 1) next += 1;
    let value = 0.3 * Math.sin(2 * Math.PI * 0.25 * atS) + 0.05 * noise * Math.sin(2 * Math.PI * 50 * atS);
    for (let k = Math.max(0, next - 2); k < Math.min(beats.length, next + 6); k += 1) {
      const interval = (beats[k + 1] ?? beats[k]! + 1) - beats[k]!;
      const stretch = Math.sqrt(Math.min(1, interval));
      for (const [at, height, width] of bumps) {
        const from =
          (atS - beats[k]! - at * interval * (at > 0.1 ? 1 / Math.sqrt(Math.max(interval, 0.5)) : 1)) /
          (width * (at === 0 ? 1 : stretch));
        if (Math.abs(from) < 5) value += height * Math.exp((-from * from) / 2);
      }
    }
    return [1_000 * atS, 1_000 * (value + 0.05 * noise * random.normal())] as const;
  });
  return { beats: beats.map((atS) => 1_000 * atS), samples };
}

function score({ beats, samples }: ReturnType<typeof recording>, rateHz: number) {
  const detector = createQrsDetector(rateHz);
  const found = samples.flatMap(([atMs, value]) => [...detector.push(atMs, value)]);
  // The first seconds teach the thresholds; the last beats are not certain yet.
  const inside = (atMs: number): boolean => atMs > 5_000 && atMs < samples.at(-1)![0] - 3_000;
  const truth = beats.filter(inside);
  const errors = truth.flatMap((beat) => {
    const near = found.reduce(
      (best, at) => (Math.abs(at - beat) < Math.abs(best - beat) ? at : best),
      Infinity,
    );
    return Math.abs(near - beat) < 75 ? [near - beat] : [];
  });
  const lag = errors.reduce((sum, error) => sum + error, 0) / errors.length;
  return {
    sensitivity: errors.length / truth.length,
    precision: errors.length / found.filter(inside).length,
    jitterMs: Math.sqrt(errors.reduce((sum, error) => sum + (error - lag) ** 2, 0) / errors.length),
    found,
  };
}

describe('beats of known times', () => {
  test.each([
    [125, 1],
    [250, 3],
    [500, 2],
  ])(
    '%s samples a second, noise %s: nearly all, nearly none beside, within milliseconds of one another',
    (rateHz, noise) => {
      for (const rate of [45, 80, 150]) {
        const { sensitivity, precision, jitterMs } = score(
          recording(() => rate, rateHz, noise, rate),
          rateHz,
        );
        const what = `${rate} /min at ${rateHz} Hz, noise ${noise}`;
        expect(sensitivity, what).toBeGreaterThan(0.985);
        expect(precision, what).toBeGreaterThan(0.985);
        expect(jitterMs, what).toBeLessThan(25);
      }
    },
  );

  test('a heart that slows from 110 to 40, as in a hold', () => {
    const { sensitivity, precision } = score(
      recording((atS) => Math.max(40, 110 - atS), 250, 2, 9, 150),
      250,
    );
    expect([sensitivity > 0.985, precision > 0.985]).toEqual([true, true]);
  });
});

test('the unit and the direction of the leads make no difference; electrodes that lie flat have no beat', () => {
  const made = recording(() => 70, 250, 1, 3);
  const plain = score(made, 250).found;
  const turned = { ...made, samples: made.samples.map(([at, value]) => [at, -0.002 * value + 4] as const) };
  expect(score(turned, 250).found.length).toBe(plain.length);
  const detector = createQrsDetector(250);
  const flat = Array.from({ length: 20_000 }, (_, i) => detector.push(4 * i, 7)).flat();
  expect(flat).toEqual([]);
});

test('any numbers at any times: nothing throws, beats rise', () => {
  const random = createRandom(5);
  const detector = createQrsDetector(200);
  let at = 0;
  let last = -1;
  for (let i = 0; i < 30_000; i += 1) {
    at += random.next() < 0.001 ? 5_000 * random.next() : 5;
    const wild = [Number.NaN, Number.POSITIVE_INFINITY, -1e9, 1e9, 0][Math.floor(5 * random.next())]!;
    for (const beat of detector.push(at, random.next() < 0.02 ? wild : random.normal())) {
      expect(beat).toBeGreaterThan(last);
      last = beat;
    }
  }
});
