// The networks as they run against their definition written out plainly, and what the trained ones may not do.

import fc from 'fast-check';
import { describe, expect, test, vi } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { readWeights } from '../../../src/holds/hold-network.ts';
import { inferRecording } from '../../../src/holds/infer-recording.ts';
import { liveWeights } from '../../../src/holds/live-weights.ts';
import { createFeatureStream, featureCount, featuresOfRecording } from '../../../src/holds/row-features.ts';
import { smoothingWeights } from '../../../src/holds/smoothing-weights.ts';
import { createStreamInference } from '../../../src/holds/stream-inference.ts';
import type { SecondRow } from '../../../src/signal/second-rows.ts';

const dilations = [1, 2, 4, 8, 16, 32, 64, 128, 256];

/** Decodes with Node's own base64. */
const numbers = (table: typeof smoothingWeights): number[][] =>
  table.map(([scale, text]) => {
    const bytes = Buffer.from(text, 'base64');
    return Array.from({ length: bytes.length / 2 }, (_, i) => (bytes.readInt16LE(2 * i) * scale) / 32_767);
  });

/** The definition: x += mix(relu(taps(x))), taps at -d, 0, +d (later) or -2d, -d, 0 (live). */
function plainly(table: typeof smoothingWeights, features: readonly number[][], live: boolean): number[][] {
  const all = numbers(table);
  const product = (w: number[], b: number[], x: readonly number[]): number[] =>
    b.map((bias, o) => x.reduce((sum, value, i) => sum + w[o * x.length + i]! * value, bias));
  const relu = (x: readonly number[]): number[] => x.map((value) => Math.max(0, value));
  let state = features.map((x) => relu(product(all[0]!, all[1]!, x)));
  dilations.forEach((d, l) => {
    const [tw, tb, mw, mb] = all.slice(2 + 4 * l, 6 + 4 * l) as [number[], number[], number[], number[]];
    const at = (t: number): number[] => state[t] ?? new Array<number>(state[0]!.length).fill(0);
    state = state.map((x, t) => {
      const seen = live ? [at(t - 2 * d), at(t - d), x] : [at(t - d), x, at(t + d)];
      const hidden = relu(product(tw, tb, seen.flat()));
      return product(mw, mb, hidden).map((value, i) => value + x[i]!);
    });
  });
  return state.map((x) => product(all.at(-2)!, all.at(-1)!, relu(x)));
}

const someFeatures = fc
  .array(
    fc.array(fc.float({ min: -4, max: 4, noNaN: true }), {
      minLength: featureCount,
      maxLength: featureCount,
    }),
    {
      minLength: 1,
      maxLength: 300,
    },
  )
  .map((rows) => rows.map((row) => row.map(Math.fround)));

describe('hold networks', () => {
  test('the later one gives what its definition gives', () => {
    fc.assert(
      fc.property(someFeatures, (features) => {
        const found = inferRecording(readWeights(smoothingWeights), Float32Array.from(features.flat()));
        plainly(smoothingWeights, features, false).forEach((row, t) => {
          row.forEach((value, o) => {
            expect(Math.abs(found[3 * t + o]! - value)).toBeLessThan(1e-3 * (1 + Math.abs(value)));
          });
        });
      }),
      { numRuns: 15 },
    );
  });

  test('the live one, row by row, gives what its definition gives', () => {
    fc.assert(
      fc.property(someFeatures, (features) => {
        const judge = createStreamInference(readWeights(liveWeights));
        plainly(liveWeights, features, true).forEach((row, t) => {
          const value = judge(Float32Array.from(features[t]!))[0]!;
          expect(Math.abs(value - row[0]!)).toBeLessThan(1e-3 * (1 + Math.abs(row[0]!)));
        });
      }),
      { numRuns: 15 },
    );
  });

  test('the live one gives the very same numbers in the WebAssembly module and plainly, streams beside each other', () => {
    fc.assert(
      fc.property(someFeatures, someFeatures, (one, other) => {
        const network = readWeights(liveWeights);
        const streams = [one, other].map((features) => ({
          features,
          quick: createStreamInference(network),
          plain: createStreamInference(network, 'plainly'),
        }));
        for (let row = 0; row < Math.max(one.length, other.length); row++)
          for (const { features, quick, plain } of streams) {
            const values = features[row];
            if (values === undefined) continue;
            const rowFeatures = Float32Array.from(values);
            expect([...quick(rowFeatures)]).toEqual([...plain(rowFeatures)]);
          }
      }),
      { numRuns: 15 },
    );
  });

  test('the later one gives the same plainly, within a thousandth', () => {
    fc.assert(
      fc.property(someFeatures, (features) => {
        const network = readWeights(smoothingWeights);
        const all = Float32Array.from(features.flat());
        const quick = inferRecording(network, all);
        inferRecording(network, all, 'plainly').forEach((value, i) => {
          expect(Math.abs(quick[i]! - value)).toBeLessThan(1e-3 * (1 + Math.abs(value)));
        });
      }),
      { numRuns: 15 },
    );
  });

  test.each([
    ['without WebAssembly', undefined],
    [
      'whose module does not compile here',
      {
        Module: class {
          constructor() {
            throw new Error('no SIMD');
          }
        },
      },
    ],
  ])('on a machine %s both run, plainly', async (_name, webAssembly) => {
    const features = new Float32Array(40 * featureCount).map((_, i) => Math.sin(i));
    const network = { live: readWeights(liveWeights), smoothing: readWeights(smoothingWeights) };
    const expected = {
      live: [...createStreamInference(network.live, 'plainly')(features.subarray(0, featureCount))],
      later: [...inferRecording(network.smoothing, features, 'plainly')],
    };
    vi.resetModules();
    vi.stubGlobal('WebAssembly', webAssembly);
    try {
      const stream = await import('../../../src/holds/stream-inference.ts');
      const recording = await import('../../../src/holds/infer-recording.ts');
      const judge = stream.createStreamInference(network.live);
      expect([...judge(features.subarray(0, featureCount))]).toEqual(expected.live);
      expect([...recording.inferRecording(network.smoothing, features)]).toEqual(expected.later);
    } finally {
      vi.unstubAllGlobals();
      vi.resetModules();
    }
  });
});

const anyRow = fc.record({
  heartRateBpm: fc.oneof(fc.constant(Number.NaN), fc.double({ min: 20, max: 250, noNaN: true })),
  heartRateSource: fc.constantFrom(
    'rr' as const,
    'heartRate' as const,
    'pulseRate' as const,
    'none' as const,
  ),
  spo2Percent: fc.oneof(fc.constant(Number.NaN), fc.double({ min: 21, max: 100, noNaN: true })),
  plethBreathing: fc.oneof(fc.constant(Number.NaN), fc.double({ min: -1e6, max: 1e6, noNaN: true })),
  plethSwing: fc.oneof(fc.constant(Number.NaN), fc.double({ min: 0, max: 1e6, noNaN: true })),
});
const anyRows = fc
  .array(anyRow, { minLength: 1, maxLength: 150 })
  .map((rows): SecondRow[] => rows.map((row, i) => ({ ...row, atMs: monotonicMs(1_000 * (i + 1)) })));

describe('features', () => {
  test('are finite and bounded whatever the rows are', () => {
    fc.assert(
      fc.property(anyRows, (rows) => {
        const later = featuresOfRecording(rows);
        const stream = createFeatureStream();
        expect(later.length).toBe(rows.length * featureCount);
        for (const values of [later, ...rows.map((row) => Float32Array.from(stream(row)))]) {
          expect(values.every((value) => Number.isFinite(value) && Math.abs(value) <= 6)).toBe(true);
        }
      }),
    );
  });

  test('of the stream look back only', () => {
    fc.assert(
      fc.property(anyRows, anyRow, (rows, last) => {
        const run = (input: readonly SecondRow[]): number[][] => {
          const stream = createFeatureStream();
          return input.map((row) => [...stream(row)]);
        };
        const longer = run([...rows, { ...last, atMs: monotonicMs(1e6) }]);
        expect(longer.slice(0, rows.length)).toEqual(run(rows));
      }),
    );
  });

  test('a heart twice as fast has the same rhythm: all but the level is relative', () => {
    const rows = Array.from(
      { length: 120 },
      (_, i): SecondRow => ({
        atMs: monotonicMs(1_000 * (i + 1)),
        heartRateBpm: 60 + 5 * Math.sin(i / 2) + (i > 60 ? -8 : 0),
        heartRateSource: 'rr',
        spo2Percent: Number.NaN,
        plethBreathing: Number.NaN,
        plethSwing: Number.NaN,
      }),
    );
    const once = featuresOfRecording(rows);
    const twice = featuresOfRecording(rows.map((row) => ({ ...row, heartRateBpm: 2 * row.heartRateBpm })));
    for (let i = 0; i < once.length; i++) {
      if (i % featureCount !== 10) {
        expect(twice[i]).toBeCloseTo(once[i]!, 3);
      }
    }
  });
});
