// Contraction estimates from drawn heart beats and pleth baselines. What the simulators say of them is in the accuracy bench.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { contractionsOfHold, estimateContractions } from '../../../src/holds/contraction-estimate.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import type { SecondRow } from '../../../src/signal/second-rows.ts';
import { drawnBeats } from '../../support/drawn-beats.ts';

const startMs = 60_000;
const endMs = 240_000;

/** Beats of a heart at 55 /min with a wave of `bpm` and `periodS` from `fromS` into the hold on. */
const beats = (
  bpm: number,
  periodS: number,
  fromS: number,
  wrongEvery = Number.POSITIVE_INFINITY,
): Sample[] =>
  drawnBeats(300_000, (atMs, n) => {
    const heldS = (atMs - startMs) / 1_000;
    const wave = heldS > fromS ? bpm * Math.sin((2 * Math.PI * heldS) / periodS) : 0;
    // A beat's own unrest, 8 ms one way and the other in no simple order.
    const rr = 60_000 / (55 + wave) + 8 * Math.sin(n * n);
    return n % wrongEvery === wrongEvery - 1 ? 0.6 * rr : rr;
  });

const plethRows = (ripple: number, fromS: number): SecondRow[] =>
  Array.from({ length: 300 }, (_, i) => {
    const heldS = i + 1 - startMs / 1_000;
    const breathing = 2 * Math.sin((2 * Math.PI * i) / 5);
    const held = 0.03 * Math.sin(i * i) + (heldS > fromS ? ripple * Math.sin((2 * Math.PI * i) / 3.7) : 0);
    return {
      atMs: monotonicMs(1_000 * (i + 1)),
      heartRateBpm: Number.NaN,
      heartRateSource: 'none',
      spo2Percent: Number.NaN,
      plethBreathing: heldS > 0 && i < endMs / 1_000 ? held : breathing,
      plethSwing: 1,
    };
  });

describe('a contraction estimate', () => {
  test.each([
    [4, 2, 80],
    [3, 3.5, 110],
    [5, 6, 60],
  ])('finds a ripple of %d /min and %d s period from %d s on', (bpm, periodS, fromS) => {
    const estimate = contractionsOfHold(startMs, endMs, beats(bpm, periodS, fromS), [])!;
    expect(Math.abs(estimate.onsetS - fromS)).toBeLessThan(8);
    const cycles = (endMs - startMs) / 1_000 / periodS - fromS / periodS;
    expect(estimate.count).toBeGreaterThan(0.7 * cycles);
    expect(estimate.count).toBeLessThan(1.3 * cycles);
  });

  test('says nothing of an even heart, of a slow wave, or of wrong beats', () => {
    expect(contractionsOfHold(startMs, endMs, beats(0, 4, 0), [])).toBeUndefined();
    expect(contractionsOfHold(startMs, endMs, beats(2, 14, 80), [])).toBeUndefined();
    expect(contractionsOfHold(startMs, endMs, beats(0, 4, 0, 9), [])).toBeUndefined();
    expect(contractionsOfHold(startMs, endMs, [], [])).toBeUndefined();
  });

  test('says nothing when beats are missing for long', () => {
    const gap = beats(4, 3, 80).filter((beat) => beat.atMs < 150_000 || beat.atMs > 160_000);
    expect(contractionsOfHold(startMs, endMs, gap, [])).toBeUndefined();
  });

  test('is taken from the pleth where there are no beats', () => {
    const estimate = contractionsOfHold(startMs, endMs, [], plethRows(0.6, 90))!;
    expect(Math.abs(estimate.onsetS - 90)).toBeLessThan(8);
    expect(contractionsOfHold(startMs, endMs, [], plethRows(0, 90))).toBeUndefined();
  });

  test('is finite and within the hold whatever the values', () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), { maxLength: 200 }),
        fc.constantFrom(1, 2),
        (values, perSecond) => {
          const estimate = estimateContractions(values, perSecond, 0.3);
          if (estimate !== undefined) {
            expect(estimate.onsetS).toBeGreaterThan(0);
            expect(estimate.onsetS).toBeLessThan(values.length / perSecond);
            expect(Number.isFinite(estimate.onsetUncertaintyS)).toBe(true);
            expect(Number.isInteger(estimate.count)).toBe(true);
          }
        },
      ),
    );
  });
});
