// The plan preview: shape, direction and honesty of what it says about a plan.

import { expect, test, vi } from 'vitest';
import { populationOxygen } from '../../../src/oxygen/oxygen-parameters.ts';
import { type PreviewSegment, previewPlan } from '../../../src/oxygen/plan-preview.ts';

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
