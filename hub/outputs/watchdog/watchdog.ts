// The hub's end of the watchdog: starts its process, tells it of each round, and starts another when it dies.

import { type ChildProcess, spawn } from 'node:child_process';
import { findBuiltFile } from '../../base/built-file.ts';
import type { Config } from '../../base/config.ts';
import { HubError, told } from '../../base/hub-error.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { wordEveryMs } from './watch-rule.ts';

export type WatchdogSettings = Pick<
  Config,
  'alarm-sound' | 'alarm-command' | 'alarm-webhook' | 'alarm-webhook-secret'
> & {
  /** The folder of the recordings, by which watchdogs know those that came before. */
  readonly data: string;
};

export interface Watchdog {
  /** The alarm path went round; `monitoring` says whether a session runs. */
  wentRound(monitoring: boolean): void;
  /** The hub stops in order. */
  close(): void;
}

export interface WatchdogOptions {
  readonly clock: Clock;
  readonly settings: WatchdogSettings;
  /** It does not run; told once until it runs again. */
  readonly failed: (reason: string) => void;
}

/** Where the hub's settings have it too (base/config.ts). */
export const secretVariable = 'SLACKWATER_ALARM_WEBHOOK_SECRET';

/** One that dies at once is not started anew more often than this. */
const restartMs = 2_000;

function findEntry(): readonly string[] {
  const built = findBuiltFile(import.meta.url, [
    './outputs/watchdog/watchdog-child.js',
    './watchdog-child.js',
  ]);
  if (built !== undefined) return [built];
  const source = findBuiltFile(import.meta.url, ['./watchdog-child.ts']);
  if (source !== undefined) return ['--import', 'tsx', source];
  throw new HubError('build.missing', told('watchdog-child'));
}

/** Throws HubError `build.missing` where its program is not there. */
export function startWatchdog({ clock, settings, failed }: WatchdogOptions): Watchdog {
  const entry = findEntry();
  // Other users of the machine can read a program's arguments, but not its environment.
  const { 'alarm-webhook-secret': secret, ...shown } = settings;
  const env = { ...process.env, ...(secret !== undefined && { [secretVariable]: secret }) };
  let child: ChildProcess | undefined;
  let closed = false;
  let lastWordAtMs = Number.NEGATIVE_INFINITY;

  function start(): void {
    // In a session of its own: what stops or interrupts the hub from its terminal must not reach it.
    const started = spawn(process.execPath, [...entry, JSON.stringify(shown)], {
      env,
      stdio: ['pipe', 'ignore', 'inherit'],
      detached: true,
    });
    child = started;
    let isGone = false;
    const gone = (reason: string): void => {
      if (isGone || closed) return;
      isGone = true;
      child = undefined;
      failed(reason);
      clock.after(restartMs, () => (closed ? undefined : start()));
    };
    started.once('error', (error) => gone(error.message));
    started.once('exit', (code, signal) => gone(`${signal ?? code}`));
    // A pipe that breaks is told by its process ending.
    started.stdin?.on('error', () => undefined);
    started.unref();
    (started.stdin as { unref?(): void } | null)?.unref?.();
  }

  start();
  return {
    wentRound(monitoring) {
      const nowMs = clock.nowMs();
      if (nowMs - lastWordAtMs < wordEveryMs) return;
      lastWordAtMs = nowMs;
      child?.stdin?.write(monitoring ? 'r' : 'i');
    },
    close() {
      closed = true;
      child?.stdin?.end('e');
    },
  };
}
