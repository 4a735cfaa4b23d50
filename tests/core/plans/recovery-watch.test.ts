// When is someone back near rest? Told in seconds of readings around one hold.

import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import {
  newRecoveryWatch,
  type RecoveryChannel,
  type RecoveryEvent,
  type RecoveryWatch,
  stepRecoveryWatch,
  vitalsOf,
} from '../../../src/plans/recovery-watch.ts';

const second = (at: number) => monotonicMs(at * 1_000);
const readings = (channel: RecoveryChannel, from: number, values: readonly number[]): RecoveryEvent[] =>
  values.map((value, index) => ({ type: 'reading', channel, atMs: second(from + index), value }));
const watchThrough = (events: readonly RecoveryEvent[], from: RecoveryWatch = newRecoveryWatch) =>
  events.reduce(stepRecoveryWatch, from);
const steady = (value: number, count: number) => Array.from({ length: count }, () => value);

const held = watchThrough([
  ...readings('saturation', 0, steady(98, 60)),
  ...readings('heartRate', 0, steady(60, 60)),
  { type: 'holdStarted', atMs: second(60) },
  ...readings('saturation', 60, steady(92, 60)),
  ...readings('heartRate', 60, steady(50, 60)),
  { type: 'holdEnded', atMs: second(120) },
]);

test('nothing is known without a sensor', () => {
  expect(
    vitalsOf(
      watchThrough([
        { type: 'holdStarted', atMs: second(1) },
        { type: 'holdEnded', atMs: second(60) },
      ]),
    ),
  ).toEqual({
    saturationBack: null,
    heartRateBack: null,
  });
});

test('after a hold neither is back until it has been near rest for ten seconds', () => {
  expect(vitalsOf(held)).toEqual({ saturationBack: false, heartRateBack: false });
  const falling = watchThrough(readings('saturation', 120, [90, 88, 87, 88, 91, 94, 95, 96]), held);
  expect(vitalsOf(falling).saturationBack).toBe(false);
  // 95 % from second 126 on: steady for ten seconds at second 136.
  const nine = watchThrough(readings('saturation', 128, steady(97, 8)), falling);
  expect(vitalsOf(nine).saturationBack).toBe(false);
  expect(vitalsOf(watchThrough(readings('saturation', 136, [97]), nine)).saturationBack).toBe(true);
});

test('heart rate far above rest is not back; within 15 /min it is', () => {
  expect(vitalsOf(watchThrough(readings('heartRate', 120, steady(80, 20)), held)).heartRateBack).toBe(false);
  expect(vitalsOf(watchThrough(readings('heartRate', 120, steady(74, 20)), held)).heartRateBack).toBe(true);
});

test('someone whose rest is 96 % is back at 94 %', () => {
  const watch = watchThrough([
    ...readings('saturation', 0, steady(96, 60)),
    { type: 'holdStarted', atMs: second(60) },
    { type: 'holdEnded', atMs: second(120) },
    ...readings('saturation', 120, steady(94, 11)),
  ]);
  expect(vitalsOf(watch).saturationBack).toBe(true);
});

test('silence of the sensor makes it unknown again, not back', () => {
  expect(vitalsOf(watchThrough([{ type: 'time', atMs: second(140) }], held))).toEqual({
    saturationBack: null,
    heartRateBack: null,
  });
});
