// An output that waits: it sounds only when a high alarm has asked for somebody for some time and nobody has answered.

import { type Said, said } from '../../shared/said.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { AlarmNews, AlarmOutput, OutputSound, OutputTest } from './alarm-output.ts';

/**
 * `inner` hears of a high alarm `afterMs` after it began, if it still calls: not acknowledged, its sound not paused by a
 * person. What is less than high never reaches it. It ends with the alarm at once.
 */
export function escalateAfter(afterMs: number, clock: Clock, inner: AlarmOutput): AlarmOutput {
  return new Escalation(afterMs, clock, inner);
}

class Escalation implements AlarmOutput {
  readonly name: Said;
  readonly #afterMs: number;
  readonly #clock: Clock;
  readonly #inner: AlarmOutput;
  #news: readonly AlarmNews[] = [];
  #cancelWait: (() => void) | undefined;
  #isTold = false;

  constructor(afterMs: number, clock: Clock, inner: AlarmOutput) {
    this.#afterMs = afterMs;
    this.#clock = clock;
    this.#inner = inner;
    this.name = said('output.escalation', { seconds: afterMs / 1_000, output: inner.name });
  }

  /** Silently: whoever it reaches is not to be called at each start. */
  test(): Promise<OutputTest> {
    return this.#inner.probe();
  }

  probe(): Promise<OutputTest> {
    return this.#inner.probe();
  }

  /** A drill is for those who are there: nobody elsewhere is called by it. */
  sound(priority: OutputSound | null, news: readonly AlarmNews[] = []): void {
    this.#news = news.filter((each) => each.priority === 'high');
    if (priority !== 'high') {
      this.#cancelWait?.();
      this.#cancelWait = undefined;
      if (this.#isTold) this.#inner.sound(null, []);
      this.#isTold = false;
      return;
    }
    if (this.#isTold) this.#inner.sound('high', this.#news);
    else
      this.#cancelWait ??= this.#clock.after(this.#afterMs, () => {
        this.#cancelWait = undefined;
        this.#isTold = true;
        this.#inner.sound('high', this.#news);
      });
  }

  close(): void {
    this.#cancelWait?.();
    this.#inner.close();
  }
}
