// Tells the service manager that the hub is ready, alive and stopping (sd_notify(3)). Node has no datagrams to a local socket, and
// a native module for this is not worth it: the program systemd-notify sends them.

import { spawn } from 'node:child_process';

/** A program that takes longer to send a word hangs. Of our own choosing. */
const wordMs = 5_000;

export interface ServiceManager {
  ready(): void;
  /** Told at most once in half of the time that the manager waits. */
  alive(atMs: number): void;
  stopping(): void;
}

/** Undefined where no service manager waits for words. */
export function findServiceManager(
  env: NodeJS.ProcessEnv,
  failed: (reason: string) => void,
): ServiceManager | undefined {
  if (env['NOTIFY_SOCKET'] === undefined) return undefined;
  const watchdogUs = Number(env['WATCHDOG_USEC'] ?? Number.NaN);
  // sd_watchdog_enabled(3): half of the time is recommended.
  const aliveEveryMs = watchdogUs > 0 ? watchdogUs / 2_000 : Number.POSITIVE_INFINITY;
  let lastAliveAtMs = Number.NEGATIVE_INFINITY;
  let hasFailed = false;
  const fail = (reason: string): void => {
    if (!hasFailed) failed(reason);
    hasFailed = true;
  };
  const run = (word: string): Promise<void> =>
    new Promise((resolve) => {
      const child = spawn('systemd-notify', [word], { stdio: 'ignore', timeout: wordMs });
      child.once('error', (error) => {
        fail(error.message);
        resolve();
      });
      child.once('exit', (code) => {
        if (code !== 0 && code !== null) fail(`${word}: ${code}`);
        resolve();
      });
    });
  // One after the other: each is a program of its own, and on a busy machine the second may overtake the first.
  let told = Promise.resolve();
  const tell = (word: string): void => {
    told = told.then(() => run(word));
  };
  return {
    ready: () => tell('READY=1'),
    alive(atMs) {
      if (atMs - lastAliveAtMs < aliveEveryMs) return;
      lastAliveAtMs = atMs;
      tell('WATCHDOG=1');
    },
    stopping: () => tell('STOPPING=1'),
  };
}
