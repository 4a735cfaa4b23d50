// Keeps the joined devices across restarts: one private JSON file in the data directory, replaced as a whole.
// It holds hashes of tokens, never a token.

import { existsSync, mkdirSync, readFileSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import * as z from 'zod/mini';
import { deviceViewSchema } from '../../../shared/http.ts';
import { type Said, said } from '../../../shared/said.ts';
import { replaceFileLater } from '../../base/replace-file.ts';

const storedDeviceSchema = z.object({
  ...deviceViewSchema.shape,
  /** SHA-256 of the token, hex. */
  tokenHash: z.string().check(z.regex(/^[0-9a-f]{64}$/)),
});
export type StoredDevice = z.infer<typeof storedDeviceSchema>;

const fileSchema = z.object({ version: z.literal(1), devices: z.array(storedDeviceSchema) });

/** Where the register keeps its devices. */
export interface DeviceFile {
  /** What was kept; `notice` says what could not be read. */
  load(): { devices: readonly StoredDevice[]; notice: Said | null };
  /**
   * Rejects with what the file system throws; then what was kept before still stands. Waits for the disk beside the calling
   * thread, which also carries alarms. Not twice at once.
   */
  save(devices: readonly StoredDevice[]): Promise<void>;
}

/** The devices of a data directory. A damaged file is set aside, and its devices have to join again. */
export function deviceFileIn(dataDirectory: string): DeviceFile {
  const path = join(dataDirectory, 'devices.json');
  return {
    load() {
      if (!existsSync(path)) return { devices: [], notice: null };
      try {
        const { devices } = z.parse(fileSchema, JSON.parse(readFileSync(path, 'utf8')));
        return { devices, notice: null };
      } catch (error) {
        return { devices: [], notice: setAside(path, error) };
      }
    },
    async save(devices) {
      mkdirSync(dataDirectory, { recursive: true, mode: 0o700 });
      await replaceFileLater(path, `${JSON.stringify({ version: 1, devices }, null, 1)}\n`);
    },
  };
}

/** Keeps nothing: for a hub that lets no device in, or leaves no trace. */
export const noDeviceFile: DeviceFile = {
  load: () => ({ devices: [], notice: null }),
  save: async () => undefined,
};

function setAside(path: string, cause: unknown): Said {
  const reason = cause instanceof Error ? (cause.message.split('\n')[0] ?? '') : String(cause);
  try {
    renameSync(path, `${path}.damaged`);
    return said('lan.devicesSetAside', { path, reason });
  } catch {
    // It stays where it is and is replaced at the next join.
    return said('lan.devicesUnreadable', { path, reason });
  }
}
