// The scorer itself: what counts as the same hold, as a piece of one, and as an alarm for nothing.

import { expect, test } from 'vitest';
import type { AlarmKind } from '../../../shared/schema-parts.ts';
import { monotonicMs } from '../../../shared/units.ts';
import type { Hold } from '../../../src/holds/hold.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { tallyAlarms } from '../../support/scoring/alarm-tally.ts';
import { intersectionOverUnion, pairUp, type Verdict } from '../../support/scoring/judge-session.ts';
import { latestKeeping } from '../../support/scoring/living-athlete.ts';
import { f1Of, summariseVerdicts } from '../../support/scoring/summarise-verdicts.ts';

const at = (seconds: number) => ({
  atMs: monotonicMs(seconds * 1_000),
  uncertaintyMs: 2_000,
  declaredAtMs: monotonicMs((seconds + 5) * 1_000),
  source: 'detected' as const,
  evidence: [],
});
const found = (startS: number, endS?: number): Hold => ({
  holdId: `${startS}`,
  start: at(startS),
  ...(endS !== undefined && { end: at(endS) }),
  contractionsAtMs: [],
});
const truth = (startS: number, endS: number) => ({ startMs: startS * 1_000, endMs: endS * 1_000 });

test('a pair shares half of its joint time, one to one, and a hold without an end names none', () => {
  expect(intersectionOverUnion(truth(100, 200), found(100, 200))).toBe(1);
  expect(intersectionOverUnion(truth(100, 200), found(150, 250))).toBeCloseTo(1 / 3);
  expect(intersectionOverUnion(truth(100, 200), found(100))).toBe(0);
  const { pairs, left } = pairUp([truth(100, 200)], [found(100, 155), found(100, 190), found(300, 330)]);
  expect(pairs.map((pair) => pair.found.end?.atMs)).toEqual([190_000]);
  expect(left).toHaveLength(2);
});

const verdictOf = (truths: Verdict['truths'], holds: readonly Hold[]): Verdict => {
  const { pairs, left } = pairUp(truths, holds);
  return {
    name: '',
    conditions: {},
    hours: 1,
    truths,
    pairs,
    unmatched: left,
    proposals: [],
    statements: [],
    fragmentation: [],
    liveEverFalse: 0,
    liveStoodFalse: 0,
    livePairs: pairs,
    alarms: tallyAlarms([], [], { floorPercent: 85 }),
  };
};

test('F1 counts what is missed and what is false; short holds found are no fault among long ones', () => {
  const verdict = verdictOf(
    [truth(100, 200), truth(300, 312)],
    [found(102, 199), found(301, 312), found(500, 540)],
  );
  expect(f1Of([verdict], 0)).toEqual({ trueHolds: 2, precision: 2 / 3, recall: 1, f1: 0.8 });
  expect(f1Of([verdict], 30_000)).toEqual({ trueHolds: 1, precision: 0.5, recall: 1, f1: 2 / 3 });
  const summary = summariseVerdicts([verdict]);
  expect(summary.start.withinStated).toBe(1);
  expect(summary.live.startDelayS.median).toBe(7);
  expect(summary.falseHolds.afterwardsPer20h).toBe(20);
  expect(f1Of([verdictOf([], [found(1, 40)])], 0).f1).toBeNull();
});

const reading = (second: number, value: number): Sample => ({
  channel: 'spo2Percent',
  atMs: monotonicMs(second * 1_000),
  value,
  sensorId: 'o',
  quality: 'suspect',
  reasons: [],
});
const alarm = (kind: AlarmKind, second: number) => ({
  kind,
  raisedAtMs: monotonicMs(second * 1_000),
  clearedAtMs: monotonicMs(second * 1_000 + 20_000),
});

test('alarms are set against the readings, whatever their quality', () => {
  const readings = Array.from({ length: 300 }, (_, s) => reading(s, s >= 100 && s < 110 ? 80 : 97));
  const tally = (alarms: Parameters<typeof tallyAlarms>[0]) =>
    tallyAlarms(alarms, readings, { floorPercent: 85 });
  expect(tally([])).toMatchObject({ lowStretches: 1, missedLowStretches: 1 });
  expect(tally([alarm('floorBreached', 103)])).toMatchObject({ missedLowStretches: 0, falseFloor: 0 });
  expect(tally([alarm('floorBreached', 108)])).toMatchObject({ missedLowStretches: 1, falseFloor: 0 });
  expect(tally([alarm('floorBreached', 200)])).toMatchObject({ floor: 1, falseFloor: 1 });
  expect(tally([alarm('floorForecast', 60)])).toMatchObject({ forecast: 1, needlessForecast: 0 });
  expect(tally([alarm('floorForecast', 150)])).toMatchObject({ forecast: 1, needlessForecast: 1 });
});

test('the latest safe stop is the last that keeps the floor', () => {
  expect(latestKeeping(600, 85, (s) => 98 - 0.1 * s)).toBeCloseTo(130, 0);
  expect(latestKeeping(600, 85, () => 80)).toBeLessThan(0.3);
});
