// The hub's end of the review thread: starts it when needed, gives it one task at a time with the packets in small
// helpings, drops it with work nobody waits for any more, and starts another when it dies.

import type { Worker } from 'node:worker_threads';
import { type Said, said } from '../../../shared/said.ts';
import type { Clock } from '../../base/ports/clock.ts';
import type { PacketColumns, StoredPacket } from '../../base/ports/stored-session.ts';
import { encodeBatch } from '../../recorder/packet-batch.ts';
import { findThreadEntry, JobThread, type ThreadJob } from '../job-thread.ts';
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

const entries = [
  './review-worker-from-sources.mjs',
  './recordings/review/review-worker.js',
  './review-worker.js',
];
const notBuilt = said('build.reviewMissing');

interface Job extends ThreadJob {
  readonly task: ReviewTask;
  readonly order: ReviewOrder;
  readonly resolve: (result: never) => void;
}

/** Throws HubError `build.missing` where the thread's program is not there. */
export const createReviewThread = (options: ReviewThreadOptions): ReviewRunner => new ReviewThread(options);

class ReviewThread implements ReviewRunner {
  readonly #options: ReviewThreadOptions;
  readonly #thread: JobThread<Job, FromReviewThread>;

  constructor(options: ReviewThreadOptions) {
    this.#options = options;
    this.#thread = new JobThread<Job, FromReviewThread>({
      entry: options.entry ?? findThreadEntry(import.meta.url, entries, notBuilt),
      memoryLimitMb: options.memoryLimitMb ?? memoryLimitMb,
      begin: (job, worker) => void this.#feed(job, worker),
      hear: (job, message) => this.#hear(job, message),
      died(error) {
        if (error === undefined) return new ReviewFault(said('refusal.reviewStopped'));
        options.warn('the review thread died', error);
        return new ReviewFault(deathWords(error), error);
      },
      stopping: () => new ReviewFault(said('refusal.hubStopping')),
      isUrgent: ({ order }) => order.urgency === 'page',
      idle: { clock: options.clock, afterMs: idleMs },
    });
  }

  run<Task extends ReviewTask>(task: Task, order: ReviewOrder): Promise<ResultOf<Task>> {
    return new Promise<ResultOf<Task>>((resolve, reject) => {
      this.#thread.enqueue({ task, order, resolve, reject, signal: order.signal, settled: false });
    });
  }

  warm(): void {
    this.#thread.warm();
  }

  async close(): Promise<void> {
    await this.#thread.close();
  }

  #hear(job: Job, message: FromReviewThread): void {
    if (message.type === 'news') {
      job.order.onNews?.(message.news);
      return;
    }
    this.#thread.settle(job, () => {
      if (message.type === 'done') {
        job.resolve(message.result as never);
        return;
      }
      this.#options.warn('a recording could not be worked out', new Error(message.reason));
      job.reject(new ReviewFault(said('refusal.reviewImpossible')));
    });
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
      this.#thread.settle(job, () => job.reject(error));
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
  pieces: Iterable<readonly PacketColumns[]> | AsyncIterable<readonly PacketColumns[]>,
  to: Worker,
): Promise<void> {
  const streams: PacketColumns[] = [];
  for await (const piece of pieces) {
    for (const stream of piece)
      if (isForPreview(stream.characteristic, subject.profiles)) streams.push(stream);
    await others();
    if (job.settled) return;
  }
  tell(to, { type: 'preview', subject, streams });
}

async function givePackets(job: Job, to: Worker): Promise<void> {
  if (job.order.batches !== undefined) {
    for await (const batch of job.order.batches()) {
      if (job.settled) return;
      tell(to, { type: 'packets', batch }, [batch.buffer]);
    }
    return;
  }
  let helping: StoredPacket[] = [];
  const give = () => {
    const batch = encodeBatch(helping);
    helping = [];
    tell(to, { type: 'packets', batch }, [batch.buffer as ArrayBuffer]);
  };
  for await (const packet of job.order.packets?.() ?? []) {
    if (job.settled) return;
    helping.push(packet);
    if (helping.length < packetsPerHelping) continue;
    give();
    await others();
  }
  if (!job.settled) give();
}
