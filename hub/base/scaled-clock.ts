// A clock that runs `scale` times as fast as another: the whole hub of a demo or a fast replay lives on it.

import { processMs, wallMs } from '../../shared/units.ts';
import type { Clock } from './ports/clock.ts';

/**
 * Scaled time. Source, hub and recorder all get the same scaled clock, so session time, arrival stamps, alarm delays
 * and staleness agree with one another; nothing multiplies anything else. Both times start where the real clock is
 * now. Timers count in scaled time: `every(500)` at scale 10 calls back each 50 real ms. Real timers end at about
 * 1 ms, so at high scales callbacks come late in scaled time and must ask `nowMs` how far it has gone.
 * What a person does at the page (a pause of the sound, a heartbeat's silence) is counted in real time by the page.
 */
export function scaledClock(clock: Clock, scale: number): Clock {
  if (!(scale > 0 && Number.isFinite(scale))) throw new RangeError('clock.scale');
  if (scale === 1) return clock;
  const realStartMs = clock.nowMs();
  const wallStartMs = clock.wallNowMs();
  const elapsedMs = (): number => (clock.nowMs() - realStartMs) * scale;
  return {
    nowMs: () => processMs(realStartMs + elapsedMs()),
    wallNowMs: () => wallMs(wallStartMs + elapsedMs()),
    every: (intervalMs, callback) => clock.every(Math.max(1, intervalMs / scale), callback),
    after: (delayMs, callback) => clock.after(delayMs / scale, callback),
    soon: (callback) => clock.soon(callback),
  };
}
