// What a process itself makes wait, apart from the machine: how long each task of its main thread took, and how late alarms were,
// less the time in which the thread was ready and others had the cores. Linux only: /proc/thread-self/schedstat, whose second
// number is that time in nanoseconds (kernel documentation, scheduler/sched-stats).

import { readFileSync } from 'node:fs';
import { type IntervalHistogram, monitorEventLoopDelay } from 'node:perf_hooks';
import type { Clock } from '../../../hub/base/ports/clock.ts';

export interface OwnTime {
  /** Of tasks, ms, in order of length: what they took by the clock, and of that without waiting for a core. */
  readonly tasksMs: readonly number[];
  readonly ownTasksMs: readonly number[];
  readonly alarmsMs: readonly number[];
  readonly ownAlarmsMs: readonly number[];
  /** Of the event loop's delay, by the clock. */
  readonly loopP99Ms: number;
  readonly loopMaxMs: number;
}

interface Moment {
  readonly atMs: number;
  readonly waitedMs: number;
}

const waitedMs = (): number =>
  Number(readFileSync('/proc/thread-self/schedstat', 'utf8').split(' ')[1]) / 1e6;
const keptMoments = 400;

export class OwnTimeWatch {
  readonly #loop: IntervalHistogram = monitorEventLoopDelay({ resolution: 5 });
  #moments: Moment[] = [];
  #tasksMs: number[] = [];
  #ownTasksMs: number[] = [];
  #alarmsMs: number[] = [];
  #ownAlarmsMs: number[] = [];

  begin(): void {
    this.#tasksMs = [];
    this.#ownTasksMs = [];
    this.#alarmsMs = [];
    this.#ownAlarmsMs = [];
    this.#loop.reset();
    this.#loop.enable();
  }

  task(work: () => void): void {
    const begun = this.#note();
    work();
    const ended = this.#note();
    const tookMs = ended.atMs - begun.atMs;
    this.#tasksMs.push(tookMs);
    this.#ownTasksMs.push(tookMs - (ended.waitedMs - begun.waitedMs));
  }

  /** An alarm that was due at `dueAtMs` by `performance.now()` has just been handed to every socket. */
  alarm(dueAtMs: number): void {
    const { atMs, waitedMs: waited } = this.#note();
    const before = this.#moments.findLast((moment) => moment.atMs <= dueAtMs) ?? this.#moments[0];
    const lateMs = atMs - dueAtMs;
    this.#alarmsMs.push(lateMs);
    this.#ownAlarmsMs.push(Math.max(0, lateMs - (waited - (before?.waitedMs ?? waited))));
  }

  /** Everything that this clock calls back is a task. */
  clock(clock: Clock): Clock {
    const timed = (callback: () => void) => () => this.task(callback);
    return {
      nowMs: () => clock.nowMs(),
      wallNowMs: () => clock.wallNowMs(),
      every: (intervalMs, callback) => clock.every(intervalMs, timed(callback)),
      after: (delayMs, callback) => clock.after(delayMs, timed(callback)),
      soon: (callback) => clock.soon(timed(callback)),
    };
  }

  report(): OwnTime {
    const sorted = (values: readonly number[]): number[] => values.toSorted((one, other) => one - other);
    return {
      tasksMs: sorted(this.#tasksMs),
      ownTasksMs: sorted(this.#ownTasksMs),
      alarmsMs: sorted(this.#alarmsMs),
      ownAlarmsMs: sorted(this.#ownAlarmsMs),
      loopP99Ms: this.#loop.percentile(99) / 1e6,
      loopMaxMs: this.#loop.max / 1e6,
    };
  }

  #note(): Moment {
    const moment = { atMs: performance.now(), waitedMs: waitedMs() };
    this.#moments.push(moment);
    if (this.#moments.length > 2 * keptMoments) this.#moments = this.#moments.slice(-keptMoments);
    return moment;
  }
}
