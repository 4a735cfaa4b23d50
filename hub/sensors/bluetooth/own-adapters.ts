// Which Bluetooth adapters this computer has, and keeping a radio for each of them as they are plugged in and out.

import { readdirSync } from 'node:fs';
import type { Clock } from '../../base/ports/clock.ts';
import type { BluetoothRadio, BluetoothSource } from './bluetooth-source.ts';

/** Plugging in is done by hand: nobody notices two seconds. */
const lookEveryMs = 2_000;

/** Numbers of the kernel's adapters, in order; empty where there are none, or where the system has no such list. */
export function kernelAdapters(folder = '/sys/class/bluetooth'): readonly number[] {
  try {
    return readdirSync(folder)
      .flatMap((name) => /^hci(\d{1,2})$/.exec(name)?.slice(1).map(Number) ?? [])
      .sort((a, b) => a - b);
  } catch {
    return [];
  }
}

export interface OwnAdapters {
  readonly clock: Clock;
  readonly list: () => readonly number[];
  /** null: whichever the system takes for its first, which is also how to say that there is none. */
  readonly radioOf: (adapterIndex: number | null) => BluetoothRadio;
}

/** `null`: whichever adapter the system takes for its first. */
export const radioIdOf = (adapterIndex: number | null): string =>
  adapterIndex === null ? 'radio0' : `hci${adapterIndex}`;

/** One radio an adapter; without any, one that says so and keeps looking. */
export const radiosAtFirst = ({ list, radioOf }: OwnAdapters): readonly BluetoothRadio[] => {
  const found = list();
  return found.length === 0 ? [radioOf(null)] : found.map(radioOf);
};

/**
 * Adds what is plugged in and removes what is pulled out, but for the last: that one tells what is wrong. Answers with what
 * ends it.
 */
export function followAdapters({ clock, list, radioOf }: OwnAdapters, source: BluetoothSource): () => void {
  return clock.every(lookEveryMs, () => {
    const found = list();
    if (found.length === 0) return;
    const ids = new Set(found.map(radioIdOf));
    const have = new Set(
      source.radios.flatMap(({ radioId, deviceId }) => (deviceId === null ? radioId : [])),
    );
    for (const index of found) if (!have.has(radioIdOf(index))) source.addRadio(radioOf(index));
    for (const radioId of have) if (!ids.has(radioId)) void source.removeRadio(radioId);
  });
}
