// Builds the Bluetooth source from settings: one radio process per adapter.

import { type Said, said } from '../../../shared/said.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { BluetoothSource } from './bluetooth-source.ts';
import { parseHciAddress } from './hci-address.ts';
import type { LinkPolicy } from './link-policy.ts';
import type { ProfileLink, RememberedSensor } from './link-state.ts';
import type { RadioLibrary } from './radio-messages.ts';
import { RadioProcess, type SupervisionPolicy } from './radio-process.ts';

export interface BluetoothSettings {
  /**
   * Adapters to use: `default`, `hci0`, `hci1`, ... for the computer's own, or an address over which one is reached
   * (`serial:PATH@BAUD`, `tcp:HOST:PORT`, `unix:PATH`).
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
  readonly profiles?: readonly ProfileLink[];
  readonly takeEverything?: boolean;
  /** The radio process's entry, where it is not beside the sources or in the bundle. */
  readonly radioEntry?: string;
  /** Other patience than usual, for machines much slower than usual. */
  readonly policy?: LinkPolicy;
  readonly supervision?: SupervisionPolicy;
}): Result<BluetoothSource, Said> {
  const { settings, clock, log } = options;
  const radios = [];
  for (const [index, adapter] of settings.adapters.entries()) {
    const kernelIndex = /^hci(\d{1,2})$/.exec(adapter)?.[1];
    const kernel = adapter === 'default' || kernelIndex !== undefined;
    if (!kernel && settings.library === 'bluez') return failed(said('radio.bluezOwnAdapter', { adapter }));
    if (!kernel) {
      const address = parseHciAddress(adapter);
      if (!address.ok) return failed(address.reason);
    }
    radios.push({
      radioId: `radio${index}`,
      transport: settings.library === 'bluez' ? 'bluez' : kernel ? 'kernel' : adapter,
      radio: new RadioProcess({
        config: {
          library: settings.library,
          adapterIndex: kernelIndex === undefined ? null : Number(kernelIndex),
          hciAddress: kernel ? null : adapter,
        },
        clock,
        log,
        ...(options.radioEntry === undefined ? {} : { entry: options.radioEntry }),
        ...(options.supervision === undefined ? {} : { policy: options.supervision }),
      }),
    });
  }
  return ok(
    new BluetoothSource({
      clock,
      log,
      radios,
      remembered: options.remembered,
      ...(options.policy === undefined ? {} : { policy: options.policy }),
      ...(options.profiles === undefined ? {} : { profiles: options.profiles }),
      ...(options.takeEverything === undefined ? {} : { takeEverything: options.takeEverything }),
    }),
  );
}
