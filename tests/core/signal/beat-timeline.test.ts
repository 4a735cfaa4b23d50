// Beats put where they were, against straps made here: beats at known times, a strap's own clock and rounding, packets
// at each beat or by the clock, radio delays, packets held up and lost. The truth is the beats' own times.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { createBeatTimeline } from '../../../src/signal/beat-timeline.ts';

/** Deterministic chance, so that a property's counterexample is one number (mulberry32). */
function chanceOf(seed: number): () => number {
  let state = seed | 0;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

interface Strap {
  readonly seed: number;
  /** Null: a packet at each beat. */
  readonly packetEveryMs: number | null;
  readonly meanIntervalMs: number;
  readonly jitterMs: number;
  /** The strap's clock against ours, parts per million. */
  readonly clockPpm: number;
  /** Intervals cut to whole 1/1024 s instead of rounded. */
  readonly cuts: boolean;
  readonly lostShare: number;
  readonly heldShare: number;
  /** How far its sendings stray from its clock. */
  readonly wanderMs: number;
}
const plain: Omit<Strap, 'seed' | 'packetEveryMs'> = {
  meanIntervalMs: 863,
  jitterMs: 30,
  clockPpm: 0,
  cuts: false,
  lostShare: 0,
  heldShare: 0,
  wanderMs: 0,
};
/** One of many: its clock, rounding, rate and radio by its number. */
const anyOf = (seed: number, packetEveryMs: number | null): Strap => ({
  ...plain,
  seed,
  packetEveryMs,
  jitterMs: [5, 30, 60][seed % 3]!,
  clockPpm: [-100, 0, 100][seed % 3]!,
  cuts: seed % 2 === 0,
  meanIntervalMs: [617, 863, 1_091, 1_287][seed % 4]!,
});

interface PlacedBeat {
  readonly trueMs: number;
  readonly placedMs: number;
  readonly intervalMs: number;
  /** In one of the three packets after a lost one, which tell of the loss. */
  readonly afterLoss: boolean;
}

function wear(strap: Strap, untilMs = 180_000): PlacedBeat[] {
  const chance = chanceOf(strap.seed);
  const beats: number[] = [];
  // Breathing and chance, about as much as at rest.
  for (let at = 500, k = 0; at < untilMs; k += 1) {
    beats.push(at);
    at += strap.meanIntervalMs * (1 + 0.06 * Math.sin(k / 2.2) + 0.03 * (2 * chance() - 1));
  }
  const { packetEveryMs: every } = strap;
  const sends =
    every === null
      ? beats.map((at) => at + 1)
      : everyFrom(1_000 + every * chance(), every, untilMs).map(
          (at) => at + (strap.wanderMs === 0 ? 0 : strap.wanderMs * (chance() - 0.5)),
        );
  const timeline = createBeatTimeline();
  const placed: PlacedBeat[] = [];
  let next = 1;
  let lastArrivalMs = 0;
  let sinceLoss = 9;
  for (const sentMs of sends) {
    const mine: number[] = [];
    while (next < beats.length && beats[next]! <= sentMs) mine.push(next++);
    const intervals = mine.map((i) => {
      const ticks = ((beats[i]! - beats[i - 1]!) * (1 + strap.clockPpm * 1e-6) * 1_024) / 1_000;
      return ((strap.cuts ? Math.floor(ticks) : Math.round(ticks)) * 1_000) / 1_024;
    });
    if (chance() < strap.lostShare) {
      sinceLoss = 0;
      continue;
    }
    const held = chance() < strap.heldShare ? 500 + 2_000 * chance() : 0;
    lastArrivalMs = Math.max(lastArrivalMs + 1, sentMs + 5 + strap.jitterMs * chance() + held);
    const times = timeline.place(lastArrivalMs, intervals);
    // Asked plainly and told by `expect`, which is most of the cost of a million beats: 30 s of processor time against 5.
    if (times.length !== intervals.length) expect(times).toHaveLength(intervals.length);
    for (const [at, i] of mine.entries()) {
      if (!(times[at]! <= lastArrivalMs)) expect(times[at]!).toBeLessThanOrEqual(lastArrivalMs);
      placed.push({
        trueMs: beats[i]!,
        placedMs: times[at]!,
        intervalMs: intervals[at]!,
        afterLoss: sinceLoss < 3,
      });
    }
    if (mine.length > 0) sinceLoss += 1;
  }
  return placed;
}

function everyFrom(fromMs: number, everyMs: number, untilMs: number): number[] {
  return Array.from({ length: Math.floor((untilMs - fromMs) / everyMs) }, (_, i) => fromMs + i * everyMs);
}

const quantile = (values: readonly number[], share: number): number =>
  values.toSorted((a, b) => a - b)[Math.floor(share * (values.length - 1))]!;
/** Distances from the truth once it has had half a minute. */
const errorsOf = (beats: readonly PlacedBeat[]): number[] =>
  beats
    .filter(({ trueMs, afterLoss }) => trueMs > 30_000 && !afterLoss)
    .map(({ trueMs, placedMs }) => Math.abs(placedMs - trueMs));
const seeds = Array.from({ length: 40 }, (_, i) => i + 1);
/** Where a strap's few packets place all its beats alike, forty straps are too few: their figure moves by a third. */
const manySeeds = Array.from({ length: 200 }, (_, i) => i + 1);

describe('where the beats were', () => {
  // Meant: 60 ms.
  test.each([
    [null, 20, 30],
    [200, 20, 45],
    [500, 20, 50],
    [1_000, 25, 55],
    [1_500, 15, 45],
    [2_000, 18, 55],
  ])('packets every %s ms: median within %d ms, 95 of 100 within %d ms', (packetEveryMs, median, most) => {
    const errors = seeds.flatMap((seed) => errorsOf(wear(anyOf(seed, packetEveryMs))));
    console.log(
      `packets every ${packetEveryMs ?? 'beat'}: median ${quantile(errors, 0.5).toFixed(0)}, 95 % ${quantile(errors, 0.95).toFixed(0)}, 99 % ${quantile(errors, 0.99).toFixed(0)} ms`,
    );
    expect(quantile(errors, 0.5)).toBeLessThan(median);
    expect(quantile(errors, 0.95)).toBeLessThan(most);
  });

  /**
   * No packet tells where a beat lies within it, only that it lies between two sendings: of N of them the nearest on each side are
   * B/(N+1) off on average (beats B apart), and the best guess between is off by an exponential law of half that. Over the time from
   * `fromS` on, 95 of 100 are within:
   */
  const boundMs = (everyMs: number, fromS: number): number => {
    const means = manySeeds.flatMap((seed) =>
      Array.from({ length: 180 - fromS }, (_, s) => {
        const sendings = ((fromS + s) * 1_000) / everyMs;
        return (0.5 * anyOf(seed, everyMs).meanIntervalMs) / (sendings + 1);
      }),
    );
    const beyond = (at: number): number =>
      means.reduce((sum, mean) => sum + Math.exp(-at / mean), 0) / means.length;
    return Array.from({ length: 500 }, (_, at) => at).find((at) => beyond(at) < 0.05)!;
  };

  // Four seconds apart, half a minute is seven packets.
  test.each([
    [3_000, 30, 60],
    [4_000, 30, 80],
    [4_000, 60, 60],
    [5_000, 90, 70],
  ])(
    'packets every %d ms, from second %d on: 95 of 100 within %d ms, near what can be known',
    (every, fromS, most) => {
      const errors = manySeeds.flatMap((seed) =>
        wear(anyOf(seed, every))
          .filter(({ trueMs }) => trueMs > fromS * 1_000)
          .map(({ trueMs, placedMs }) => Math.abs(placedMs - trueMs)),
      );
      const bound = boundMs(every, fromS);
      console.log(
        `packets every ${every} from second ${fromS}: median ${quantile(errors, 0.5).toFixed(0)}, 95 % ${quantile(errors, 0.95).toFixed(0)} ms (bound ${bound})`,
      );
      expect(quantile(errors, 0.95)).toBeLessThan(most);
      expect(quantile(errors, 0.95)).toBeLessThan(1.35 * bound);
    },
  );

  test('a strap that sends when it likes is placed by its arrivals', () => {
    const errors = seeds.flatMap((seed) => errorsOf(wear({ ...anyOf(seed, 2_000), wanderMs: 800 })));
    expect(quantile(errors, 0.95)).toBeLessThan(62);
  });

  test.each([
    ['lost', 0.005, 0],
    ['held up', 0, 0.005],
  ])('packets %s now and then: 95 of 100 stay within 60 ms', (_what, lostShare, heldShare) => {
    for (const packetEveryMs of [null, 500, 1_000]) {
      const errors = seeds.flatMap((seed) =>
        errorsOf(wear({ ...plain, seed, packetEveryMs, lostShare, heldShare })),
      );
      expect(quantile(errors, 0.95)).toBeLessThan(60);
    }
  });

  test('an hour does not drift: the last minutes are as good as the first', () => {
    for (const clockPpm of [-200, 200]) {
      const beats = wear({ ...plain, seed: 5, packetEveryMs: 1_000, clockPpm, cuts: true }, 3_600_000);
      const late = errorsOf(beats.filter(({ trueMs }) => trueMs > 3_300_000));
      expect(quantile(late, 0.95)).toBeLessThan(70);
    }
  });

  test('a gap is a gap: lost packets leave their time empty', () => {
    const beats = wear({ ...plain, seed: 8, packetEveryMs: 1_000, lostShare: 0.02 });
    const holes = beats
      .slice(1)
      .map((beat, i) => ({
        beat,
        trueMs: beat.trueMs - beats[i]!.trueMs,
        placedMs: beat.placedMs - beats[i]!.placedMs,
      }))
      .filter(({ beat, trueMs }) => trueMs > 1.6 * beat.intervalMs && beat.trueMs > 30_000);
    expect(holes.length).toBeGreaterThan(0);
    const lastTrue = beats.at(-1)!;
    expect(Math.abs(lastTrue.placedMs - lastTrue.trueMs)).toBeLessThan(100);
  });
});

describe('how they are moved', () => {
  const anyStrap = fc.record({
    seed: fc.integer({ min: 1, max: 1_000_000 }),
    packetEveryMs: fc.option(fc.integer({ min: 150, max: 6_000 })),
    meanIntervalMs: fc.integer({ min: 350, max: 1_600 }),
    jitterMs: fc.integer({ min: 0, max: 80 }),
    clockPpm: fc.integer({ min: -200, max: 200 }),
    cuts: fc.boolean(),
    lostShare: fc.constantFrom(0, 0.02),
    heldShare: fc.constantFrom(0, 0.02),
    wanderMs: fc.constantFrom(0, 60),
  });

  test('whatever the strap does, beats rise and none is later than its packet', () => {
    fc.assert(
      fc.property(anyStrap, (strap) => {
        const times = wear(strap, 60_000).map(({ placedMs }) => placedMs);
        for (const [i, at] of times.entries())
          if (i > 0 && !(at >= times[i - 1]!)) expect(at).toBeGreaterThanOrEqual(times[i - 1]!);
      }),
      { numRuns: 60 },
    );
  });

  test('once settled, two beats are as far apart as their interval says, to within a hundredth', () => {
    const beats = wear({ ...plain, seed: 3, packetEveryMs: 1_000 }).filter(({ trueMs }) => trueMs > 40_000);
    const off = beats
      .slice(1)
      .map((beat, i) => Math.abs(beat.placedMs - beats[i]!.placedMs - beat.intervalMs));
    expect(quantile(off, 0.99)).toBeLessThan(10);
    expect(Math.max(...off)).toBeLessThan(60);
  });

  test('takes any packets without throwing', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(fc.double({ min: 0, max: 1e6, noNaN: true }), fc.array(fc.nat(64_000), { maxLength: 9 })),
          {
            maxLength: 60,
          },
        ),
        (packets) => {
          const timeline = createBeatTimeline();
          let arrivedAtMs = 0;
          for (const [laterMs, intervals] of packets) {
            arrivedAtMs += laterMs;
            const times = timeline.place(arrivedAtMs, intervals);
            expect(times.filter((at) => !Number.isFinite(at))).toEqual([]);
          }
        },
      ),
    );
  });

  test('a new link begins anew', () => {
    const timeline = createBeatTimeline();
    for (let i = 1; i < 20; i += 1) timeline.place(i * 1_000, [1_000]);
    timeline.reset();
    expect(timeline.place(60_000, [800, 900])).toEqual([59_100, 60_000]);
  });
});
