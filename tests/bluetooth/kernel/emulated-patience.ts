// Patience for the emulated machine: its processor is some twenty times slower than a real one, and starting a process
// takes seconds.

import { linkPolicy } from '../../../hub/sensors/bluetooth/link-policy.ts';
import { type RadioLibrary, radioLibraries } from '../../../hub/sensors/bluetooth/radio-messages.ts';
import { supervisionPolicy } from '../../../hub/sensors/bluetooth/radio-process.ts';

export const emulatedPolicy = {
  ...linkPolicy,
  connectTimeoutMs: 15_000,
  connectTimeoutCrowdedMs: 15_000,
  cancelTimeoutMs: 40_000,
  closeTimeoutMs: 40_000,
  discoverTimeoutMs: 30_000,
  subscribeTimeoutMs: 30_000,
  probeTimeoutMs: 10_000,
  dropAfterSilenceMs: 20_000,
};
export const emulatedSupervision = { ...supervisionPolicy, heartbeatLimitMs: 30_000, startLimitMs: 60_000 };

/** By the name that LIBRARY gives it (`run.sh`). */
export const libraryOf = (name: string | undefined): RadioLibrary =>
  name === 'bluez' ? 'bluez' : name === 'stoprocent' ? radioLibraries[1] : radioLibraries[0];
