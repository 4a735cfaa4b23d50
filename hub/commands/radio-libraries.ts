// The ways to Bluetooth by the names that settings give them.

import type { RadioLibrary } from '../sensors/bluetooth/radio-messages.ts';

export const radioLibraries = {
  noble: '@abandonware/noble',
  stoprocent: '@stoprocent/noble',
  bluez: 'bluez',
} as const satisfies Record<string, RadioLibrary>;

export const isRadioName = (name: string): name is keyof typeof radioLibraries =>
  Object.hasOwn(radioLibraries, name);
