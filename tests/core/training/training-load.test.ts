// Effort times minutes, by the published scale, of every kind of training.

import { describe, expect, test } from 'vitest';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { loadOf, loadOfWeek, minutesOfEntry } from '../../../src/training/training-load.ts';

const common = {
  entryId: 'e',
  athleteId: 'mira',
  startedWallAtMs: 0,
  place: '',
  effort: 'medium',
  comfort: null,
  note: '',
} as const;
const pool: TrainingEntry = {
  ...common,
  kind: 'poolSet',
  buddyName: 'Ilvo',
  repetitions: 8,
  distanceMeters: 50,
  everySeconds: 120,
  poolLengthMeters: 25,
  breath: 'free',
  repetitionsSeconds: [],
};

describe('load of training', () => {
  // Foster et al. 2001 (reference 10.01): 2 easy, 3 moderate, 5 hard; an hour rated 3 is 180.
  test('rating times minutes, with the anchors of the scale', () => {
    expect(loadOf({ effort: 'easy', minutes: 60 })).toBe(120);
    expect(loadOf({ effort: 'medium', minutes: 60 })).toBe(180);
    expect(loadOf({ effort: 'hard', minutes: 60 })).toBe(300);
    expect(loadOf({ effort: null, minutes: 60 })).toBeNull();
    expect(loadOf({ effort: 'hard', minutes: null })).toBeNull();
  });

  test('how long an entry took: as it says, else by its numbers, and not made up for a single maximal hold', () => {
    expect(minutesOfEntry(pool)).toBe(16);
    expect(minutesOfEntry({ ...pool, minutes: 45 })).toBe(45);
    const walk: TrainingEntry = {
      ...common,
      kind: 'apneaWalk',
      buddyName: null,
      rounds: 6,
      maximal: false,
      lengthSeconds: 20,
      steps: null,
    };
    expect(minutesOfEntry(walk)).toBe(6);
    expect(minutesOfEntry({ ...walk, lengthSeconds: null, steps: 44 })).toBeNull();
    const hold: TrainingEntry = { ...common, kind: 'maximalDryHold', buddyName: 'Ilvo', lengthSeconds: 150 };
    expect(minutesOfEntry(hold)).toBeNull();
    expect(minutesOfEntry({ ...hold, minutes: 30 })).toBe(30);
  });

  test('a week says how many of its sessions it leaves out', () => {
    expect(
      loadOfWeek([
        { effort: 'easy', minutes: 30 },
        { effort: null, minutes: 60 },
        { effort: 'hard', minutes: 12 },
      ]),
    ).toEqual({ load: 120, sessionCount: 3, unknownCount: 1 });
    expect(loadOfWeek([])).toEqual({ load: 0, sessionCount: 0, unknownCount: 0 });
  });
});
