// Samples as their sensors sent them: where beats stand on both sides of an outage.

import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { PipelineEvent } from '../../../src/pipeline.ts';
import { sensorSamples } from '../../../src/sessions/sensor-samples.ts';

/** A Heart Rate Measurement (0x2A37) with one interval of 800 ms: flags 0x10, 75 /min, 819 units of 1/1024 s. */
const oneBeat = Uint8Array.of(0x10, 75, 819 & 0xff, 819 >> 8);

const beatAt = (atMs: number): PipelineEvent => ({
  type: 'packet',
  atMs: monotonicMs(atMs),
  sensorId: 'strap',
  characteristic: '2a37',
  bytes: oneBeat,
});

test.each(['unwatched', 'link'] as const)('no beat that came after an outage (%s) lies before it', (type) => {
  const [fromMs, toMs] = [20_300, 45_300];
  const outage: PipelineEvent =
    type === 'unwatched'
      ? { type, fromMs: monotonicMs(fromMs), atMs: monotonicMs(toMs) }
      : {
          type,
          atMs: monotonicMs(toMs),
          sensorId: 'strap',
          measures: ['heartRate'],
          connected: false,
          isNew: true,
        };
  const before = Array.from({ length: 25 }, (_, beat) => beatAt(850 + 800 * beat));
  const after = Array.from({ length: 10 }, (_, beat) => beatAt(toMs + 50 + 800 * beat));
  const beats = sensorSamples([...before, outage, ...after]).filter(
    ({ channel }) => channel === 'rrIntervalMs',
  );
  expect(beats).toHaveLength(35);
  expect(beats.filter(({ atMs }) => atMs > fromMs && atMs <= toMs)).toEqual([]);
  expect(beats.filter(({ atMs }) => atMs > toMs)).toHaveLength(10);
});
