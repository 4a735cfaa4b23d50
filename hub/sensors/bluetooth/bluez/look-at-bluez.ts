// What this computer has of a Bluetooth service, for the checks of the computer: whether it runs, whether this user may speak
// to it, its version, and how long it lets a link outlive a body in the way. Reads; changes nothing.

import { execFile } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { failureOf, problemOfFailure } from './bluez-failures.ts';
import { names } from './bluez-objects.ts';
import { BusClient } from './bus-client.ts';

export interface BluezFound {
  readonly state: 'runs' | 'forbidden' | 'absent';
  /** As `bluetoothctl --version` tells it. */
  readonly version: string | undefined;
  /** The supervision timeout that links are made with; undefined where the kernel's own holds (0.42 s). */
  readonly linkTimeoutMs: number | undefined;
}

const askWithinMs = 3_000;
const settingsPath = '/etc/bluetooth/main.conf';

export async function lookAtBluez(): Promise<BluezFound> {
  const [state, version] = await Promise.all([stateOfDaemon(), versionOfTools()]);
  return { state, version, linkTimeoutMs: linkTimeoutIn(settingsPath) };
}

async function stateOfDaemon(): Promise<BluezFound['state']> {
  let bus: BusClient | undefined;
  try {
    bus = await BusClient.open();
    // Whether it runs now: asking itself would start it, where the system starts it on demand.
    await bus.call({
      destination: 'org.freedesktop.DBus',
      path: '/org/freedesktop/DBus',
      interfaceName: 'org.freedesktop.DBus',
      member: 'GetNameOwner',
      signature: 's',
      body: ['org.bluez'],
      limitMs: askWithinMs,
    });
    await bus.call({
      path: '/',
      interfaceName: names.objectManager,
      member: 'GetManagedObjects',
      limitMs: askWithinMs,
    });
    return 'runs';
  } catch (error) {
    return problemOfFailure(failureOf(error)).problem === 'noPermission' ? 'forbidden' : 'absent';
  } finally {
    bus?.close();
  }
}

/** The daemon itself does not tell it; its tools come with it. */
const versionOfTools = (): Promise<string | undefined> =>
  new Promise((resolve) => {
    execFile('bluetoothctl', ['--version'], { timeout: askWithinMs }, (error, output) =>
      resolve(error === null ? /\d+\.\d+/.exec(output)?.[0] : undefined),
    );
  });

/** `ConnectionSupervisionTimeout` of the section `[LE]`, which is in tens of milliseconds (Core 5.3 Vol 4 Part E s7.8.12). */
export function linkTimeoutIn(path: string): number | undefined {
  let section = '';
  try {
    for (const line of readFileSync(path, 'utf8').split('\n')) {
      section = /^\s*\[(\w+)\]/.exec(line)?.[1] ?? section;
      const value = /^\s*ConnectionSupervisionTimeout\s*=\s*(\d+)/.exec(line)?.[1];
      if (section === 'LE' && value !== undefined) return Number(value) * 10;
    }
  } catch {
    // Without the file the daemon has its own defaults.
  }
  return undefined;
}
