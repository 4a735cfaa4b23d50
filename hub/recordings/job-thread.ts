// A worker thread that does one job at a time while the others wait: started when there is work, dropped with a job that
// nobody waits for any more, started anew when it dies. What a job is, its owner says.

import { Worker } from 'node:worker_threads';
import type { Said } from '../../shared/said.ts';
import { findBuiltFile } from '../base/built-file.ts';
import { HubError } from '../base/hub-error.ts';
import type { Clock } from '../base/ports/clock.ts';

/** The part of a job that the thread's host needs. */
export interface ThreadJob {
  /** Once aborted, the job is dropped and rejects with the signal's reason. */
  readonly signal: AbortSignal | undefined;
  readonly reject: (error: unknown) => void;
  settled: boolean;
}

export interface JobThreadOwner<Job extends ThreadJob, FromThread> {
  readonly entry: string;
  /** What JavaScript objects may take in the thread, MiB; waves in typed arrays come on top. */
  readonly memoryLimitMb: number;
  /** Gives the thread its job. What it throws ends the job. */
  begin(job: Job, thread: Worker): void;
  /** A message of the thread while `job` runs. What it throws ends the job, and the thread with what it still holds. */
  hear(job: Job, message: FromThread, thread: Worker): void;
  /** The thread is gone, with an error or by itself; answers what the job it had rejects with. */
  died(error: NodeJS.ErrnoException | undefined): unknown;
  /** What a job rejects with when the hub stops. */
  stopping(): unknown;
  /** Those that go before all others; else first come, first served. */
  isUrgent?(job: Job): boolean;
  /** A thread that idles this long is let go, and its memory with it. Kept when left out. */
  readonly idle?: { readonly clock: Clock; readonly afterMs: number };
}

/**
 * The first of these files that is there: beside the sources when run from them, else where the bundle has it.
 * Throws HubError `build.missing`, with `missing` for its words.
 */
export function findThreadEntry(from: string, relatives: readonly string[], missing: Said): string {
  const path = findBuiltFile(from, relatives);
  if (path === undefined) throw new HubError('build.missing', missing);
  return path;
}

export class JobThread<Job extends ThreadJob, FromThread> {
  readonly #owner: JobThreadOwner<Job, FromThread>;
  readonly #waiting: Job[] = [];
  #running: Job | undefined;
  #worker: Worker | undefined;
  #closed = false;
  #cancelIdle: () => void = () => undefined;

  constructor(owner: JobThreadOwner<Job, FromThread>) {
    this.#owner = owner;
  }

  /** Answers whether the job must wait for others. */
  enqueue(job: Job): 'waits' | 'begun' {
    const { signal } = job;
    if (signal?.aborted === true || this.#closed) {
      this.settle(job, () => job.reject(signal?.aborted === true ? signal.reason : this.#owner.stopping()));
      return 'begun';
    }
    signal?.addEventListener('abort', () => this.#abort(job, signal.reason), { once: true });
    this.#waiting.push(job);
    const waits = this.#running !== undefined;
    this.#next();
    return waits ? 'waits' : 'begun';
  }

  /** Ends the running job and its thread, with what it still holds. */
  drop(job: Job, error: unknown): void {
    if (job.settled) return;
    this.#letGo();
    this.settle(job, () => job.reject(error));
  }

  /** Has a thread ready before there is work for it. */
  warm(): void {
    if (this.#worker !== undefined || this.#closed) return;
    this.#worker = this.#start();
    this.#letGoWhenIdle();
  }

  /** Ends a job once: `say` tells whoever waits, then the next has its turn. */
  settle(job: Job, say: () => void): void {
    if (job.settled) return;
    job.settled = true;
    if (this.#running === job) this.#running = undefined;
    say();
    this.#next();
  }

  async close(): Promise<void> {
    this.#closed = true;
    this.#cancelIdle();
    const stopping = this.#owner.stopping();
    for (const job of this.#waiting.splice(0)) this.settle(job, () => job.reject(stopping));
    this.#fail(stopping);
    const old = this.#worker;
    this.#worker = undefined;
    await old?.terminate();
  }

  #start(): Worker {
    const started = new Worker(this.#owner.entry, {
      execArgv: [],
      resourceLimits: { maxOldGenerationSizeMb: this.#owner.memoryLimitMb },
    });
    // The program may end while the thread idles.
    started.unref();
    started.on('message', (message: FromThread) => {
      const job = this.#running;
      if (started !== this.#worker || job === undefined) return;
      try {
        this.#owner.hear(job, message, started);
      } catch (error) {
        this.#letGo();
        this.settle(job, () => job.reject(error));
      }
    });
    const died = (error: NodeJS.ErrnoException | undefined): void => {
      if (started !== this.#worker) return;
      this.#worker = undefined;
      this.#fail(this.#owner.died(error));
    };
    started.on('error', died);
    started.on('exit', () => died(undefined));
    return started;
  }

  #abort(job: Job, reason: unknown): void {
    if (job.settled) return;
    const place = this.#waiting.indexOf(job);
    if (place >= 0) this.#waiting.splice(place, 1);
    // It cannot be interrupted otherwise, and another is there in a tenth of a second.
    else this.#letGo();
    this.settle(job, () => job.reject(reason));
  }

  #fail(error: unknown): void {
    const job = this.#running;
    if (job !== undefined) this.settle(job, () => job.reject(error));
  }

  readonly #letGo = (): void => {
    const old = this.#worker;
    this.#worker = undefined;
    void old?.terminate();
  };

  #letGoWhenIdle(): void {
    this.#cancelIdle();
    const { idle } = this.#owner;
    if (idle !== undefined) this.#cancelIdle = idle.clock.after(idle.afterMs, this.#letGo);
  }

  #next(): void {
    if (this.#running !== undefined || this.#closed) return;
    this.#cancelIdle();
    const urgent = this.#waiting.findIndex((job) => this.#owner.isUrgent?.(job) === true);
    const [job] = this.#waiting.splice(Math.max(0, urgent), 1);
    if (job === undefined) {
      if (this.#worker !== undefined) this.#letGoWhenIdle();
      return;
    }
    this.#running = job;
    try {
      this.#worker ??= this.#start();
      this.#owner.begin(job, this.#worker);
    } catch (error) {
      this.settle(job, () => job.reject(error));
    }
  }
}
