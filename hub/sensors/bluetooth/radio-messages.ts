// What passes through the pipe between the hub and a radio process. Both ends are ours and of one build, so these are
// plain types; times in events are on the radio process's own clock until the hub maps them.

import type { RadioCommand, RadioEvent } from './radio.ts';

/** The libraries a radio process can run on; the second is a drop-in for the first. */
export const radioLibraries = ['@abandonware/noble', '@stoprocent/noble'] as const;
/** What a radio process works through: one of the libraries, or the system's own service over D-Bus. */
export type RadioLibrary = (typeof radioLibraries)[number] | 'bluez';

/** How one radio process is set up. Passed as its single argument, in JSON. */
export interface RadioProcessConfig {
  readonly library: RadioLibrary;
  /** Number of the kernel's adapter (hci0 is 0); null takes the first. */
  readonly adapterIndex: number | null;
  /** An adapter reached over H4 in the form of `hci-address.ts`; null for the computer's own. */
  readonly hciAddress: string | null;
}

export type ToRadioProcess =
  | { readonly type: 'command'; readonly command: RadioCommand }
  | { readonly type: 'ping'; readonly askedAtMs: number }
  | { readonly type: 'shutdown' };

export type FromRadioProcess =
  | { readonly type: 'event'; readonly event: RadioEvent }
  | { readonly type: 'pong'; readonly askedAtMs: number; readonly answeredAtMs: number }
  /** Something threw where nothing should, mostly over bytes that the library could not parse. Counted and logged. */
  | { readonly type: 'fault'; readonly message: string };
