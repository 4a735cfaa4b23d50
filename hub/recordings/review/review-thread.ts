// The hub's end of the review thread: starts it when needed, gives it one task at a time with the packets in small
// helpings, drops it with work nobody waits for any more, and starts another when it dies.

import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import { type Said, said } from '../../../shared/said.ts';
import { HubError } from '../../base/hub-error.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { PacketColumns, StoredPacket } from '../../base/ports/stored-session.ts';
import { encodeBatch } from '../../recorder/packet-batch.ts';
import type { FromReviewThread, ToReviewThread } from './review-messages.ts';
import { ReviewFault, type ReviewOrder, type ReviewRunner } from './review-runner.ts';
import { isForPreview, type ResultOf, type ReviewSubject, type ReviewTask } from './review-task.ts';

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
export const createReviewThread = (options: ReviewThreadOptions): ReviewRunner => new ReviewThread(options);

class ReviewThread implements ReviewRunner {
  readonly #options: ReviewThreadOptions;
  readonly #entry: string;
  readonly #waiting: Job[] = [];
  #running: Job | undefined;
  #worker: Worker | undefined;
  #closed = false;
  #cancelIdle: () => void = () => undefined;

  constructor(options: ReviewThreadOptions) {
    this.#options = options;
    this.#entry = options.entry ?? findEntry();
  }

  run<Task extends ReviewTask>(task: Task, order: ReviewOrder): Promise<ResultOf<Task>> {
    return new Promise<ResultOf<Task>>((resolve, reject) => {
      const { signal } = order;
      if (signal?.aborted === true || this.#closed) {
        reject(signal?.reason ?? new ReviewFault(said('refusal.hubStopping')));
        return;
      }
      const job: Job = { task, order, resolve, reject, settled: false };
      signal?.addEventListener('abort', () => this.#abort(job, signal.reason), { once: true });
      this.#waiting.push(job);
      this.#next();
    });
  }

  warm(): void {
    if (this.#worker !== undefined || this.#closed) return;
    this.#worker = this.#start();
    this.#letGoWhenIdle();
  }

  async close(): Promise<void> {
    this.#closed = true;
    this.#cancelIdle();
    const stopping = new ReviewFault(said('refusal.hubStopping'));
    for (const job of this.#waiting.splice(0)) this.#settle(job, () => job.reject(stopping));
    this.#fail(stopping);
    const old = this.#worker;
    this.#worker = undefined;
    await old?.terminate();
  }

  #start(): Worker {
    const started = new Worker(this.#entry, {
      execArgv: [],
      resourceLimits: { maxOldGenerationSizeMb: this.#options.memoryLimitMb ?? memoryLimitMb },
    });
    // The program may end while the thread idles.
    started.unref();
    started.on('message', (message: FromReviewThread) => {
      if (started === this.#worker) this.#hear(message);
    });
    started.on('error', (error: NodeJS.ErrnoException) => {
      if (started !== this.#worker) return;
      this.#worker = undefined;
      this.#options.warn('the review thread died', error);
      this.#fail(new ReviewFault(deathWords(error), error));
    });
    started.on('exit', () => {
      if (started !== this.#worker) return;
      this.#worker = undefined;
      this.#fail(new ReviewFault(said('refusal.reviewStopped')));
    });
    return started;
  }

  #hear(message: FromReviewThread): void {
    const job = this.#running;
    if (job === undefined) return;
    if (message.type === 'news') {
      job.order.onNews?.(message.news);
      return;
    }
    if (message.type === 'done') {
      this.#settle(job, () => job.resolve(message.result as never));
      return;
    }
    this.#options.warn('a recording could not be worked out', new Error(message.reason));
    this.#fail(new ReviewFault(said('refusal.reviewImpossible')));
  }

  #abort(job: Job, reason: unknown): void {
    if (job.settled) return;
    const place = this.#waiting.indexOf(job);
    if (place >= 0) this.#waiting.splice(place, 1);
    // It cannot be interrupted otherwise, and another is there in a tenth of a second.
    else this.#letGo();
    this.#settle(job, () => job.reject(reason));
  }

  #fail(error: unknown): void {
    const job = this.#running;
    if (job !== undefined) this.#settle(job, () => job.reject(error));
  }

  #settle(job: Job, say: () => void): void {
    if (job.settled) return;
    job.settled = true;
    if (this.#running === job) this.#running = undefined;
    say();
    this.#next();
  }

  readonly #letGo = (): void => {
    const old = this.#worker;
    this.#worker = undefined;
    void old?.terminate();
  };

  #letGoWhenIdle(): void {
    this.#cancelIdle();
    this.#cancelIdle = this.#options.clock.after(idleMs, this.#letGo);
  }

  #next(): void {
    this.#cancelIdle();
    if (this.#running !== undefined || this.#closed) return;
    const index = this.#waiting.findIndex(({ order }) => order.urgency === 'page');
    const [job] = this.#waiting.splice(Math.max(0, index), 1);
    if (job === undefined) {
      this.#letGoWhenIdle();
      return;
    }
    this.#running = job;
    this.#worker ??= this.#start();
    void this.#feed(job, this.#worker);
  }

  /** Hands over what the task needs, in small helpings between which everything else has its turn. */
  async #feed(job: Job, to: Worker): Promise<void> {
    try {
      if (job.task.type === 'derive' && job.order.columns !== undefined)
        await giveForPreview(job, job.task.subject, job.order.columns(), to);
      await givePackets(job, to);
      if (!job.settled) tell(to, { type: 'run', task: job.task });
    } catch (error) {
      tell(to, { type: 'forget' });
      this.#settle(job, () => job.reject(error));
    }
  }
}

const deathWords = ({ code }: NodeJS.ErrnoException): Said =>
  code === 'ERR_WORKER_OUT_OF_MEMORY' ? said('refusal.reviewTooLarge') : said('refusal.reviewFailed');

const tell = (to: Worker, message: ToReviewThread, transfer: ArrayBuffer[] = []): void =>
  to.postMessage(message, transfer);
const others = () => new Promise<void>((resolve) => setImmediate(resolve));

async function giveForPreview(
  job: Job,
  subject: ReviewSubject,
  pieces: Iterable<readonly PacketColumns[]>,
  to: Worker,
): Promise<void> {
  const streams: PacketColumns[] = [];
  for (const piece of pieces) {
    for (const stream of piece)
      if (isForPreview(stream.characteristic, subject.profiles)) streams.push(stream);
    await others();
    if (job.settled) return;
  }
  tell(to, { type: 'preview', subject, streams });
}

async function givePackets(job: Job, to: Worker): Promise<void> {
  let helping: StoredPacket[] = [];
  const give = () => {
    const batch = encodeBatch(helping);
    helping = [];
    tell(to, { type: 'packets', batch }, [batch.buffer as ArrayBuffer]);
  };
  for (const packet of job.order.packets?.() ?? []) {
    if (job.settled) return;
    helping.push(packet);
    if (helping.length < packetsPerHelping) continue;
    give();
    await others();
  }
  if (!job.settled) give();
}
