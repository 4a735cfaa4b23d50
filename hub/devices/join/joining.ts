// Who comes in: the hub's own person, and from the network the devices that have joined.

import type { LanAccess } from '../lan/lan-access.ts';
import type { OwnPerson } from '../own-person/own-person.ts';
import type { DeviceRegister } from './device-register.ts';

export interface Joining {
  readonly ownPerson: OwnPerson;
  readonly devices: DeviceRegister;
  /** Null while the hub listens on its own machine only. */
  readonly lan: LanAccess | null;
}
