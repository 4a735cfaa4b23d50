// The page's clock under a test's hand: time moves only when told, callbacks run in order of their time.

import type { Timers } from '../../web/connection/timers.ts';

interface Due {
  atMs: number;
  readonly everyMs: number | null;
  readonly callback: () => void;
}

export class FakeTimers implements Timers {
  #nowMs = 0;
  readonly #due = new Set<Due>();

  nowMs(): number {
    return this.#nowMs;
  }

  after(delayMs: number, callback: () => void): () => void {
    return this.#add({ atMs: this.#nowMs + delayMs, everyMs: null, callback });
  }

  every(intervalMs: number, callback: () => void): () => void {
    return this.#add({ atMs: this.#nowMs + intervalMs, everyMs: intervalMs, callback });
  }

  advance(byMs: number): void {
    const untilMs = this.#nowMs + byMs;
    for (;;) {
      let next: Due | null = null;
      for (const due of this.#due) if (next === null || due.atMs < next.atMs) next = due;
      if (next === null || next.atMs > untilMs) break;
      this.#nowMs = next.atMs;
      if (next.everyMs === null) this.#due.delete(next);
      else next.atMs += next.everyMs;
      next.callback();
    }
    this.#nowMs = untilMs;
  }

  /** The page is busy with something else: time passes, and what fell due meanwhile is called once, late, as browsers do. */
  standStill(byMs: number): void {
    this.#nowMs += byMs;
    for (const due of [...this.#due].sort((one, other) => one.atMs - other.atMs)) {
      if (due.atMs > this.#nowMs || !this.#due.has(due)) continue;
      if (due.everyMs === null) this.#due.delete(due);
      else due.atMs = this.#nowMs + due.everyMs;
      due.callback();
    }
  }

  #add(due: Due): () => void {
    this.#due.add(due);
    return () => this.#due.delete(due);
  }
}
