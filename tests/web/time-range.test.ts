import fc from 'fast-check';
import { expect, test } from 'vitest';
import { leastWidthSeconds, moveRange, zoomRange } from '../../web/state/time-range.ts';

const whole = { fromSeconds: 0, toSeconds: 1_800 };

test('zooming keeps the time under the pointer where it is', () => {
  const range = zoomRange({ fromSeconds: 600, toSeconds: 1_200 }, 0.5, 750, whole);
  expect(range).toEqual({ fromSeconds: 675, toSeconds: 975 });
});

test('moving stops at the ends without shrinking', () => {
  expect(moveRange({ fromSeconds: 100, toSeconds: 200 }, -500, whole)).toEqual({
    fromSeconds: 0,
    toSeconds: 100,
  });
  expect(moveRange({ fromSeconds: 100, toSeconds: 200 }, 1e9, whole)).toEqual({
    fromSeconds: 1_700,
    toSeconds: 1_800,
  });
});

test('property: any series of zooms and moves stays inside the recording and wide enough', () => {
  const step = fc.oneof(
    fc.record({
      factor: fc.double({ min: 0.01, max: 100, noNaN: true }),
      at: fc.double({ min: -100, max: 2_000, noNaN: true }),
    }),
    fc.record({ by: fc.double({ min: -5_000, max: 5_000, noNaN: true }) }),
  );
  fc.assert(
    fc.property(fc.array(step, { maxLength: 30 }), (steps) => {
      let range = whole;
      for (const change of steps) {
        range =
          'by' in change
            ? moveRange(range, change.by, whole)
            : zoomRange(range, change.factor, change.at, whole);
        expect(range.fromSeconds).toBeGreaterThanOrEqual(-1e-6);
        expect(range.toSeconds).toBeLessThanOrEqual(1_800 + 1e-6);
        expect(range.toSeconds - range.fromSeconds).toBeGreaterThanOrEqual(leastWidthSeconds - 1e-6);
      }
    }),
  );
});
