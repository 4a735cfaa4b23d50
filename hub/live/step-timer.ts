// Tells a session's pipelines the time just when they step, so that what silence decides is told in that moment, and lets whatever
// has arrived go between two athletes.

import type { MonotonicMs, ProcessMs } from '../../shared/units.ts';
import { stepMs } from '../../src/pipeline.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { LiveSession } from './live-session.ts';

/** At a multiple of real time steps come together: so much real time lies between two turns at least. Our choice. */
const leastPauseMs = 25;
/** Athletes follow one another for so long; then packets and answers that have arrived come first. Our choice. */
const sliceMs = 1;

const leastWaitMs = 0.01;

export interface StepTimerParts {
  /** The session's clock, and the clock of people. */
  readonly clock: Clock;
  readonly pageClock: Clock;
  readonly timeScale: number;
  readonly live: () => LiveSession | null;
  /** The present, with everything due by now delivered. */
  readonly present: () => ProcessMs;
}

export class StepTimer {
  readonly #parts: StepTimerParts;
  #cancel: (() => void) | undefined;
  #stopped = false;

  constructor(parts: StepTimerParts) {
    this.#parts = parts;
  }

  /** To be called now and then while a session may run; does nothing where the next turn is waited for already. */
  arm(): void {
    const live = this.#parts.live();
    if (this.#stopped || live === null || this.#cancel !== undefined) return;
    const { clock, timeScale } = this.#parts;
    const nowMs = live.toSessionMs(clock.nowMs());
    const dueMs = nextStepMs(nowMs, leastPauseMs * timeScale - stepMs);
    this.#wait(live, dueMs, dueMs - nowMs);
  }

  stop(): void {
    this.#stopped = true;
    this.#cancel?.();
    this.#cancel = undefined;
  }

  #wait(live: LiveSession, dueMs: number, delayMs: number): void {
    const { clock } = this.#parts;
    this.#cancel = clock.after(delayMs, () => {
      this.#cancel = undefined;
      if (this.#parts.live() !== live) {
        this.arm();
        return;
      }
      // A timer counts whole milliseconds and may be early by one; what is missing by rounding alone moves no clock.
      const missingMs = dueMs - live.toSessionMs(clock.nowMs());
      if (missingMs > 0) this.#wait(live, dueMs, Math.max(missingMs, leastWaitMs));
      else this.#turn(live, [...live.session.athleteIds]);
    });
  }

  #turn(live: LiveSession, athleteIds: string[]): void {
    const { pageClock, present } = this.#parts;
    const startedMs = pageClock.nowMs();
    const now = present();
    for (;;) {
      // What was due may have ended the session.
      const next = this.#stopped || this.#parts.live() !== live ? undefined : athleteIds.shift();
      if (next === undefined) break;
      live.advanceOne(next, now);
      if (athleteIds.length > 0 && pageClock.nowMs() - startedMs >= sliceMs) {
        pageClock.soon(() => this.#turn(live, athleteIds));
        return;
      }
    }
    this.arm();
  }
}

/** The first step more than `aheadMs` after `nowMs`, or after `nowMs` where that is negative. */
function nextStepMs(nowMs: MonotonicMs, aheadMs: number): number {
  return (Math.floor((nowMs + Math.max(0, aheadMs)) / stepMs) + 1) * stepMs;
}
