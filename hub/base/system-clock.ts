// The Clock port on the machine's own clocks. The only place in the hub that reads them or sets a timer.

import { performance } from 'node:perf_hooks';
import { processMs, wallMs } from '../../shared/units.ts';
import type { Clock } from './ports/clock.ts';

export const systemClock: Clock = {
  nowMs: () => processMs(performance.now()),
  wallNowMs: () => wallMs(Date.now()),
  every(intervalMs, callback) {
    const timer = setInterval(callback, intervalMs);
    return () => clearInterval(timer);
  },
  after(delayMs, callback) {
    const timer = setTimeout(callback, delayMs);
    return () => clearTimeout(timer);
  },
  soon(callback) {
    setImmediate(callback);
  },
};
