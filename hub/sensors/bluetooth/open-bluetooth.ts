// Builds the Bluetooth source from settings: one radio process per adapter.

import { type Said, said } from '../../../shared/said.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { type BluetoothRadio, BluetoothSource } from './bluetooth-source.ts';
import { parseHciAddress } from './hci-address.ts';
import type { LinkPolicy } from './link-policy.ts';
import type { ProfileLink, RememberedSensor } from './link-state.ts';
import {
  followAdapters,
  kernelAdapters,
  type OwnAdapters,
  radioIdOf,
  radiosAtFirst,
} from './own-adapters.ts';
import type { Radio } from './radio.ts';
import type { RadioLibrary } from './radio-messages.ts';
import { RadioProcess, type SupervisionPolicy } from './radio-process.ts';
import type { SensorMemory } from './sensor-memory.ts';

export interface BluetoothSettings {
  /**
   * Adapters to use: `default` for every one that the computer has, also those plugged in later; `hci0`, `hci1`, ... for
   * some of them; or an address over which one is reached (`serial:PATH@BAUD`, `tcp:HOST:PORT`, `unix:PATH`).
   */
  readonly adapters: readonly string[];
  readonly library: RadioLibrary;
}

export const defaultBluetoothSettings: BluetoothSettings = {
  adapters: ['default'],
  library: '@abandonware/noble',
};

/** The reason names the adapter that cannot be understood. Nothing is opened yet: that is `start`. */
export function openBluetooth(options: {
  readonly settings: BluetoothSettings;
  readonly clock: Clock;
  readonly log: (line: string) => void;
  readonly remembered: readonly RememberedSensor[];
  readonly memory?: SensorMemory;
  /** The kernel's adapters; asked of the system when left out. */
  readonly listAdapters?: () => readonly number[];
  readonly profiles?: readonly ProfileLink[];
  readonly takeEverything?: boolean;
  /** The radio process's entry, where it is not beside the sources or in the bundle. */
  readonly radioEntry?: string;
  /** Other patience than usual, for machines much slower than usual. */
  readonly policy?: LinkPolicy;
  readonly supervision?: SupervisionPolicy;
}): Result<BluetoothSource, Said> {
  const { settings, clock, log } = options;
  const radios: BluetoothRadio[] = [];
  const ownTransport = settings.library === 'bluez' ? 'bluez' : 'kernel';
  const found: OwnAdapters = {
    clock,
    // bluetoothd has a first adapter of its own, which a person may have chosen.
    list: settings.library === 'bluez' ? () => [] : (options.listAdapters ?? kernelAdapters),
    radioOf: (index) => ({
      ...radioOf(options, radioIdOf(index), index, null),
      transport: ownTransport,
      name: index === null ? 'default' : `hci${index}`,
      isExtra: true,
    }),
  };
  const isFollowed = settings.adapters.includes('default');
  if (isFollowed) radios.push(...radiosAtFirst(found));
  for (const [index, adapter] of settings.adapters.entries()) {
    if (adapter === 'default') continue;
    const kernelIndex = /^hci(\d{1,2})$/.exec(adapter)?.[1];
    if (kernelIndex === undefined) {
      if (settings.library === 'bluez') return failed(said('radio.bluezOwnAdapter', { adapter }));
      const address = parseHciAddress(adapter);
      if (!address.ok) return failed(address.reason);
    } else if (isFollowed) continue;
    const isOwn = kernelIndex !== undefined;
    radios.push({
      ...radioOf(options, `radio${index}`, isOwn ? Number(kernelIndex) : null, isOwn ? null : adapter),
      transport: isOwn ? ownTransport : adapter,
      name: adapter,
    });
  }
  return ok(
    new BluetoothSource({
      clock,
      log,
      radios,
      remembered: options.remembered,
      ...(isFollowed && { beside: (source) => followAdapters(found, source) }),
      ...(options.memory === undefined ? {} : { memory: options.memory }),
      ...(options.policy === undefined ? {} : { policy: options.policy }),
      ...(options.profiles === undefined ? {} : { profiles: options.profiles }),
      ...(options.takeEverything === undefined ? {} : { takeEverything: options.takeEverything }),
    }),
  );
}

/** One adapter as a radio without a source above it. The reason names an adapter that cannot be understood. */
export function oneRadio(options: {
  readonly adapter: string;
  readonly library: RadioLibrary;
  readonly clock: Clock;
  readonly log: (line: string) => void;
}): Result<Radio, Said> {
  const { adapter, library, clock, log } = options;
  const kernelIndex = /^hci(\d{1,2})$/.exec(adapter)?.[1];
  const isOwn = adapter === 'default' || kernelIndex !== undefined;
  if (!isOwn) {
    const address = parseHciAddress(adapter);
    if (!address.ok) return failed(address.reason);
  }
  const settings = { adapters: [adapter], library };
  const index = kernelIndex === undefined ? null : Number(kernelIndex);
  return ok(radioOf({ settings, clock, log }, 'radio0', index, isOwn ? null : adapter).radio);
}

function radioOf(
  {
    settings,
    clock,
    log,
    radioEntry,
    supervision,
  }: Pick<Parameters<typeof openBluetooth>[0], 'settings' | 'clock' | 'log' | 'radioEntry' | 'supervision'>,
  radioId: string,
  adapterIndex: number | null,
  hciAddress: string | null,
): Pick<BluetoothRadio, 'radioId' | 'radio'> {
  const radio = new RadioProcess({
    config: { library: settings.library, adapterIndex, hciAddress },
    clock,
    log,
    ...(radioEntry === undefined ? {} : { entry: radioEntry }),
    ...(supervision === undefined ? {} : { policy: supervision }),
  });
  return { radioId, radio };
}
