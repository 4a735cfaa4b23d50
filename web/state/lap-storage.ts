// A timing that is going on survives a reload or a phone that closed the page: taps are kept in this browser.

import { type TrainingEntry, trainingEntrySchema } from '../../shared/training-log.ts';
import { type LapTiming, timedKinds } from '../../src/training/lap-timing.ts';

const storageKey = 'slackwater.timing';

export interface KeptTiming {
  readonly entry: TrainingEntry;
  readonly timing: LapTiming;
}

export interface LapStorage {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
  removeItem(key: string): void;
}

/** Storage may be full or forbidden: timing goes on without. */
export function keepTiming(storage: LapStorage, kept: KeptTiming): void {
  try {
    storage.setItem(storageKey, JSON.stringify(kept));
  } catch {}
}

export function forgetTiming(storage: LapStorage): void {
  try {
    storage.removeItem(storageKey);
  } catch {}
}

/** Nothing of an erased athlete stays in this browser. */
export function forgetTimingOf(storage: LapStorage, athleteId: string): void {
  if (readTiming(storage)?.entry.athleteId === athleteId) forgetTiming(storage);
}

/** What was kept, or null where nothing was or it cannot be read. */
export function readTiming(storage: LapStorage): KeptTiming | null {
  try {
    const { entry, timing } = JSON.parse(storage.getItem(storageKey) ?? 'null') as KeptTiming;
    const parsed = trainingEntrySchema.safeParse(entry);
    const sound =
      parsed.success &&
      timedKinds.includes(timing.kind) &&
      parsed.data.kind === timing.kind &&
      Number.isFinite(timing.startedWallAtMs) &&
      timing.tapsMs.length > 0 &&
      timing.tapsMs.every((atMs) => Number.isFinite(atMs));
    return sound ? { entry: parsed.data, timing } : null;
  } catch {
    return null;
  }
}
