// The hub's end of the watchdog: starts its process, tells it of each round, and starts another when it dies or hangs.

import { type ChildProcess, spawn } from 'node:child_process';
import { type Said, said } from '../../../shared/said.ts';
import { findBuiltFile } from '../../base/built-file.ts';
import type { Config } from '../../base/config.ts';
import { HubError, told } from '../../base/hub-error.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { ListenerRule, wordEveryMs } from './watch-rule.ts';

export type WatchdogSettings = Pick<
  Config,
  'alarm-sound' | 'alarm-command' | 'alarm-webhook' | 'alarm-webhook-secret'
> & {
  /** The folder of the recordings, by which watchdogs know those that came before. */
  readonly data: string;
  /** Something starts the hub anew when it ends: one that hangs is ended. */
  readonly supervised: boolean;
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
  /** It does not run, or does not listen: told each time, and another is started. */
  readonly failed: (reason: Said) => void;
  /** Another listens in its place. */
  readonly runsAgain: () => void;
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
export function startWatchdog(options: WatchdogOptions): Watchdog {
  return new WatchedWatchdog(options);
}

class WatchedWatchdog implements Watchdog {
  readonly #options: WatchdogOptions;
  readonly #args: readonly string[];
  readonly #env: NodeJS.ProcessEnv;
  #child: ChildProcess | undefined;
  #rule = new ListenerRule();
  #closed = false;
  #hasFailed = false;
  #lastWordAtMs = Number.NEGATIVE_INFINITY;
  #saidMonitoring = false;

  constructor(options: WatchdogOptions) {
    this.#options = options;
    // Other users of the machine can read a program's arguments, but not its environment.
    const { 'alarm-webhook-secret': secret, ...shown } = options.settings;
    this.#args = [...findEntry(), JSON.stringify({ ...shown, hubPid: process.pid })];
    this.#env = { ...process.env, ...(secret !== undefined && { [secretVariable]: secret }) };
    this.#start();
  }

  readonly wentRound = (monitoring: boolean): void => {
    const nowMs = this.#options.clock.nowMs();
    // That a session is over is said at once: a hub that ends right after it must not be missed.
    if (nowMs - this.#lastWordAtMs < wordEveryMs && monitoring === this.#saidMonitoring) return;
    this.#lastWordAtMs = nowMs;
    this.#saidMonitoring = monitoring;
    const child = this.#child;
    if (child === undefined) return;
    child.stdin?.write(monitoring ? 'r' : 'i');
    if (!this.#rule.said()) return;
    this.#gone(child, said('watchdog.hung'));
    // One that was stopped would sound, late and for nothing, once it goes on.
    child.kill('SIGKILL');
  };

  close(): void {
    if (this.#closed) return;
    this.#closed = true;
    this.#child?.stdin?.end('e');
  }

  #start(): void {
    // In a session of its own: what stops or interrupts the hub from its terminal must not reach it.
    const child = spawn(process.execPath, this.#args, {
      env: this.#env,
      stdio: ['pipe', 'pipe', 'inherit'],
      detached: true,
    });
    this.#child = child;
    this.#rule = new ListenerRule();
    child.once('error', (error) => this.#gone(child, said('watchdog.ended', { how: error.message })));
    child.once('exit', (code, signal) =>
      this.#gone(child, said('watchdog.ended', { how: String(signal ?? code) })),
    );
    // A pipe that breaks is told by its process ending.
    child.stdin?.on('error', () => undefined);
    child.stdout?.on('error', () => undefined);
    child.stdout?.on('data', () => this.#heard(child));
    child.unref();
    for (const pipe of [child.stdin, child.stdout]) (pipe as { unref?(): void } | null)?.unref?.();
  }

  #heard(child: ChildProcess): void {
    if (child !== this.#child) return;
    this.#rule.answered();
    if (!this.#hasFailed) return;
    this.#hasFailed = false;
    this.#options.runsAgain();
  }

  #gone(child: ChildProcess, reason: Said): void {
    if (this.#closed || child !== this.#child) return;
    this.#child = undefined;
    this.#hasFailed = true;
    this.#options.failed(reason);
    this.#options.clock.after(restartMs, () => (this.#closed ? undefined : this.#start()));
  }
}
