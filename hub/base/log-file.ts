// A log in a file that is put aside when it is full, the newest few kept. Nothing waits for its disk: lines that it does not take
// are dropped and counted, and a file that cannot be written is tried again later.

import { mkdirSync } from 'node:fs';
import { basename, dirname } from 'node:path';
import { createStream, type RotatingFileStream } from 'rotating-file-stream';

export interface LogFileSettings {
  readonly path: string;
  readonly mostBytes: number;
  /** Full ones that stay beside it: PATH.1 is the newest. */
  readonly keep: number;
}

export interface LogFile {
  /** For pino: one line with its end. False when it was dropped. */
  line(text: string): boolean;
  readonly droppedCount: number;
  /** Resolves when what was taken is written, or cannot be. */
  close(): Promise<void>;
}

/** Lines that wait for the disk, in bytes. */
const mostWaitingBytes = 256 * 1024;
const tryAgainMs = 60_000;

/** `nowMs`: any monotonic clock. `failed` hears why, each time that it cannot be written. */
export function openLogFile(
  settings: LogFileSettings,
  nowMs: () => number,
  failed: (error: Error) => void = () => undefined,
): LogFile {
  return new RotatedFile(settings, nowMs, failed);
}

class RotatedFile implements LogFile {
  readonly #settings: LogFileSettings;
  readonly #nowMs: () => number;
  readonly #failed: (error: Error) => void;
  #stream: RotatingFileStream | undefined;
  #brokeAtMs = Number.NEGATIVE_INFINITY;
  #droppedCount = 0;

  constructor(settings: LogFileSettings, nowMs: () => number, failed: (error: Error) => void) {
    this.#settings = settings;
    this.#nowMs = nowMs;
    this.#failed = failed;
    this.#stream = this.#open();
  }

  get droppedCount(): number {
    return this.#droppedCount;
  }

  line(text: string): boolean {
    if (this.#stream === undefined && this.#nowMs() - this.#brokeAtMs >= tryAgainMs)
      this.#stream = this.#open();
    const stream = this.#stream;
    if (stream === undefined || stream.writableLength > mostWaitingBytes) {
      this.#droppedCount += 1;
      return false;
    }
    stream.write(text);
    return true;
  }

  async close(): Promise<void> {
    const stream = this.#stream;
    this.#stream = undefined;
    if (stream === undefined) return;
    await new Promise<void>((resolve) => {
      stream.once('close', resolve);
      stream.once('error', () => resolve());
      stream.end();
    });
  }

  #open(): RotatingFileStream {
    const { path, mostBytes, keep } = this.#settings;
    const name = basename(path);
    try {
      // It may be the folder of the recordings, before its first start: private then too.
      mkdirSync(dirname(path), { recursive: true, mode: 0o700 });
    } catch (error) {
      // The stream will say so as well, when it cannot open.
      this.#failed(error instanceof Error ? error : new Error(String(error)));
    }
    const stream = createStream(
      (index: number | Date | null) => (typeof index === 'number' ? `${name}.${index}` : name),
      { path: dirname(path), size: `${mostBytes}B`, rotate: keep, mode: 0o600 },
    );
    stream.on('error', (error) => this.#broke(stream, error));
    // One that could not be put aside goes on.
    stream.on('warning', (error) => this.#failed(error));
    return stream;
  }

  #broke(stream: RotatingFileStream, error: Error): void {
    if (this.#stream === stream) {
      this.#stream = undefined;
      this.#brokeAtMs = this.#nowMs();
    }
    this.#failed(error);
  }
}
