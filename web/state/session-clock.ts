// The page's estimate of the session's time: the hub's stamps carried forward by the page's own monotonic clock.
// The least delayed of the last stamps wins, so that a late message never makes a reading look younger than it is.

import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';

/** Heartbeats come twice a second, so this many stamps cover about 5 s: long enough to ride out a slow burst. */
const windowStamps = 12;

export class SessionClock {
  #offsetsMs: number[] = [];
  #timeScale = 1;

  /** Session milliseconds per page millisecond: 1 except in a demo or a fast replay. */
  setTimeScale(timeScale: number): void {
    if (timeScale === this.#timeScale || !(timeScale > 0)) return;
    this.#timeScale = timeScale;
    this.#offsetsMs = [];
  }

  get timeScale(): number {
    return this.#timeScale;
  }

  /** Forgets a session's time, for the next session. */
  reset(): void {
    this.#offsetsMs = [];
  }

  /** Takes note that the hub said `atMs` and that the page heard it at `pageNowMs`. */
  stamp(atMs: number, pageNowMs: number): void {
    this.#offsetsMs.push(atMs - pageNowMs * this.#timeScale);
    if (this.#offsetsMs.length > windowStamps) this.#offsetsMs.shift();
  }

  /** The session's time now, or null while no hub has told any. */
  nowMs(pageNowMs: number): MonotonicMs | null {
    if (this.#offsetsMs.length === 0) return null;
    return monotonicMs(Math.max(0, Math.max(...this.#offsetsMs) + pageNowMs * this.#timeScale));
  }
}
