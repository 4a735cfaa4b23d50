// The hub's end of a radio process: starts it, hears its heartbeat, maps its clock onto the hub's, and starts it again
// with growing patience when it dies, hangs, or reports that its adapter cannot be used.

import { type ChildProcess, fork } from 'node:child_process';
import { type Said, said } from '../../../shared/said.ts';
import { type ProcessMs, processMs } from '../../../shared/units.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { findBuiltFile } from '../../base/built-file.ts';
import type { Clock } from '../../base/ports/clock.ts';
import { addExchange, bestOffset, type ClockExchange, type ClockOffset } from './clock-offset.ts';
import type { Radio, RadioCommand, RadioEvent, RadioHealth, RadioListener, RadioProblem } from './radio.ts';
import type { FromRadioProcess, RadioProcessConfig, ToRadioProcess } from './radio-messages.ts';

/** All in milliseconds; common practice, no source. */
export interface SupervisionPolicy {
  readonly heartbeatEveryMs: number;
  /** Longer than the fifth of a second that a connect blocks the library, shorter than anyone should wait. */
  readonly heartbeatLimitMs: number;
  /** From start to the first sign of life; a loaded small computer takes seconds to load the library. */
  readonly startLimitMs: number;
  readonly retryDelaysMs: readonly number[];
  /** Working this long, the patience starts from the beginning. */
  readonly settledAfterMs: number;
  readonly stopLimitMs: number;
}

export const supervisionPolicy: SupervisionPolicy = {
  heartbeatEveryMs: 500,
  heartbeatLimitMs: 4_000,
  startLimitMs: 20_000,
  retryDelaysMs: [500, 1_000, 2_000, 4_000, 8_000],
  settledAfterMs: 10_000,
  stopLimitMs: 4_000,
};

/** Clocks known to within this are good: a twentieth of what arrival times are asked to be good for. */
const goodClockMs = 2.5;
const mostHastyPings = 20;

export interface RadioProcessOptions {
  readonly config: RadioProcessConfig;
  readonly clock: Clock;
  /** Lines that the library or the supervision wants kept in the log. */
  readonly log: (line: string) => void;
  /** The radio process's entry; found beside this file or in the bundle when left out. */
  readonly entry?: string;
  readonly policy?: SupervisionPolicy;
}

/** The entry beside the sources when run from them, else where the bundle has it. */
function findEntry(): string {
  const path = findBuiltFile(import.meta.url, [
    './radio-child.ts',
    './sensors/bluetooth/radio-child.js',
    './radio-child.js',
  ]);
  if (path === undefined)
    throw new Error('the radio process is missing from this build (hub/sensors/bluetooth/radio-child)');
  return path;
}

export class RadioProcess implements Radio {
  readonly #options: RadioProcessOptions;
  readonly #policy: SupervisionPolicy;
  #listener: RadioListener | null = null;
  #child: ChildProcess | null = null;
  #exchanges: readonly ClockExchange[] = [];
  #offset: ClockOffset | null = null;
  #lastPongAtMs: number | null = null;
  #lastBeatAtMs = 0;
  /** Since the last answer, time in which this process itself did not get to look: answers may lie unread. */
  #notLookedMs = 0;
  #startedAtMs = 0;
  #onSinceMs: number | null = null;
  #hastyPings = 0;
  #failures = 0;
  #faults = 0;
  #starts = 0;
  #stopped = false;
  #cancelRestart: (() => void) | null = null;
  #stopHeartbeat: (() => void) | null = null;

  constructor(options: RadioProcessOptions) {
    this.#options = options;
    this.#policy = options.policy ?? supervisionPolicy;
  }

  get health(): RadioHealth {
    return {
      clockUncertaintyMs: this.#offset?.uncertaintyMs ?? null,
      starts: this.#starts,
      faults: this.#faults,
      processId: this.#child?.pid ?? null,
    };
  }

  start(listener: RadioListener): void {
    this.#listener = listener;
    this.#spawn();
    this.#stopHeartbeat = this.#options.clock.every(this.#policy.heartbeatEveryMs, () => this.#heartbeat());
  }

  send(command: RadioCommand): void {
    this.#say({ type: 'command', command });
  }

  restart(reason: Said): void {
    if (this.#stopped) return;
    this.#options.log(`radio: starting again: ${sayInEnglish(reason)}`);
    this.#abandon();
    this.#spawn();
  }

  async stop(): Promise<void> {
    this.#stopped = true;
    this.#cancelRestart?.();
    this.#stopHeartbeat?.();
    const child = this.#child;
    if (child === null || child.exitCode !== null || child.signalCode !== null) return;
    const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
    this.#say({ type: 'shutdown' });
    const cancelKill = this.#options.clock.after(this.#policy.stopLimitMs, () => child.kill('SIGKILL'));
    await ended;
    cancelKill();
    this.#child = null;
  }

  #spawn(): void {
    this.#cancelRestart?.();
    this.#cancelRestart = null;
    this.#exchanges = [];
    this.#offset = null;
    this.#lastPongAtMs = null;
    this.#onSinceMs = null;
    this.#startedAtMs = this.#options.clock.nowMs();
    this.#lastBeatAtMs = this.#startedAtMs;
    this.#notLookedMs = 0;
    this.#starts += 1;
    const entry = this.#options.entry ?? findEntry();
    const child = fork(entry, [JSON.stringify(this.#options.config)], {
      serialization: 'advanced',
      execArgv: entry.endsWith('.ts') ? ['--import', 'tsx'] : [],
      stdio: ['ignore', 'pipe', 'pipe', 'ipc'],
    });
    this.#child = child;
    for (const stream of [child.stdout, child.stderr]) {
      stream?.on('data', (chunk: Buffer) => {
        for (const line of chunk.toString().split('\n')) {
          if (line.trim() !== '') this.#options.log(`radio: ${line.slice(0, 400)}`);
        }
      });
    }
    child.on('message', (message: FromRadioProcess) => {
      if (this.#child === child) this.#onMessage(message);
    });
    child.on('error', (error) => {
      if (this.#child === child)
        this.#fail('radioProcessFailed', said('said.asTold', { text: error.message }));
    });
    child.on('exit', (code, signal) => {
      if (this.#child === child && !this.#stopped) {
        this.#fail(
          'radioProcessFailed',
          signal === null
            ? said('radio.endedWithCode', { code: code ?? 0 })
            : said('radio.endedBySignal', { signal }),
        );
      }
    });
    this.#hastyPings = mostHastyPings;
    this.#ping();
  }

  #heartbeat(): void {
    const nowMs = this.#options.clock.nowMs();
    this.#notLookedMs += Math.max(0, nowMs - this.#lastBeatAtMs - this.#policy.heartbeatEveryMs);
    this.#lastBeatAtMs = nowMs;
    if (this.#child === null) return;
    if (this.#lastPongAtMs === null) {
      if (nowMs - this.#startedAtMs > this.#policy.startLimitMs) {
        this.#fail('radioProcessFailed', said('radio.lateStart'));
        return;
      }
    } else if (nowMs - this.#lastPongAtMs - this.#notLookedMs > this.#policy.heartbeatLimitMs) {
      this.#fail('radioProcessFailed', said('radio.stoppedAnswering'));
      return;
    }
    if (this.#onSinceMs !== null && nowMs - this.#onSinceMs > this.#policy.settledAfterMs) this.#failures = 0;
    this.#ping();
  }

  #ping(): void {
    this.#say({ type: 'ping', askedAtMs: this.#options.clock.nowMs() });
  }

  #say(message: ToRadioProcess): void {
    const child = this.#child;
    if (child?.connected) child.send(message, undefined, undefined, () => {});
  }

  #onMessage(message: FromRadioProcess): void {
    switch (message.type) {
      case 'pong': {
        const heardAtMs = this.#options.clock.nowMs();
        this.#lastPongAtMs = heardAtMs;
        this.#notLookedMs = 0;
        this.#exchanges = addExchange(this.#exchanges, {
          askedAtMs: message.askedAtMs,
          answeredAtMs: message.answeredAtMs,
          heardAtMs,
        });
        this.#offset = bestOffset(this.#exchanges);
        // The first answers waited for the process to load; ask on at once until the clocks are known well.
        if (this.#offset !== null && this.#offset.uncertaintyMs > goodClockMs && this.#hastyPings > 0) {
          this.#hastyPings -= 1;
          this.#ping();
        }
        return;
      }
      case 'fault':
        this.#faults += 1;
        this.#options.log(`radio: fault ${this.#faults}: ${message.message.slice(0, 400)}`);
        return;
      case 'event':
        this.#onEvent(message.event);
        return;
    }
  }

  #onEvent(event: RadioEvent): void {
    if (event.type === 'on') this.#onSinceMs = this.#options.clock.nowMs();
    if (event.type === 'problem') {
      // The library does not recover from an adapter that came back: a new process does.
      this.#fail(event.problem, event.reason);
      return;
    }
    this.#listener?.event('atMs' in event ? { ...event, atMs: this.#ourTime(event.atMs) } : event);
  }

  /** Never later than now: an arrival cannot lie in the future. */
  #ourTime(theirMs: number): ProcessMs {
    const nowMs = this.#options.clock.nowMs();
    return this.#offset === null ? nowMs : processMs(Math.min(nowMs, theirMs + this.#offset.offsetMs));
  }

  #fail(problem: RadioProblem, reason: Said | null): void {
    this.#options.log(`radio: ${problem}${reason === null ? '' : `: ${sayInEnglish(reason)}`}`);
    this.#abandon();
    this.#listener?.event({ type: 'problem', problem, reason });
    if (this.#stopped) return;
    const delays = this.#policy.retryDelaysMs;
    const delayMs = delays[Math.min(this.#failures, delays.length - 1)]!;
    this.#failures += 1;
    this.#cancelRestart?.();
    this.#cancelRestart = this.#options.clock.after(delayMs, () => this.#spawn());
  }

  /** Lets go of a process that is of no more use. It closes its links if it still can, and is killed if it cannot. */
  #abandon(): void {
    const child = this.#child;
    this.#child = null;
    if (child === null || child.exitCode !== null || child.signalCode !== null) return;
    child.kill('SIGKILL');
  }
}
