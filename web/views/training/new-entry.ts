// A training entry before it is filled in, one kind or another, and made ready to be saved. Pure.

import * as z from 'zod/mini';
import {
  type TrainingEntry,
  type TrainingEntryKind,
  trainingEntrySchema,
} from '../../../shared/training-log.ts';
import { isInWater } from '../../../src/training/entry-cautions.ts';
import { type TimedKind, timedKinds } from '../../../src/training/lap-timing.ts';

/** In the order they are offered. */
export const entryKinds: readonly TrainingEntryKind[] = [
  'poolSet',
  'timedSwim',
  'apneaWalk',
  'maximalDryHold',
  'maximalInWater',
];

export function emptyEntry(
  kind: TrainingEntryKind,
  athleteId: string,
  entryId: string,
  startedWallAtMs: number,
): TrainingEntry {
  const common = {
    entryId,
    athleteId,
    startedWallAtMs,
    place: '',
    effort: 'medium',
    comfort: null,
    note: '',
  } as const;
  switch (kind) {
    case 'poolSet':
      return {
        ...common,
        kind,
        buddyName: '',
        repetitions: 8,
        distanceMeters: 50,
        everySeconds: 120,
        poolLengthMeters: 25,
        breath: 'free',
        repetitionsSeconds: [],
      };
    case 'timedSwim':
      return {
        ...common,
        kind,
        buddyName: '',
        lengthSeconds: 720,
        poolLengthMeters: 25,
        laps: 20,
        furtherMeters: 0,
        lapsAtSeconds: [],
      };
    case 'apneaWalk':
      return { ...common, kind, buddyName: null, rounds: 6, maximal: false, lengthSeconds: 20, steps: null };
    case 'maximalDryHold':
      return { ...common, kind, buddyName: null, lengthSeconds: 120 };
    case 'maximalInWater':
      return {
        ...common,
        kind,
        buddyName: '',
        discipline: 'distance',
        lengthSeconds: null,
        distanceMeters: 25,
      };
  }
}

/** Of another kind, with all that both have: when, where, with whom, how hard and how it was. */
export function asKind(entry: TrainingEntry, kind: TrainingEntryKind): TrainingEntry {
  const { startedWallAtMs, place, effort, comfort, note, minutes = null } = entry;
  const empty = emptyEntry(kind, entry.athleteId, entry.entryId, startedWallAtMs);
  const buddyName = entry.buddyName ?? '';
  return { ...empty, place, effort, comfort, note, minutes, buddyName };
}

/** One as it is being written: who the buddy is may still be missing. */
export const entryDraftSchema = z.custom<TrainingEntry>((value) => {
  if (typeof value !== 'object' || value === null) return false;
  const isNameless = 'buddyName' in value && value.buddyName === '';
  return trainingEntrySchema.safeParse(isNameless ? { ...value, buddyName: 'x' } : value).success;
});

/** As it is stored: an empty name is nobody's. In water it stays as typed: somebody has to be named. */
export function withoutEmptyBuddy(entry: TrainingEntry): TrainingEntry {
  const buddyName = entry.buddyName?.trim() ?? '';
  switch (entry.kind) {
    case 'apneaWalk':
    case 'maximalDryHold':
      return { ...entry, buddyName: buddyName === '' ? null : buddyName };
    default:
      return { ...entry, buddyName };
  }
}

/** Nobody trains breath-holding in water alone. */
export const buddyIsMissing = (entry: TrainingEntry): boolean =>
  isInWater(entry) && (entry.buddyName?.trim() ?? '') === '';

/** What lap buttons would time of it; undefined for kinds that are not timed. */
export const timedKindOf = (entry: TrainingEntry): TimedKind | undefined =>
  timedKinds.find((kind) => kind === entry.kind);
