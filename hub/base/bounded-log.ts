// The log as far as it can be written: lines go out beside everything else, a few at a time; one that cannot be written is
// dropped and counted, and the same thing said again and again is said a few times and then counted too.

import { write, writeSync } from 'node:fs';
import type { HubLog } from './log.ts';
import type { Clock } from './ports/clock.ts';

/** So often in one span a message is written; the rest are counted. Our choice. */
const mostInSpan = 3;
const spanMs = 10_000;
/** Lines that wait for a disk or a reader that does not take them. */
const mostWaiting = 500;

/** Writes to a file descriptor without ever waiting for it. */
export class LineWriter {
  readonly #descriptor: number;
  readonly #write: typeof write;
  #waiting: string[] = [];
  #isWriting = false;
  #droppedCount = 0;

  constructor(descriptor: number, how: typeof write = write) {
    this.#descriptor = descriptor;
    this.#write = how;
  }

  /** Lines that nobody will ever read. */
  get droppedCount(): number {
    return this.#droppedCount;
  }

  /** For pino: one line with its end. */
  readonly line = (text: string): void => {
    if (this.#waiting.length >= mostWaiting) {
      this.#droppedCount += 1;
      return;
    }
    this.#waiting.push(text);
    this.#next();
  };

  /** The program ends: what waits is written now, unless something is stuck already. */
  flush(): void {
    if (this.#isWriting) return;
    try {
      for (const text of this.#waiting.splice(0)) writeSync(this.#descriptor, text);
    } catch {
      // There is nowhere left to say it.
    }
  }

  #next(): void {
    if (this.#isWriting) return;
    const texts = this.#waiting;
    if (texts.length === 0) return;
    this.#waiting = [];
    this.#isWriting = true;
    this.#write(this.#descriptor, texts.join(''), (error) => {
      this.#isWriting = false;
      // Tried once: the next line tries again, and a full disk gets no second copy.
      if (error !== null) this.#droppedCount += texts.length;
      this.#next();
    });
  }
}

/** Each message at most a few times in a span of time; then how often it came is said with its next. */
export function rateLimited(log: HubLog, clock: Clock): HubLog {
  const spans = new Map<string, { beganAtMs: number; count: number }>();

  /** The message to write, or undefined. */
  function admit(message: string): string | undefined {
    const nowMs = clock.nowMs();
    const span = spans.get(message);
    if (span === undefined || nowMs - span.beganAtMs >= spanMs) {
      const unsaid = span === undefined ? 0 : Math.max(0, span.count - mostInSpan);
      // Messages with changing numbers in them must not fill the memory.
      if (spans.size > 1_000) spans.clear();
      spans.set(message, { beganAtMs: nowMs, count: 1 });
      return unsaid === 0 ? message : `${message} (+${unsaid})`;
    }
    span.count += 1;
    return span.count <= mostInSpan ? message : undefined;
  }

  return {
    info(message) {
      const admitted = admit(message);
      if (admitted !== undefined) log.info(admitted);
    },
    warn(message) {
      const admitted = admit(message);
      if (admitted !== undefined) log.warn(admitted);
    },
    error(message, cause) {
      // The same fault of another cause is another kind.
      const kind = cause instanceof Error ? `${message} ${cause.message}` : message;
      const admitted = admit(kind);
      if (admitted !== undefined) log.error(admitted === kind ? message : admitted, cause);
    },
  };
}
