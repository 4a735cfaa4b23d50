// A clock that stands still until a test moves it, and then calls every timer due on the way, in order.

import type { Clock } from '../../hub/base/ports/clock.ts';
import { processMs, wallMs } from '../../shared/units.ts';

export interface FakeClock extends Clock {
  /** Moves on by `durationMs`, stopping at each timer that falls due. */
  advance(durationMs: number): void;
  /** Moves without stopping: as a machine that slept. Timers due are called once, late. */
  jump(durationMs: number): void;
  readonly timerCount: number;
}

interface Timer {
  readonly id: number;
  readonly everyMs: number | undefined;
  readonly callback: () => void;
  dueAtMs: number;
}

export function createFakeClock(startMs = 1_000, wallStartMs = Date.UTC(2031, 4, 17, 9, 0, 0)): FakeClock {
  let nowMs = startMs;
  let nextId = 0;
  const timers = new Map<number, Timer>();
  const add = (dueAtMs: number, everyMs: number | undefined, callback: () => void): (() => void) => {
    nextId += 1;
    const id = nextId;
    timers.set(id, { id, everyMs, callback, dueAtMs });
    return () => timers.delete(id);
  };
  const nextDue = (untilMs: number): Timer | undefined => {
    let next: Timer | undefined;
    for (const timer of timers.values()) {
      if (timer.dueAtMs > untilMs) continue;
      if (next === undefined || timer.dueAtMs < next.dueAtMs) next = timer;
    }
    return next;
  };
  const fire = (timer: Timer): void => {
    if (timer.everyMs === undefined) timers.delete(timer.id);
    else timer.dueAtMs = nowMs + timer.everyMs;
    timer.callback();
  };
  return {
    nowMs: () => processMs(nowMs),
    wallNowMs: () => wallMs(wallStartMs + (nowMs - startMs)),
    every: (intervalMs, callback) => add(nowMs + intervalMs, intervalMs, callback),
    after: (delayMs, callback) => add(nowMs + delayMs, undefined, callback),
    soon: (callback) => void add(nowMs, undefined, callback),
    advance(durationMs) {
      const untilMs = nowMs + durationMs;
      for (let timer = nextDue(untilMs); timer !== undefined; timer = nextDue(untilMs)) {
        nowMs = Math.max(nowMs, timer.dueAtMs);
        fire(timer);
      }
      nowMs = untilMs;
    },
    jump(durationMs) {
      nowMs += durationMs;
      for (const timer of [...timers.values()].filter((timer) => timer.dueAtMs <= nowMs)) {
        if (timers.has(timer.id)) fire(timer);
      }
    },
    get timerCount() {
      return timers.size;
    },
  };
}
