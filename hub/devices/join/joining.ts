// How other devices come in: who has joined, and the way to the hub from the network.

import type { LanAccess } from '../lan/lan-access.ts';
import type { DeviceRegister } from './device-register.ts';

export interface Joining {
  readonly devices: DeviceRegister;
  /** Null while the hub listens on its own machine only. */
  readonly lan: LanAccess | null;
}
