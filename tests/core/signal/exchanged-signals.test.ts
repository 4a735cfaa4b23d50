// Two people who seem to wear each other's sensors: whatever their hearts do, exchanged is found and worn right is not, as
// far as their pulses differ at all.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { createExchangedSignals, type ExchangedPair } from '../../../src/signal/exchanged-signals.ts';

type Pulse = (second: number) => number;

/** What is found in `seconds` of two people; `crossed` from a second on (never when left out). */
function found(
  one: Pulse,
  other: Pulse,
  seconds: number,
  crossedFromS = Number.POSITIVE_INFINITY,
): boolean[] {
  const watch = createExchangedSignals();
  const looks: boolean[] = [];
  for (let second = 0; second < seconds; second += 1) {
    const atMs = monotonicMs(second * 1_000);
    const isCrossed = second >= crossedFromS;
    // An oximeter shows the mean of the last eight seconds.
    const averaged = (pulse: Pulse): number => {
      let sum = 0;
      for (let ago = 0; ago < 8; ago += 1) sum += pulse(Math.max(0, second - ago));
      return Math.round(sum / 8);
    };
    watch.push({ athleteId: 'one', from: 'strap', atMs, bpm: one(second) });
    watch.push({ athleteId: 'other', from: 'strap', atMs, bpm: other(second) });
    watch.push({ athleteId: 'one', from: 'oximeter', atMs, bpm: averaged(isCrossed ? other : one) });
    watch.push({ athleteId: 'other', from: 'oximeter', atMs, bpm: averaged(isCrossed ? one : other) });
    if (second % 5 === 0) looks.push(watch.look(atMs).length > 0);
  }
  return looks;
}

/** A heart at rest: a level, the swing of breath, and a slow drift. */
const pulses = fc.record({
  levelBpm: fc.integer({ min: 45, max: 110 }),
  swingBpm: fc.integer({ min: 0, max: 8 }),
  breathS: fc.integer({ min: 3, max: 12 }),
  driftBpm: fc.integer({ min: -6, max: 6 }),
});
const pulseOf =
  ({
    levelBpm,
    swingBpm,
    breathS,
    driftBpm,
  }: {
    levelBpm: number;
    swingBpm: number;
    breathS: number;
    driftBpm: number;
  }): Pulse =>
  (second) =>
    levelBpm + swingBpm * Math.sin((2 * Math.PI * second) / breathS) + (driftBpm * second) / 240;

describe('two who wear each other’s sensors', () => {
  test('are never found while each wears their own', () => {
    fc.assert(
      fc.property(pulses, pulses, (one, other) => {
        expect(found(pulseOf(one), pulseOf(other), 240)).not.toContain(true);
      }),
      { numRuns: 60 },
    );
  });

  test('are found within two minutes where their pulses lie well apart', () => {
    fc.assert(
      fc.property(pulses, pulses, (one, other) => {
        fc.pre(Math.abs(one.levelBpm - other.levelBpm) >= 20);
        const steady = { ...one, swingBpm: Math.min(4, one.swingBpm) };
        const otherSteady = { ...other, swingBpm: Math.min(4, other.swingBpm) };
        expect(found(pulseOf(steady), pulseOf(otherSteady), 180, 60).at(-1)).toBe(true);
      }),
      { numRuns: 60 },
    );
  });

  test('are not told apart where their hearts beat alike', () => {
    expect(
      found(
        () => 62,
        () => 63,
        240,
        0,
      ),
    ).not.toContain(true);
  });

  test('are not found before they have looked so for 20 s, nor by a minute with holes', () => {
    const looks = found(
      () => 58,
      () => 80,
      90,
      0,
    );
    expect(looks.slice(0, 11)).not.toContain(true);
    expect(looks).toContain(true);
    const watch = createExchangedSignals();
    for (let second = 0; second < 200; second += 2) {
      const atMs = monotonicMs(second * 1_000);
      watch.push({ athleteId: 'one', from: 'strap', atMs, bpm: 58 });
      watch.push({ athleteId: 'other', from: 'strap', atMs, bpm: 80 });
      watch.push({ athleteId: 'one', from: 'oximeter', atMs, bpm: 80 });
      watch.push({ athleteId: 'other', from: 'oximeter', atMs, bpm: 58 });
      expect(watch.look(atMs)).toEqual([]);
    }
  });

  test('one who was forgotten begins anew, and a pair is named once', () => {
    const watch = createExchangedSignals();
    let last: readonly ExchangedPair[] = [];
    const passes = (fromS: number, toS: number) => {
      for (let second = fromS; second < toS; second += 1) {
        const atMs = monotonicMs(second * 1_000);
        for (const [athleteId, strap, oximeter] of [
          ['a', 58, 80],
          ['b', 80, 58],
          ['c', 100, 100],
        ] as const) {
          watch.push({ athleteId, from: 'strap', atMs, bpm: strap });
          watch.push({ athleteId, from: 'oximeter', atMs, bpm: oximeter });
        }
        if (second % 5 === 0) last = watch.look(atMs);
      }
    };
    passes(0, 120);
    expect(last).toEqual([['a', 'b']]);
    watch.forget('a');
    passes(120, 170);
    expect(last).toEqual([]);
  });
});
