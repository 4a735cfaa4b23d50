// RR intervals drawn from a heart rate over time, for tests of what is read from beats.

import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';

/** Beats from 0 to about `untilMs`: `rrMs` says how long the n-th interval, begun at `atMs`, is. */
export function drawnBeats(untilMs: number, rrMs: (atMs: number, n: number) => number): Sample[] {
  const samples: Sample[] = [];
  let atMs = 0;
  for (let n = 0; atMs < untilMs; n++) {
    const value = rrMs(atMs, n);
    atMs += value;
    samples.push({
      channel: 'rrIntervalMs',
      atMs: monotonicMs(atMs),
      value,
      sensorId: 'strap',
      quality: 'good',
      reasons: [],
    });
  }
  return samples;
}
