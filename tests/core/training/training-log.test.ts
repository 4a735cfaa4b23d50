// The training log's own rules: a buddy in water, cautions on land, distance of a swim.

import { expect, test } from 'vitest';
import { type TrainingEntry, trainingEntrySchema } from '../../../shared/training-log.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { entryCautions, timedSwimMeters } from '../../../src/training/entry-cautions.ts';

const common = {
  entryId: 'e1',
  athleteId: 'mara',
  startedWallAtMs: 1_750_000_000_000,
  place: 'Indoor pool',
  effort: 'medium',
  comfort: 4,
  note: '',
} as const;
const swim = {
  ...common,
  kind: 'timedSwim',
  buddyName: 'Ivo',
  lengthSeconds: 720,
  poolLengthMeters: 25,
  laps: 23,
  furtherMeters: 10,
  lapsAtSeconds: [],
} as const;
const walk = (change: Partial<Extract<TrainingEntry, { kind: 'apneaWalk' }>>): TrainingEntry => ({
  ...common,
  kind: 'apneaWalk',
  buddyName: null,
  rounds: 1,
  maximal: true,
  lengthSeconds: 50,
  steps: 48,
  ...change,
});

test('an in-water entry without a buddy is not accepted; blanks are no name', () => {
  expect(trainingEntrySchema.safeParse(swim).success).toBe(true);
  for (const buddyName of [null, '', '   ', undefined])
    expect(trainingEntrySchema.safeParse({ ...swim, buddyName }).success).toBe(false);
  expect(trainingEntrySchema.safeParse(walk({})).success).toBe(true);
});

test('the 12-minute swim: 23 lengths of 25 m and 10 m are 585 m (common practice, no source)', () => {
  expect(
    timedSwimMeters(trainingEntrySchema.parse(swim) as Extract<TrainingEntry, { kind: 'timedSwim' }>),
  ).toBe(585);
});

test('a maximal walk alone draws a caution; with someone, or to a set length, none', () => {
  expect(entryCautions(walk({}))).toHaveLength(1);
  expect(entryCautions(walk({})).map(sayInEnglish)[0]).toMatch(/alone/);
  expect(entryCautions(walk({ buddyName: 'Ivo' }))).toEqual([]);
  expect(entryCautions(walk({ maximal: false }))).toEqual([]);
});

test('one breath in water always says how to watch', () => {
  const set: TrainingEntry = {
    ...common,
    kind: 'poolSet',
    buddyName: 'Ivo',
    repetitions: 8,
    distanceMeters: 25,
    everySeconds: 90,
    poolLengthMeters: 25,
    breath: 'one',
    repetitionsSeconds: [],
  };
  expect(entryCautions(set).map(sayInEnglish)[0]).toMatch(/30 s/);
  expect(entryCautions({ ...set, breath: 'free' })).toEqual([]);
});
