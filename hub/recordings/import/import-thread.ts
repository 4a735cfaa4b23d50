// The hub's end of the import thread: one file at a time, the others wait; dropped at once when nobody waits any more.

import type { Worker } from 'node:worker_threads';
import type { ImportPreview, ImportProgress } from '../../../shared/http.ts';
import { said } from '../../../shared/said.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import { findThreadEntry, JobThread, type ThreadJob } from '../job-thread.ts';
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
  /** The next part comes when it resolves. */
  take(part: SessionPart): Promise<void>;
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

const entries = [
  './import-worker-from-sources.mjs',
  './recordings/import/import-worker.js',
  './import-worker.js',
];
const notBuilt = said('build.importMissing');

const stopping = (): Error => new Error('the hub is stopping');

type Heard = 'done' | 'more';

interface Job extends ThreadJob {
  readonly first: ToImportThread;
  readonly onProgress: ImportWaiting['onProgress'];
  readonly hear: (
    message: FromImportThread,
    tell: (message: ToImportThread) => void,
  ) => Heard | Promise<Heard>;
  readonly step: { now: ImportProgress['step'] };
}

export const createImportThread = (options: ImportThreadOptions): ImportThread => new QueuedImports(options);

class QueuedImports implements ImportThread {
  readonly #options: ImportThreadOptions;
  #thread: JobThread<Job, FromImportThread> | undefined;
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
        hear(message, tell) {
          if (message.type === 'read') {
            read = message.recording;
            const begun = taker.begin(read);
            step.now = 'storing';
            tell({ type: 'store', ...begun });
            return 'more';
          }
          if (message.type !== 'part' || read === undefined) return 'more';
          const recording = read;
          return taker.take(message.part).then(() => {
            tell({ type: 'taken' });
            if (message.part.type !== 'end') return 'more';
            resolve(recording);
            return 'done';
          });
        },
      });
    });
  }

  async close(): Promise<void> {
    this.#closed = true;
    await this.#thread?.close();
  }

  #enqueue(job: Omit<Job, 'signal' | 'onProgress' | 'settled'> & { readonly waiting: ImportWaiting }): void {
    const { waiting, ...rest } = job;
    const whole: Job = { ...rest, signal: waiting.signal, onProgress: waiting.onProgress, settled: false };
    let thread: JobThread<Job, FromImportThread>;
    try {
      if (this.#closed) throw stopping();
      thread = this.#started();
    } catch (error) {
      whole.reject(error);
      return;
    }
    if (thread.enqueue(whole) === 'waits') waiting.onProgress({ step: 'waiting', share: 0 });
  }

  /** At the first import, so that a hub whose import thread was not built still runs. */
  #started(): JobThread<Job, FromImportThread> {
    const { entry, memoryLimitMb: limitMb = memoryLimitMb, warn } = this.#options;
    this.#thread ??= new JobThread<Job, FromImportThread>({
      entry: entry ?? findThreadEntry(import.meta.url, entries, notBuilt),
      memoryLimitMb: limitMb,
      begin: (job, worker) => worker.postMessage(job.first),
      hear: (job, message, worker) => this.#hear(job, message, worker),
      died(error) {
        warn('the import thread died', error);
        return new ImportRefused(
          error?.code === 'ERR_WORKER_OUT_OF_MEMORY'
            ? said('import.tooMuchMemory')
            : said('import.brokeDown'),
        );
      },
      stopping,
    });
    return this.#thread;
  }

  /** The store did not take a part: the thread goes, with the rest of the recording that it holds. */
  #refused(job: Job, error: unknown): void {
    this.#thread?.drop(job, error);
  }

  #hear(job: Job, message: FromImportThread, worker: Worker): void {
    const end = (say: () => void): void => this.#thread?.settle(job, say);
    if (message.type === 'progress') {
      job.onProgress({ step: job.step.now, share: message.share });
    } else if (message.type === 'refused') {
      end(() => job.reject(new ImportRefused(message.said)));
    } else if (message.type === 'failed') {
      this.#options.warn('a file could not be read', new Error(message.reason));
      end(() => job.reject(new ImportRefused(said('import.brokeDown'))));
    } else {
      const heard = job.hear(message, (answer) => worker.postMessage(answer));
      const go = (how: Heard): void => (how === 'done' ? end(() => undefined) : undefined);
      if (heard instanceof Promise) heard.then(go, (error: unknown) => this.#refused(job, error));
      else go(heard);
    }
  }
}
