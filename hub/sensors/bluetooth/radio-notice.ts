// What to tell a person when a radio cannot be used: what is wrong, and what to do about it on this operating system.

import type { RadioProblem } from './radio.ts';

/** The systems that advice differs between; any other is treated as `linux`. */
export type Platform = 'linux' | 'darwin' | 'win32';

export const platformOf = (name: string): Platform =>
  name === 'darwin' || name === 'win32' ? name : 'linux';

/**
 * One or two sentences for the page.
 * @param transport 'kernel' for the computer's own adapter; otherwise where the adapter is reached.
 * @param reason what the library or the system said, shown last in brackets.
 */
export function radioNotice(
  problem: RadioProblem,
  platform: Platform,
  transport: 'kernel' | string,
  reason: string,
): string {
  const said = reason === '' ? '' : ` (${reason})`;
  if (transport !== 'kernel' && (problem === 'noAdapter' || problem === 'adapterOff')) {
    return `The Bluetooth adapter at ${transport} cannot be reached. Check the cable and the address; the hub keeps trying.${said}`;
  }
  return `${advice[problem][platform]}${said}`;
}

const everywhere = (text: string) => ({ linux: text, darwin: text, win32: text });

const advice: Record<RadioProblem, Record<Platform, string>> = {
  noBluetooth: {
    linux:
      'This system has no Bluetooth support: the kernel lacks it or it is blocked in a container or virtual machine. Run the hub on the host itself, or use a radio board on a serial port.',
    darwin:
      'This Mac offers no Bluetooth. Run the hub on the machine itself rather than in a virtual machine, or use a radio board on a serial port.',
    win32:
      'Windows offers no Bluetooth Low Energy here; it takes Windows 10 version 1703 or later and an adapter. Update, plug in an adapter, or use a radio board on a serial port.',
  },
  noAdapter: {
    linux:
      'No Bluetooth adapter was found. Plug one in; if there is one, see whether "bluetoothctl list" names it. The hub keeps looking.',
    darwin: 'No Bluetooth adapter was found. Check System Settings, Bluetooth. The hub keeps looking.',
    win32:
      'No Bluetooth adapter was found. Plug one in, or look for it in Device Manager under Bluetooth. The hub keeps looking.',
  },
  noPermission: {
    linux:
      'The hub may not use the Bluetooth adapter: it needs CAP_NET_RAW. Run: sudo setcap cap_net_raw+eip "$(readlink -f "$(which node)")" and start the hub again; under systemd set AmbientCapabilities=CAP_NET_RAW instead.',
    darwin:
      'The hub may not use Bluetooth. Open System Settings, Privacy & Security, Bluetooth, allow the terminal you started the hub from, and start the hub again.',
    win32:
      'The hub may not use Bluetooth. Open Settings, Privacy & security, and allow desktop apps to use radios; then start the hub again.',
  },
  adapterOff: {
    linux:
      'The Bluetooth adapter is switched off. Run "bluetoothctl power on"; if that is refused, "rfkill unblock bluetooth". The hub goes on by itself.',
    darwin:
      'Bluetooth is switched off. Turn it on in Control Centre or System Settings. The hub goes on by itself.',
    win32:
      'Bluetooth is switched off. Turn it on in Settings, Bluetooth & devices. The hub goes on by itself.',
  },
  unsupported: everywhere(
    'There is no Bluetooth Low Energy here, which heart rate and oximeter sensors need: the adapter is older than version 4.0, or the system (a container, perhaps) has no Bluetooth at all. Use an adapter of version 4.0 or later on the host itself.',
  ),
  libraryMissing: {
    linux:
      'The Bluetooth library could not be loaded. Run "npm install" again with a C++ compiler and Python 3 present; until then, recordings, replay and the simulator work.',
    darwin:
      'The Bluetooth library could not be loaded. Run "npm install" again with the Xcode command line tools present; until then, recordings, replay and the simulator work.',
    win32:
      'The Bluetooth library could not be loaded. Run "npm install" again with the Visual Studio C++ build tools present; until then, recordings, replay and the simulator work.',
  },
  radioProcessFailed: everywhere(
    'The Bluetooth process stopped and is being started again. If this goes on, unplug the adapter and plug it in again.',
  ),
};

/**
 * Sorts what a Bluetooth library or the system said into a problem. Error codes first, then the words that the two
 * supported libraries use; anything unknown on a system that had got as far as an adapter is `noAdapter`.
 */
export function problemOf(message: string): RadioProblem {
  if (/EAFNOSUPPORT|EPROTONOSUPPORT|address family not supported|protocol not supported/i.test(message)) {
    return 'noBluetooth';
  }
  if (/EPERM|EACCES|not permitted|permission denied|unauthori[sz]ed/i.test(message)) return 'noPermission';
  if (
    /cannot find (?:module|package)|could not locate the bindings|NODE_MODULE_VERSION|ERR_DLOPEN|no native build|MODULE_NOT_FOUND/i.test(
      message,
    )
  ) {
    return 'libraryMissing';
  }
  if (/ENETDOWN|network is down|powered ?off/i.test(message)) return 'adapterOff';
  if (/unsupported/i.test(message)) return 'unsupported';
  return 'noAdapter';
}
