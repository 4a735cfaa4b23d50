// What to tell a person when a radio cannot be used: what is wrong, and what to do about it on this operating system.

import { type Said, said } from '../../../shared/said.ts';
import type { RadioProblem } from './radio.ts';

/** The systems that advice differs between; any other is treated as `linux`. */
export type Platform = 'linux' | 'darwin' | 'win32';

export const platformOf = (name: string): Platform =>
  name === 'darwin' || name === 'win32' ? name : 'linux';

/**
 * What to tell of a radio that cannot be used.
 * @param transport 'kernel' or 'bluez' for the computer's own adapter; otherwise where the adapter is reached.
 * @param reason what the library or the system said, shown last in brackets; null where it said nothing.
 */
export function radioNotice(
  problem: RadioProblem,
  platform: Platform,
  transport: 'kernel' | 'bluez' | string,
  reason: Said | null,
): Said {
  const advice = adviceOn(problem, platform, transport);
  return reason === null ? advice : said('radio.because', { advice, reason });
}

function adviceOn(problem: RadioProblem, platform: Platform, transport: string): Said {
  if (problem === 'noDaemon') return said('radio.noDaemon');
  if (transport === 'bluez' && problem === 'noPermission') return said('radio.noPermission.bluez');
  if (
    transport !== 'kernel' &&
    transport !== 'bluez' &&
    (problem === 'noAdapter' || problem === 'adapterOff')
  )
    return said('radio.unreachable', { transport });
  if (problem === 'unsupported' || problem === 'radioProcessFailed' || problem === 'notReached')
    return said(`radio.${problem}`);
  return said(`radio.${problem}.${platform}`);
}

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
