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

export function createImportThread(options: ImportThreadOptions): ImportThread {
  const queue: Job[] = [];
  let running: Job | undefined;
  let worker: Worker | undefined;
  let closed = false;

  function start(): Worker {
    const started = new Worker(options.entry ?? findEntry(), {
      execArgv: [],
      resourceLimits: { maxOldGenerationSizeMb: options.memoryLimitMb ?? memoryLimitMb },
    });
    // The program may end while the thread idles.
    started.unref();
    started.on('message', (message: FromImportThread) => {
      if (started === worker) hear(message);
    });
    started.on('error', (error: NodeJS.ErrnoException) => {
      if (started !== worker) return;
      worker = undefined;
      options.warn('the import thread died', error);
      fail(
        error.code === 'ERR_WORKER_OUT_OF_MEMORY'
          ? new ImportRefused('This file needs more memory than reading it may take. Cut it into parts.')
          : new ImportRefused(brokeDown),
      );
    });
    return started;
  }

  function hear(message: FromImportThread): void {
    const job = running;
    if (job === undefined) return;
    if (message.type === 'progress') {
      job.waiting.onProgress({ step: job.step.now, share: message.share });
      return;
    }
    if (message.type === 'refused') {
      fail(new ImportRefused(message.message));
      return;
    }
    if (message.type === 'failed') {
      options.warn('a file could not be read', new Error(message.reason));
      fail(new ImportRefused(brokeDown));
      return;
    }
    try {
      const to = worker;
      if (job.hear(message, (answer) => to?.postMessage(answer)) === 'done') settle(job, () => undefined);
    } catch (error) {
      // The thread holds the rest of the recording, which is of no use now.
      letGo();
      fail(error);
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
    if (running !== undefined || closed) return;
    running = queue.shift();
    if (running === undefined) return;
    try {
      worker ??= start();
      worker.postMessage(running.first);
    } catch (error) {
      fail(error);
    }
  }

  function enqueue(job: Job): void {
    const { signal } = job.waiting;
    if (signal.aborted || closed) {
      job.reject(signal.reason ?? new Error('the hub is stopping'));
      return;
    }
    signal.addEventListener(
      'abort',
      () => {
        if (job.settled) return;
        const place = queue.indexOf(job);
        if (place >= 0) queue.splice(place, 1);
        // It cannot be interrupted otherwise; what it staged goes with the folder of the upload.
        else letGo();
        settle(job, () => job.reject(signal.reason));
      },
      { once: true },
    );
    queue.push(job);
    if (running !== undefined) job.waiting.onProgress({ step: 'waiting', share: 0 });
    next();
  }

  return {
    preview(file, waiting) {
      return new Promise((resolve, reject) =>
        enqueue({
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
    },
    store(file, choice, taker, waiting) {
      return new Promise((resolve, reject) => {
        let read: ReadRecording | undefined;
        const step: Job['step'] = { now: 'reading' };
        enqueue({
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
    },
    async close() {
      closed = true;
      const stopping = new Error('the hub is stopping');
      for (const job of queue.splice(0)) settle(job, () => job.reject(stopping));
      fail(stopping);
      const old = worker;
      worker = undefined;
      await old?.terminate();
    },
  };
}
