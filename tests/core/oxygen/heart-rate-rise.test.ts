// Whether a heart has just grown quicker at once, beside its definition written out plainly: each median sorted anew.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { createHeartRateRise } from '../../../src/oxygen/heart-rate-rise.ts';

interface Read {
  readonly atMs: number;
  readonly bpm: number;
}

/** As the constants of the module say: 5 /min within 10 s, after 15 s within 2 /min, in the last 20 s. */
function risenPlainly(kept: readonly Read[], nowMs: number): boolean {
  const median = (index: number): number =>
    kept
      .slice(index - 4, index + 1)
      .map(({ bpm }) => bpm)
      .sort((one, other) => one - other)[2]!;
  const isSteady = (index: number): boolean => {
    for (let at = index; at >= 4; at--) {
      if (Math.abs(median(at) - median(index)) > 2) return false;
      if (kept[index]!.atMs - kept[at]!.atMs >= 15_000) return true;
    }
    return false;
  };
  return kept.some(
    (late, l) =>
      l >= 5 &&
      kept.slice(l).every(({ atMs }) => nowMs - atMs <= 20_000) &&
      kept.some(
        (early, e) =>
          e >= 4 && e < l && late.atMs - early.atMs <= 10_000 && median(e) <= median(l) - 5 && isSteady(e),
      ),
  );
}

/** A heart that is steady, then quicker; sometimes silent. Up to four readings a second. */
const readings = fc
  .array(
    fc.record({
      afterMs: fc.oneof(
        { arbitrary: fc.integer({ min: 0, max: 2_000 }), weight: 60 },
        { arbitrary: fc.constant(130_000), weight: 1 },
      ),
      noise: fc.double({ min: -1, max: 1, noNaN: true }),
    }),
    { minLength: 60, maxLength: 120 },
  )
  .chain((steps) =>
    fc.record({
      steps: fc.constant(steps),
      risesAt: fc.integer({ min: 10, max: 80 }),
      rise: fc.integer({ min: 3, max: 12 }),
    }),
  )
  .map(({ steps, risesAt, rise }) => {
    let atMs = 0;
    return steps.map(({ afterMs, noise }, i): Read => {
      atMs += afterMs;
      return { atMs, bpm: 60 + noise + (i >= risesAt ? rise : 0) };
    });
  });

test('it says what its definition says, of readings seldom and often, with silences', () => {
  let risen = 0;
  fc.assert(
    fc.property(readings, (all) => {
      const heart = createHeartRateRise();
      let kept: Read[] = [];
      for (const { atMs, bpm } of all) {
        heart.push(atMs, bpm);
        kept.push({ atMs, bpm });
        if (atMs - kept[0]!.atMs > 120_000) kept = kept.filter((one) => atMs - one.atMs <= 60_000);
        const found = heart.risenAt(atMs);
        expect(found).toBe(risenPlainly(kept, atMs));
        if (found) risen += 1;
      }
    }),
    { numRuns: 60 },
  );
  expect(risen).toBeGreaterThan(10);
});
