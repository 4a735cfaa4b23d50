// The plan preview: shape, direction and honesty of what it says about a plan.

import { describe, expect, test, vi } from 'vitest';
import { populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { type PreviewSegment, previewPlan } from '../../../src/oxygen/plan-preview.ts';
import { oxygenOf } from '../../../src/oxygen/trait-values.ts';
import { taughtAthlete } from '../../support/taught-athlete.ts';

// Heavy arithmetic, no waiting: a busy machine must not fail it.
vi.setConfig({ testTimeout: 60_000 });

const rest = (seconds: number): PreviewSegment => ({ kind: 'recovery', durationMs: seconds * 1000 });
const hold = (seconds: number): PreviewSegment => ({ kind: 'hold', durationMs: seconds * 1000 });

const table = (holdSeconds: number, restSeconds: number): readonly PreviewSegment[] =>
  [0, 1, 2, 3, 4].flatMap(() => [rest(restSeconds), hold(holdSeconds)]);

test('shorter rests leave more carbon dioxide, longer holds less oxygen', () => {
  const last = (holdSeconds: number, restSeconds: number) =>
    previewPlan(table(holdSeconds, restSeconds), populationOxygen, 85).holds.at(-1)!;
  const longRests = last(150, 150);
  const shortRests = last(150, 15);
  expect(shortRests.endPco2MmHg.middle).toBeGreaterThan(longRests.endPco2MmHg.middle + 1);
  expect(last(190, 150).lowestReadingPercent.middle).toBeLessThan(longRests.lowestReadingPercent.middle - 3);
});

test('the stress named follows from the numbers shown', () => {
  for (const [holdSeconds, restSeconds] of [
    [60, 120],
    [120, 15],
    [150, 150],
    [200, 150],
  ] as const) {
    for (const one of previewPlan(table(holdSeconds, restSeconds), populationOxygen, 85).holds) {
      const co2 = one.endPco2MmHg.middle >= 48;
      const oxygen = one.lowestReadingPercent.middle < 92;
      expect(one.stress).toBe(co2 ? (oxygen ? 'both' : 'carbonDioxide') : oxygen ? 'oxygen' : 'neither');
    }
  }
});

test('floor crossing is judged by the lag too: likely for a hold that ends just above the floor at the finger', () => {
  const preview = previewPlan([rest(60), hold(200)], populationOxygen, 90);
  expect(preview.holds[0]!.crossing).toBe('likely');
  expect(previewPlan([rest(60), hold(45)], populationOxygen, 90).holds[0]!.crossing).toBe('unlikely');
});

test('bands hold their middle, points are even, the same plan gives the same preview', () => {
  const plan = [rest(30), hold(90), rest(60)];
  const preview = previewPlan(plan, populationOxygen, 88);
  expect(preview.points).toHaveLength(120);
  preview.points.forEach((point, index) => {
    expect(point.atMs).toBe(index * 2000);
    for (const band of [point.readingPercent, point.arterialPercent, point.pco2MmHg]) {
      expect(band.low).toBeLessThanOrEqual(band.middle);
      expect(band.middle).toBeLessThanOrEqual(band.high);
    }
  });
  expect(JSON.stringify(previewPlan(plan, populationOxygen, 88))).toBe(JSON.stringify(preview));
});

test('knowing the athlete narrows the band', () => {
  const plan = [rest(30), hold(150)];
  const wide = previewPlan(plan, populationOxygen, 88).holds[0]!.lowestReadingPercent;
  const spreads = Object.fromEntries(
    Object.entries(populationOxygen.spreads).map(([name, spread]) => [name, spread / 3]),
  ) as typeof populationOxygen.spreads;
  const narrow = previewPlan(plan, { ...populationOxygen, spreads, holdCount: 5 }, 88).holds[0]!
    .lowestReadingPercent;
  expect(narrow.high - narrow.low).toBeLessThan((wide.high - wide.low) / 2);
});

test('an empty plan and nonsense durations answer with nothing', () => {
  expect(previewPlan([], populationOxygen, 88)).toMatchObject({ points: [], holds: [], stress: 'neither' });
  expect(previewPlan([hold(-5)], populationOxygen, 88).holds).toEqual([]);
});

describe('carbon dioxide against published values', () => {
  const at = (segments: readonly PreviewSegment[], seconds: number) =>
    previewPlan(segments, populationOxygen, 85).points.find(({ atMs }) => atMs === seconds * 1000)!.pco2MmHg;
  const risen = (lungs: PreviewSegment['lungs'], holdSeconds: number, seconds: number) => {
    const plan: PreviewSegment[] = [rest(60), { ...hold(holdSeconds), ...(lungs && { lungs }) }];
    return at(plan, 60 + seconds).middle - at(plan, 58).middle;
  };
  test('35 s from emptied lungs, 1.8 L: the 10.2 mmHg of eight people from FRC, about 2.4 L (Sasse 1996, 2.20), within 3; fuller less', () => {
    expect(Math.abs(risen('emptied', 60, 36) - 10.2)).toBeLessThan(3);
    expect(risen('half', 60, 36)).toBeLessThan(risen('emptied', 60, 36));
    expect(risen('full', 60, 36)).toBeLessThan(risen('half', 60, 36));
  });
  test('111 s: ends about where the 40.3 mmHg of 18 novices did or above, who began at 29 (Pernett 2023, 2.24): 11.3 more, within 4', () => {
    expect(Math.abs(risen(undefined, 111, 110) - 11.3)).toBeLessThan(4);
  });
  test('after the first minute 3 to 4.4 mmHg a minute, within 1 (textbook 2.19; Kobayashi 1994, 2.16)', () => {
    const aMinute = risen(undefined, 240, 180) - risen(undefined, 240, 120);
    expect(aMinute).toBeGreaterThan(2);
    expect(aMinute).toBeLessThan(5.4);
  });
  test('four minutes end where urges to breathe have begun (45 to 60 mmHg: Tetzlaff 2019, 2.23), not above 60', () => {
    const { middle, high } = previewPlan([rest(60), hold(240)], populationOxygen, 70).holds[0]!.endPco2MmHg;
    expect(middle).toBeGreaterThan(45);
    expect(high).toBeLessThan(62);
  });
});

test('the less full the lungs, the sooner saturation falls', () => {
  const lowest = (lungs: NonNullable<PreviewSegment['lungs']>) =>
    previewPlan([rest(60), { ...hold(75), lungs }], populationOxygen, 85).holds[0]!.lowestReadingPercent;
  expect(lowest('half').middle).toBeLessThan(lowest('full').middle);
  expect(lowest('emptied').middle).toBeLessThan(lowest('half').middle);
});

test('bands of saturation are no narrower for somebody of whom one hold is known than of whom five are', () => {
  const reading = (second: number) => Math.max(92, 98 - Math.max(0, second - 90) * 0.06);
  const holdAt = (index: number) => ({
    startMs: 60_000 + index * 400_000,
    endMs: 60_000 + index * 400_000 + 150_000,
    lungs: 'full' as const,
    readings: Array.from({ length: 300 }, (_, second) => ({
      atMs: index * 400_000 + second * 1_000,
      spo2Percent: Math.round(reading(second < 60 ? 0 : second > 240 ? 0 : second - 60)),
    })),
  });
  const width = (count: number): number => {
    const prior = taughtAthlete(Array.from({ length: count }, (_, index) => holdAt(index)));
    const person = count === 0 ? populationOxygen : oxygenOf(prior);
    const { low, high } = previewPlan([rest(60), { ...hold(150), lungs: 'full' }], person, 85).holds[0]!
      .lowestReadingPercent;
    return high - low;
  };
  const [none, one, five] = [width(0), width(1), width(5)];
  expect(none).toBeGreaterThan(one);
  expect(one).toBeGreaterThanOrEqual(five);
});
