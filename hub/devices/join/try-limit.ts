// Bounds how often wrong join codes may be tried: a few from one address, more from all together, but the first try of an
// address is heard beyond that, so that nobody's wrong codes lock joining for the others.

import type { ProcessMs } from '../../../shared/units.ts';

const windowMs = 10 * 60_000;
/** A person mistypes once or twice. */
const mostFromOneAddress = 5;
/** One network neighbour can take many IPv6 addresses, so further tries of all together are bounded too. */
const mostFromAll = 60;
/** An address that has not tried yet is heard until so many have: then someone has thousands of addresses. */
const mostFirstFromAll = 3_000;

export interface TryLimit {
  /** Milliseconds until this address may try again; 0 when it may now. */
  waitMs(address: string, nowMs: ProcessMs): number;
  countWrong(address: string, nowMs: ProcessMs): void;
}

export function createTryLimit(): TryLimit {
  let wrong: { address: string; atMs: ProcessMs }[] = [];

  /** When the oldest of the last `most` leaves the window, or 0 when fewer stand in it. */
  function waitOf(tries: readonly { atMs: ProcessMs }[], most: number, nowMs: ProcessMs): number {
    const oldest = tries.at(-most);
    return oldest === undefined ? 0 : oldest.atMs + windowMs - nowMs;
  }

  return {
    waitMs(address, nowMs) {
      wrong = wrong.filter((entry) => nowMs - entry.atMs < windowMs);
      const own = wrong.filter((entry) => entry.address === address);
      if (own.length === 0) return waitOf(wrong, mostFirstFromAll, nowMs);
      return Math.max(waitOf(own, mostFromOneAddress, nowMs), waitOf(wrong, mostFromAll, nowMs));
    },
    countWrong(address, nowMs) {
      wrong.push({ address, atMs: nowMs });
    },
  };
}
