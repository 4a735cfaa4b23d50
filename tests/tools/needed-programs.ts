// Tests that need programs which npm does not bring. Where these are not installed such tests are left out, and what to install is said.

import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';

export interface LeftOut {
  readonly what: string;
  /** Patterns of test files, from the repository's root. */
  readonly files: readonly string[];
  readonly packages: string;
}

const isThere = (...paths: readonly string[]): boolean => paths.some(existsSync);
const runs = (program: string, ...options: readonly string[]): boolean => {
  try {
    execFileSync(program, options, { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
};

/** What cannot be tested on this machine; empty where everything is installed. */
export function leftOutHere(): LeftOut[] {
  const leftOut: LeftOut[] = [];
  const hasCompiler = runs('gcc', '--version');
  if (!isThere('/usr/bin/btvirt') || !hasCompiler)
    leftOut.push({
      what: 'Bluetooth',
      files: ['tests/bluetooth/**'],
      packages: 'bluez-test-tools gcc libc6-dev',
    });
  if (!runs('dbus-daemon', '--version') || !runs('/usr/bin/python3', '-c', 'import dbus, gi'))
    leftOut.push({
      what: 'Bluetooth over D-Bus',
      files: ['tests/bluetooth/bluez/**'],
      packages: 'dbus python3-dbus python3-gi',
    });
  if (!isThere('/usr/sbin/nats-server', '/usr/bin/nats-server') || !isThere('/usr/lib/postgresql'))
    leftOut.push({
      what: 'school',
      files: ['tests/hub/school/**', 'tests/browser/school.test.ts'],
      packages: 'nats-server postgresql',
    });
  return leftOut;
}
