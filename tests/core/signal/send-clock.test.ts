// Whether packets come by a clock, and how long each was under way: against packets sent by a known clock and delayed by
// known amounts.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { sendDelays } from '../../../src/signal/send-clock.ts';

const delay = fc.double({ min: 0, max: 60, noNaN: true });

describe('packets sent by a clock', () => {
  test('the quickest is said to have taken nothing, and none less; the others what they took, to the line between quick ones', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 700, max: 5_000 }),
        fc.array(fc.record({ delay, lost: fc.integer({ min: 0, max: 9 }) }), {
          minLength: 20,
          maxLength: 60,
        }),
        (everyMs, sent) => {
          const kept = sent.flatMap((one, i) =>
            one.lost === 0 ? [] : [{ at: i * everyMs + one.delay, delay: one.delay }],
          );
          // The commonest gap is that of the clock.
          const long = kept.slice(1).filter(({ at }, i) => at - kept[i]!.at > 1.5 * everyMs);
          fc.pre(kept.length >= 12 && long.length < 0.45 * (kept.length - 1));
          const delays = sendDelays(kept.map(({ at }) => at));
          expect(delays).not.toBeNull();
          const told = delays!.flatMap((one) => (one === null ? [] : [one]));
          expect(told.length).toBe(kept.length);
          expect(Math.min(...told)).toBeLessThan(1e-6);
          for (const one of told) expect(one).toBeGreaterThanOrEqual(0);
        },
      ),
      { numRuns: 500 },
    );
  });

  test('the commonest gap of packets that were delayed is no clock of its own: gaps of several turns fit the same one', () => {
    // Each gap of one turn that is commonest is 10 ms long; the gap of two turns 60 ms short.
    const at = [0, 700, 1_410, 2_120, 2_800, 3_560, 4_900, 5_600, 7_700, 8_400, 10_500, 11_200];
    const delays = sendDelays(at)!;
    expect(delays).not.toBeNull();
    expect(delays).not.toContain(null);
  });

  test('thirty packets with delays of up to 60 ms: each told to within 25 ms, half within 7', () => {
    const took = Array.from({ length: 30 }, (_, i) => (i * 37) % 61);
    const delays = sendDelays(took.map((one, i) => 1_000 + 3_000.4 * i + one))!;
    const off = took.map((one, i) => Math.abs(one - delays[i]!)).toSorted((a, b) => a - b);
    expect(off.at(-1)!).toBeLessThan(25);
    expect(off[15]!).toBeLessThan(7);
  });

  test('one that was held up is said to be none of the clock, and moves nothing', () => {
    const at = Array.from({ length: 20 }, (_, i) => 2_000 * i + ((i * 7) % 11));
    const held = at.map((one, i) => (i === 9 ? one + 900 : one));
    const delays = sendDelays(held)!;
    expect(delays[9]).toBeNull();
    expect(delays.filter((one) => one !== null)).toHaveLength(19);
  });
});

test('packets sent whenever a beat is over, or a few alone, are by no clock', () => {
  const beats = Array.from({ length: 40 }, (_, i) => 900 * i + 250 * Math.sin(i * 1.7));
  expect(sendDelays(beats)).toBeNull();
  expect(sendDelays([0, 1_000, 2_000])).toBeNull();
  expect(sendDelays([])).toBeNull();
});
