// What this browser kept under a key: named values of any form, each checked by whoever reads them.

import * as z from 'zod/mini';

export interface RecordStorage {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
}

const recordSchema = z.record(z.string(), z.unknown());

/** Nothing where nothing was kept, or storage is forbidden or unreadable: the defaults stand. */
export function readRecord(storage: RecordStorage, key: string): Readonly<Record<string, unknown>> {
  try {
    const parsed = recordSchema.safeParse(JSON.parse(storage.getItem(key) ?? '{}'));
    return parsed.success ? parsed.data : {};
  } catch {
    return {};
  }
}

/** Storage may be full or forbidden: then what was chosen holds until the page is closed. */
export function keepRecord(
  storage: RecordStorage,
  key: string,
  record: Readonly<Record<string, unknown>>,
): void {
  try {
    storage.setItem(key, JSON.stringify(record));
  } catch {
    // As said above.
  }
}
