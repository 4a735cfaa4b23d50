// Words about Bluetooth adapters and radios in other rooms, in English.

import type { RadiosBody } from '../../shared/http.ts';

export const enRadios = {
  title: 'Bluetooth adapters and radios',
  firstAdapter: 'Bluetooth adapter',
  /** `name` is the system's, as `--adapter` takes it. */
  adapter: (number: number, name: string) => `Bluetooth adapter ${number} (${name})`,
  adapterAt: (address: string) => `Bluetooth adapter at ${address}`,
  here: 'on the hub’s computer',
  elsewhere: 'in another room',
  state: {
    on: 'works',
    starting: 'is being started',
    off: 'does not work',
    away: 'not reached over the network; what its sensors send is kept there for ten minutes',
  } satisfies Record<RadiosBody['radios'][number]['state'], string>,
  links: (count: number) => (count === 1 ? '1 sensor linked' : `${count} sensors linked`),
  free: (count: number) =>
    count === 0
      ? 'full: plug in another adapter, and the next sensors use it by themselves'
      : count === 1
        ? '1 free place'
        : `${count} free places`,
  freeUnknown: 'has refused no link so far; many adapters take about seven',
  clock: (ms: number) => `times of arrival known to within ${ms}\u202fms`,
  lost: (count: number) => `${count} packets were not kept: it was not reached for too long`,
  more: 'Another adapter is used as soon as it is plugged in; sensors go where the signal is good and links are few. A small computer in another room becomes a radio by a code (as: Radio, above) and the command it shows.',
  sameAs: (sensor: string) => `${sensor} is missed. Is it one of these, under another address?`,
  notAmong: 'No, or not known',
  isSame: (sensor: string, address: string) =>
    `${sensor}, also known under the address that ends with ${address}`,
  notSame: 'It is another sensor',
  codeSteps:
    'On the computer in the other room, with Slackwater installed there and an adapter plugged in, run this. It asks whether the code of the certificate is the one shown here.',
  may: 'A radio brings what its sensors send. It sees nobody and changes nothing, for a year.',
  via: (radio: string) => `by radio ${radio}`,
};
