// The hub's end of the review thread: starts it when needed, gives it one task at a time with the packets in small
// helpings, drops it with work nobody waits for any more, and starts another when it dies.

import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import type { Clock, PacketColumns, StoredPacket } from '../../base/ports.ts';
import { encodeBatch } from '../../recorder/packet-batch.ts';
import type { FromReviewThread, ToReviewThread } from './review-messages.ts';
import { ReviewFault, type ReviewOrder, type ReviewRunner } from './review-runner.ts';
import { isForGlance, type ResultOf, type ReviewTask } from './review-task.ts';

export interface ReviewThreadOptions {
  readonly clock: Clock;
  readonly warn: (message: string, error?: unknown) => void;
  /** The thread's entry; found beside this file or in the bundle when left out. */
  readonly entry?: string;
  readonly memoryLimitMb?: number;
}

/** What JavaScript objects may take in the thread; waves in typed arrays come on top. Our choice: a day fits. */
const memoryLimitMb = 768;
/** Packets read and handed over between two looks at everything else: about 2 ms of work. */
const packetsPerHelping = 1_500;
/** A thread that idles this long is let go, and its memory with it. */
const idleMs = 120_000;

interface Job {
  readonly task: ReviewTask;
  readonly order: ReviewOrder;
  readonly resolve: (result: never) => void;
  readonly reject: (error: unknown) => void;
  settled: boolean;
}

/** The entry beside the sources when run from them, else where the bundle has it. */
function findEntry(): string {
  for (const relative of [
    './review-worker-from-sources.mjs',
    './recordings/review/review-worker.js',
    './review-worker.js',
  ]) {
    const path = fileURLToPath(new URL(relative, import.meta.url));
    if (existsSync(path)) return path;
  }
  throw new HubError(
    'build.missing',
    'A part of the program that works out recordings has not been built. Run "npm run build" and start again.',
  );
}

/** Throws HubError `build.missing` where the thread's program is not there. */
export function createReviewThread(options: ReviewThreadOptions): ReviewRunner {
  const { clock, warn } = options;
  const entry = options.entry ?? findEntry();
  const waiting: Job[] = [];
  let running: Job | undefined;
  let worker: Worker | undefined;
  let closed = false;
  let cancelIdle: () => void = () => undefined;

  function start(): Worker {
    const started = new Worker(entry, {
      execArgv: [],
      resourceLimits: { maxOldGenerationSizeMb: options.memoryLimitMb ?? memoryLimitMb },
    });
    // The program may end while the thread idles.
    started.unref();
    started.on('message', (message: FromReviewThread) => {
      if (started === worker) hear(message);
    });
    started.on('error', (error: NodeJS.ErrnoException) => {
      if (started !== worker) return;
      worker = undefined;
      warn('the review thread died', error);
      fail(
        new ReviewFault(
          error.code === 'ERR_WORKER_OUT_OF_MEMORY'
            ? said('refusal.reviewTooLarge')
            : said('refusal.reviewFailed'),
          error,
        ),
      );
    });
    started.on('exit', () => {
      if (started !== worker) return;
      worker = undefined;
      fail(new ReviewFault(said('refusal.reviewStopped')));
    });
    return started;
  }

  function hear(message: FromReviewThread): void {
    const job = running;
    if (job === undefined) return;
    if (message.type === 'news') {
      job.order.onNews?.(message.news);
      return;
    }
    if (message.type === 'done') settle(job, () => job.resolve(message.result as never));
    else {
      warn('a recording could not be worked out', new Error(message.reason));
      fail(new ReviewFault(said('refusal.reviewImpossible')));
    }
  }

  function fail(error: unknown): void {
    const job = running;
    if (job !== undefined) settle(job, () => job.reject(error));
  }

  function settle(job: Job, say: () => void): void {
    if (job.settled) return;
    job.settled = true;
    if (running === job) running = undefined;
    say();
    next();
  }

  function letGo(): void {
    const old = worker;
    worker = undefined;
    void old?.terminate();
  }

  function next(): void {
    cancelIdle();
    if (running !== undefined || closed) return;
    const index = waiting.findIndex(({ order }) => order.urgency === 'page');
    const [job] = waiting.splice(Math.max(0, index), 1);
    if (job === undefined) {
      cancelIdle = clock.after(idleMs, letGo);
      return;
    }
    running = job;
    worker ??= start();
    void feed(job, worker);
  }

  async function feed(job: Job, to: Worker): Promise<void> {
    const tell = (message: ToReviewThread, transfer: ArrayBuffer[] = []): void =>
      to.postMessage(message, transfer);
    const others = () => new Promise<void>((resolve) => setImmediate(resolve));
    try {
      if (job.task.type === 'derive' && job.order.columns !== undefined) {
        const { subject } = job.task;
        const streams: PacketColumns[] = [];
        for (const piece of job.order.columns()) {
          for (const stream of piece)
            if (isForGlance(stream.characteristic, subject.profiles)) streams.push(stream);
          await others();
          if (job.settled) return;
        }
        tell({ type: 'glance', subject, streams });
      }
      let helping: StoredPacket[] = [];
      const give = () => {
        const batch = encodeBatch(helping);
        helping = [];
        tell({ type: 'packets', batch }, [batch.buffer as ArrayBuffer]);
      };
      for (const packet of job.order.packets?.() ?? []) {
        helping.push(packet);
        if (helping.length < packetsPerHelping) continue;
        give();
        await others();
        if (job.settled) return;
      }
      give();
      tell({ type: 'run', task: job.task });
    } catch (error) {
      tell({ type: 'forget' });
      settle(job, () => job.reject(error));
    }
  }

  return {
    run<Task extends ReviewTask>(task: Task, order: ReviewOrder): Promise<ResultOf<Task>> {
      return new Promise<ResultOf<Task>>((resolve, reject) => {
        const { signal } = order;
        if (signal?.aborted === true || closed) {
          reject(signal?.reason ?? new ReviewFault(said('refusal.hubStopping')));
          return;
        }
        const job: Job = { task, order, resolve, reject, settled: false };
        signal?.addEventListener(
          'abort',
          () => {
            if (job.settled) return;
            const place = waiting.indexOf(job);
            if (place >= 0) waiting.splice(place, 1);
            // It cannot be interrupted otherwise, and another is there in a tenth of a second.
            else letGo();
            settle(job, () => reject(signal.reason));
          },
          { once: true },
        );
        waiting.push(job);
        next();
      });
    },
    warm() {
      if (worker !== undefined || closed) return;
      worker = start();
      cancelIdle();
      cancelIdle = clock.after(idleMs, letGo);
    },
    async close() {
      closed = true;
      cancelIdle();
      const stopping = new ReviewFault(said('refusal.hubStopping'));
      for (const job of waiting.splice(0)) settle(job, () => job.reject(stopping));
      fail(stopping);
      const old = worker;
      worker = undefined;
      await old?.terminate();
    },
  };
}
