// A timing that is going on survives a reload or a phone that closed the page: taps are kept in this browser.

import * as z from 'zod/mini';
import { type TrainingEntry, trainingEntrySchema } from '../../shared/training-log.ts';
import { type LapTiming, timedKinds } from '../../src/training/lap-timing.ts';

const storageKey = 'slackwater.timing';

const keptSchema = z.object({
  entry: trainingEntrySchema,
  timing: z.object({
    kind: z.enum(timedKinds),
    startedWallAtMs: z.number(),
    tapsMs: z.array(z.number()).check(z.minLength(1)),
  }),
});

export interface KeptTiming {
  readonly entry: TrainingEntry;
  readonly timing: LapTiming;
}

export interface LapStorage {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
  removeItem(key: string): void;
}

export function keepTiming(storage: LapStorage, kept: KeptTiming): void {
  try {
    storage.setItem(storageKey, JSON.stringify(kept));
  } catch {
    // Storage full or forbidden: timing goes on without.
  }
}

export function forgetTiming(storage: LapStorage): void {
  try {
    storage.removeItem(storageKey);
  } catch {
    // Storage forbidden: then nothing was kept in it either.
  }
}

/** Nothing of an erased athlete stays in this browser. */
export function forgetTimingOf(storage: LapStorage, athleteId: string): void {
  if (readTiming(storage)?.entry.athleteId === athleteId) forgetTiming(storage);
}

/** What was kept, or null where nothing was or it cannot be read. */
export function readTiming(storage: LapStorage): KeptTiming | null {
  try {
    const parsed = keptSchema.safeParse(JSON.parse(storage.getItem(storageKey) ?? 'null'));
    return parsed.success && parsed.data.entry.kind === parsed.data.timing.kind ? parsed.data : null;
  } catch {
    return null;
  }
}
