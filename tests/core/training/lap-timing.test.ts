// Taps on one big button, and the entries they come to.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type TrainingEntry, trainingEntrySchema } from '../../../shared/training-log.ts';
import {
  entryOfTiming,
  type LapTiming,
  lapsWithinMs,
  nextStartMs,
  nextTap,
  repetitionsMs,
  startTiming,
  type TimedKind,
  tapTiming,
  undoTap,
} from '../../../src/training/lap-timing.ts';

const began = 1_790_000_000_000;
const common = {
  entryId: 'e1',
  athleteId: 'mira',
  startedWallAtMs: 1,
  place: '',
  effort: 'easy',
  comfort: null,
  note: '',
} as const;
const entries: Record<TimedKind, TrainingEntry> = {
  poolSet: {
    ...common,
    kind: 'poolSet',
    buddyName: 'Ilvo',
    repetitions: 8,
    distanceMeters: 50,
    everySeconds: 120,
    poolLengthMeters: 25,
    breath: 'free',
    repetitionsSeconds: [],
  },
  timedSwim: {
    ...common,
    kind: 'timedSwim',
    buddyName: 'Ilvo',
    lengthSeconds: 720,
    poolLengthMeters: 25,
    laps: 20,
    furtherMeters: 5,
    lapsAtSeconds: [],
  },
  apneaWalk: {
    ...common,
    kind: 'apneaWalk',
    buddyName: null,
    rounds: 6,
    maximal: false,
    lengthSeconds: 20,
    steps: 30,
  },
};
const timed = (kind: TimedKind, tapsS: readonly number[]): LapTiming =>
  tapsS.reduce((timing, second) => tapTiming(timing, began + second * 1_000), startTiming(kind));

test('a pool set: start and wall in turns; the next start is an interval after the last', () => {
  const set = timed('poolSet', [0, 55, 120, 176.4, 240]);
  expect(repetitionsMs(set)).toEqual([55_000, 56_400]);
  expect(nextTap(set)).toBe('end');
  expect(nextStartMs(set, 120_000)).toBeNull();
  expect(nextStartMs(undoTap(set), 120_000)).toBe(240_000);
  expect(entryOfTiming(entries.poolSet, set)).toMatchObject({
    startedWallAtMs: began,
    repetitions: 2,
    repetitionsSeconds: [55, 56.4],
  });
});

test('a 12-minute swim: laps within the time count, later ones do not', () => {
  const swim = timed('timedSwim', [0, 30, 61, 719, 725]);
  expect(nextTap(swim)).toBe('lap');
  expect(lapsWithinMs(swim, 720_000)).toHaveLength(3);
  expect(entryOfTiming(entries.timedSwim, swim)).toMatchObject({
    laps: 3,
    furtherMeters: 0,
    lapsAtSeconds: [30, 61, 719],
  });
});

test('walks: the usual length, never the longest', () => {
  const walks = timed('apneaWalk', [0, 20, 60, 110, 150, 172]);
  expect(entryOfTiming(entries.apneaWalk, walks)).toMatchObject({
    rounds: 3,
    lengthSeconds: 22,
    steps: null,
  });
});

test('a wet finger that taps twice counts once, and the last tap can be taken back', () => {
  const set = timed('poolSet', [0, 0.3, 40, 40.9]);
  expect(set.tapsMs).toEqual([0, 40_000]);
  expect(undoTap(set).tapsMs).toEqual([0]);
  expect(undoTap(undoTap(undoTap(set))).tapsMs).toEqual([]);
});

test('what was not finished, or is of another kind, leaves the entry as it was', () => {
  expect(entryOfTiming(entries.poolSet, startTiming('poolSet'))).toBe(entries.poolSet);
  expect(entryOfTiming(entries.poolSet, timed('apneaWalk', [0, 20]))).toBe(entries.poolSet);
  expect(entryOfTiming(entries.poolSet, timed('poolSet', [0]))).toMatchObject({ repetitions: 8 });
});

describe('any taps', () => {
  test.each(['poolSet', 'timedSwim', 'apneaWalk'] as const)('%s: an entry the hub takes', (kind) => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: -1_000, max: 200_000 }), { maxLength: 700 }), (steps) => {
        let wallAtMs = began;
        let timing = startTiming(kind);
        for (const step of steps) {
          wallAtMs += step;
          timing = tapTiming(timing, wallAtMs);
        }
        expect(trainingEntrySchema.safeParse(entryOfTiming(entries[kind], timing)).error).toBeUndefined();
      }),
      { numRuns: 60 },
    );
  });
});
