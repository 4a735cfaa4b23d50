// Keeps what is known of assigned sensors over a restart: name, kinds, serial number, and the addresses that each was met
// under. One private JSON file in the data folder, replaced as a whole.

import { mkdirSync, readFileSync, renameSync } from 'node:fs';
import { join } from 'node:path';
import * as z from 'zod/mini';
import { idSchema } from '../../../shared/schema-parts.ts';
import { replaceFileLater } from '../../base/replace-file.ts';
import { linkPolicy } from './link-policy.ts';
import type { LinkState, RememberedSensor } from './link-state.ts';

const rememberedSchema = z.object({
  sensorId: idSchema,
  name: z.string().check(z.maxLength(40)),
  kinds: z.array(z.enum(['heartRate', 'oximeter', 'breathing'])),
  serialNumber: z.nullable(z.string().check(z.maxLength(40))),
  addresses: z.array(z.string().check(z.maxLength(80))).check(z.maxLength(linkPolicy.mostAddresses)),
});
const fileSchema = z.object({ version: z.literal(1), sensors: z.array(rememberedSchema) });

export interface SensorMemory {
  /** What was kept; nothing where the file is missing. One that cannot be read is set aside: sensors are then known by address alone. */
  load(): readonly RememberedSensor[];
  /** Writes beside the caller; of several in a row, the last. */
  keep(sensors: readonly RememberedSensor[]): void;
}

/** What there is to be kept of the sensors that somebody wears. */
export function rememberedOf({ sensors, aliases, wanted }: LinkState): readonly RememberedSensor[] {
  return [...sensors.values()]
    .filter(({ sensorId, trial }) => wanted.has(sensorId) && trial === null)
    .map(({ sensorId, name, kinds, serialNumber }) => ({
      sensorId,
      name,
      kinds,
      serialNumber,
      addresses: [...aliases].flatMap(([address, of]) => (of === sensorId ? [address] : [])),
    }));
}

export function sensorMemoryIn(
  dataDirectory: string,
  warn: (message: string, error: unknown) => void,
): SensorMemory {
  const path = join(dataDirectory, 'sensors.json');
  let next: readonly RememberedSensor[] | null = null;
  let writing = false;

  async function write(): Promise<void> {
    if (writing) return;
    writing = true;
    while (next !== null) {
      const text = `${JSON.stringify({ version: 1, sensors: next }, null, 1)}\n`;
      next = null;
      try {
        mkdirSync(dataDirectory, { recursive: true, mode: 0o700 });
        await replaceFileLater(path, text);
      } catch (error) {
        warn('sensors.json unwritten', error);
      }
    }
    writing = false;
  }

  return {
    load() {
      try {
        return z.parse(fileSchema, JSON.parse(readFileSync(path, 'utf8'))).sensors;
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code === 'ENOENT') return [];
        warn('sensors.json unreadable', error);
        try {
          renameSync(path, `${path}.damaged`);
        } catch {
          // It stays where it is and is replaced.
        }
        return [];
      }
    },
    keep(sensors) {
      next = sensors;
      void write();
    },
  };
}
