// Forward-backward against adding up every path, and the holds read off a posterior.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { crfPosterior, holdsOfPosterior } from '../../../src/holds/hold-crf.ts';

/** Lafferty, McCallum & Pereira 2001: the weight of a path is the exponential of its summed scores. */
function byEveryPath(scores: Float32Array) {
  const n = scores.length / 3;
  const held = new Float64Array(n);
  const starts = new Float64Array(n);
  const ends = new Float64Array(n);
  let total = 0;
  for (let path = 0; path < 2 ** n; path++) {
    const state = (t: number): boolean => ((path >> t) & 1) === 1;
    let score = 0;
    for (let t = 0; t < n; t++) {
      score += state(t) ? scores[3 * t]! : 0;
      score += t > 0 && state(t) && !state(t - 1) ? scores[3 * t + 1]! : 0;
      score += t > 0 && !state(t) && state(t - 1) ? scores[3 * t + 2]! : 0;
    }
    const weight = Math.exp(score);
    total += weight;
    for (let t = 0; t < n; t++) {
      held[t] = held[t]! + (state(t) ? weight : 0);
      starts[t] = starts[t]! + (t > 0 && state(t) && !state(t - 1) ? weight : 0);
      ends[t] = ends[t]! + (t > 0 && !state(t) && state(t - 1) ? weight : 0);
    }
  }
  const share = (values: Float64Array): number[] => [...values].map((value) => value / total);
  return { held: share(held), starts: share(starts), ends: share(ends) };
}

describe('the posterior of holding', () => {
  test('is that of all paths added up', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 9 }),
        fc.infiniteStream(fc.double({ min: -4, max: 4, noNaN: true })),
        (n, numbers) => {
          const scores = Float32Array.from({ length: 3 * n }, () => numbers.next().value as number);
          const found = crfPosterior(scores);
          const expected = byEveryPath(scores);
          for (const key of ['held', 'starts', 'ends'] as const) {
            expected[key].forEach((value, t) => {
              expect(found[key][t]).toBeCloseTo(value, 6);
            });
          }
        },
      ),
    );
  });

  test('long recordings neither overflow nor vanish', () => {
    const scores = Float32Array.from({ length: 3 * 30_000 }, (_, i) => [30, -20, -20][i % 3]!);
    const { held } = crfPosterior(scores);
    expect(held.every((value) => value > 0.999 && value <= 1.000001)).toBe(true);
  });
});

describe('holds of a posterior', () => {
  /** A hold over rows `from` to `to` - 1, its start spread evenly over `spread` rows. */
  const posterior = (n: number, from: number, to: number, spread: number) => {
    const held = Float64Array.from({ length: n }, (_, t) => (t >= from && t < to ? 0.99 : 0.01));
    const starts = new Float64Array(n);
    const ends = new Float64Array(n);
    for (let k = 0; k < spread; k++) {
      starts[from - ((spread - 1) >> 1) + k] = 1 / spread;
    }
    if (to < n) {
      ends[to] = 1;
    }
    return { held, starts, ends, breathedThroughout: () => 0 };
  };

  test('a boundary is the median of its posterior and its half-width holds 68 %', () => {
    const [hold] = holdsOfPosterior(posterior(200, 80, 140, 11));
    expect(hold!.startRow).toBeCloseTo(80, 5);
    // Eleven rows alike: the central 68.27 % is 7.51 rows wide.
    expect(hold!.startHalfWidth).toBeCloseTo((11 * 0.6827) / 2, 2);
    expect(hold!.endRow).toBeCloseTo(140, 5);
    expect(hold!.endHalfWidth).toBeCloseTo(0.6827 / 2, 3);
    expect(hold!.startSeen && hold!.endSeen).toBe(true);
  });

  test('a hold cut off by the recording says so; a pause of a few seconds is none', () => {
    const [cut] = holdsOfPosterior(posterior(200, 80, 200, 1));
    expect(cut).toMatchObject({ startSeen: true, endSeen: false });
    expect(holdsOfPosterior(posterior(200, 80, 84, 1))).toEqual([]);
    expect(
      holdsOfPosterior({
        held: new Float64Array(0),
        starts: new Float64Array(0),
        ends: new Float64Array(0),
        breathedThroughout: () => 1,
      }),
    ).toEqual([]);
  });
});
