// The BootClock port on Linux (proc(5): random/boot_id; libuv reads the time since boot with sleep, CLOCK_BOOTTIME). Other systems
// name no start of theirs, and their time since boot moves with the wall clock.

import { readFileSync } from 'node:fs';
import { uptime } from 'node:os';
import type { BootClock } from './ports/boot-clock.ts';

/** Undefined where the system has none. */
export function systemBootClock(): BootClock | undefined {
  try {
    const bootId = readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim();
    return bootId === '' ? undefined : { bootId, sinceBootMs: () => uptime() * 1_000 };
  } catch {
    return undefined;
  }
}
