// The hub's end of the import thread: one file at a time, the others wait; dropped at once when nobody waits any more.

import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { Worker } from 'node:worker_threads';
import type { ImportPreview, ImportProgress } from '../../../shared/http.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import { HubError } from '../../base/hub-error.ts';
import { ImportRefused } from './checked-sink.ts';
import type { FromImportThread, ToImportThread } from './import-messages.ts';
import type { ImportedFile, ReadRecording } from './import-task.ts';
import type { ImportChoice } from './open-import.ts';
import type { SessionPart } from './session-parts.ts';

export interface ImportWaiting {
  readonly onProgress: (progress: ImportProgress) => void;
  /** Once aborted, the work is dropped and the promise rejects with the signal's reason. */
  readonly signal: AbortSignal;
}

/** Takes a recording into the store. What it throws ends the import and comes out of `store`. */
export interface ImportTaker {
  /** The file has been read; answers with when it begins and whose settings count. */
  begin(recording: ReadRecording): { startedWallAtMs: number; settings: AthleteSettings };
  take(part: SessionPart): void;
}

export interface ImportThread {
  /** Rejects with `ImportRefused` for what cannot be read. */
  preview(file: ImportedFile, waiting: ImportWaiting): Promise<ImportPreview>;
  store(
    file: ImportedFile,
    choice: ImportChoice,
    taker: ImportTaker,
    waiting: ImportWaiting,
  ): Promise<ReadRecording>;
  close(): Promise<void>;
}

export interface ImportThreadOptions {
  readonly warn: (message: string, error?: unknown) => void;
  /** The thread's entry; found beside this file or in the bundle when left out. */
  readonly entry?: string;
  readonly memoryLimitMb?: number;
}

/** What JavaScript objects may take in the thread: readings go by the piece, whatever the size of the file. */
const memoryLimitMb = 160;
const brokeDown =
  'This file could not be read, by a fault of this program; nothing was stored. The log says more.';

interface Job {
  readonly first: ToImportThread;
  readonly waiting: ImportWaiting;
  readonly hear: (message: FromImportThread, tell: (message: ToImportThread) => void) => 'done' | 'more';
  readonly reject: (error: unknown) => void;
  readonly step: { now: ImportProgress['step'] };
  settled: boolean;
}

function findEntry(): string {
  for (const relative of [
    './import-worker-from-sources.mjs',
    './recordings/import/import-worker.js',
    './import-worker.js',
  ]) {
    const path = fileURLToPath(new URL(relative, import.meta.url));
    if (existsSync(path)) return path;
  }
  throw new HubError(
    'build.missing',
    'A part of the program that reads files has not been built. Run "npm run build" and start again.',
  );
}

export const createImportThread = (options: ImportThreadOptions): ImportThread => new QueuedThread(options);

class QueuedThread implements ImportThread {
  readonly #options: ImportThreadOptions;
  readonly #queue: Job[] = [];
  #running: Job | undefined;
  #worker: Worker | undefined;
  #closed = false;

  constructor(options: ImportThreadOptions) {
    this.#options = options;
  }

  preview(file: ImportedFile, waiting: ImportWaiting): Promise<ImportPreview> {
    return new Promise((resolve, reject) =>
      this.#enqueue({
        first: { type: 'preview', file },
        waiting,
        reject,
        step: { now: 'reading' },
        settled: false,
        hear(message) {
          if (message.type === 'preview') resolve(message.preview);
          return 'done';
        },
      }),
    );
  }

  store(
    file: ImportedFile,
    choice: ImportChoice,
    taker: ImportTaker,
    waiting: ImportWaiting,
  ): Promise<ReadRecording> {
    return new Promise((resolve, reject) => {
      let read: ReadRecording | undefined;
      const step: Job['step'] = { now: 'reading' };
      this.#enqueue({
        first: { type: 'read', file, choice },
        waiting,
        reject,
        step,
        settled: false,
        hear(message, tell) {
          if (message.type === 'read') {
            read = message.recording;
            const begun = taker.begin(read);
            step.now = 'storing';
            tell({ type: 'store', ...begun });
            return 'more';
          }
          if (message.type !== 'part' || read === undefined) return 'more';
          taker.take(message.part);
          tell({ type: 'taken' });
          if (message.part.type !== 'end') return 'more';
          resolve(read);
          return 'done';
        },
      });
    });
  }

  async close(): Promise<void> {
    this.#closed = true;
    const stopping = new Error('the hub is stopping');
    for (const job of this.#queue.splice(0)) this.#settle(job, () => job.reject(stopping));
    this.#fail(stopping);
    const old = this.#worker;
    this.#worker = undefined;
    await old?.terminate();
  }

  #start(): Worker {
    const { entry, memoryLimitMb: limitMb = memoryLimitMb, warn } = this.#options;
    const started = new Worker(entry ?? findEntry(), {
      execArgv: [],
      resourceLimits: { maxOldGenerationSizeMb: limitMb },
    });
    // The program may end while the thread idles.
    started.unref();
    started.on('message', (message: FromImportThread) => {
      if (started === this.#worker) this.#hear(message);
    });
    started.on('error', (error: NodeJS.ErrnoException) => {
      if (started !== this.#worker) return;
      this.#worker = undefined;
      warn('the import thread died', error);
      this.#fail(
        new ImportRefused(
          error.code === 'ERR_WORKER_OUT_OF_MEMORY'
            ? 'This file needs more memory than reading it may take. Cut it into parts.'
            : brokeDown,
        ),
      );
    });
    return started;
  }

  #hear(message: FromImportThread): void {
    const job = this.#running;
    if (job === undefined) return;
    if (message.type === 'progress') {
      job.waiting.onProgress({ step: job.step.now, share: message.share });
      return;
    }
    if (message.type === 'refused') {
      this.#fail(new ImportRefused(message.message));
      return;
    }
    if (message.type === 'failed') {
      this.#options.warn('a file could not be read', new Error(message.reason));
      this.#fail(new ImportRefused(brokeDown));
      return;
    }
    try {
      const to = this.#worker;
      if (job.hear(message, (answer) => to?.postMessage(answer)) === 'done')
        this.#settle(job, () => undefined);
    } catch (error) {
      // The thread holds the rest of the recording, which is of no use now.
      this.#letGo();
      this.#fail(error);
    }
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

  #letGo(): void {
    const old = this.#worker;
    this.#worker = undefined;
    void old?.terminate();
  }

  #next(): void {
    if (this.#running !== undefined || this.#closed) return;
    this.#running = this.#queue.shift();
    if (this.#running === undefined) return;
    try {
      this.#worker ??= this.#start();
      this.#worker.postMessage(this.#running.first);
    } catch (error) {
      this.#fail(error);
    }
  }

  #enqueue(job: Job): void {
    const { signal } = job.waiting;
    if (signal.aborted || this.#closed) {
      job.reject(signal.reason ?? new Error('the hub is stopping'));
      return;
    }
    signal.addEventListener(
      'abort',
      () => {
        if (job.settled) return;
        const place = this.#queue.indexOf(job);
        if (place >= 0) this.#queue.splice(place, 1);
        // It cannot be interrupted otherwise; what it staged goes with the folder of the upload.
        else this.#letGo();
        this.#settle(job, () => job.reject(signal.reason));
      },
      { once: true },
    );
    this.#queue.push(job);
    if (this.#running !== undefined) job.waiting.onProgress({ step: 'waiting', share: 0 });
    this.#next();
  }
}
