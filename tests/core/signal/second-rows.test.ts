// Rows of one second each from samples that come in any rhythm.

import { describe, expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { Sample } from '../../../src/samples/sample.ts';
import { createSecondRows, type SecondRow } from '../../../src/signal/second-rows.ts';

const sample = (channel: Sample['channel'], atMs: number, value: number): Sample => ({
  channel,
  atMs: monotonicMs(atMs),
  value,
  sensorId: 'finger',
  quality: 'good',
  reasons: [],
});

function rowsOf(samples: readonly Sample[]): SecondRow[] {
  const stream = createSecondRows();
  return [...samples.flatMap((one) => [...stream.push(one)]), ...stream.flush()];
}

describe('rows', () => {
  test.each([0, 50, 150, 250, 500, 900, 999])(
    'no second of a reading a second is lost, %i ms after the full second',
    (offsetMs) => {
      const rows = rowsOf(
        Array.from({ length: 30 }, (_, i) => [
          sample('spo2Percent', 1_000 * (i + 1) + offsetMs, 95 + (i % 3)),
          sample('pulseRateBpm', 1_000 * (i + 1) + offsetMs, 60 + i),
        ]).flat(),
      );
      expect(rows.length).toBeGreaterThan(25);
      for (const row of rows.slice(2)) {
        const newest = Math.floor((row.atMs - offsetMs) / 1_000) - 1;
        expect(row.spo2Percent).toBe(95 + (newest % 3));
        expect(row.heartRateBpm).toBe(60 + newest);
      }
    },
  );

  test('a value older than five seconds is not known', () => {
    const rows = rowsOf([
      sample('spo2Percent', 1_000, 97),
      sample('pulseRateBpm', 12_000, 60),
      sample('pulseRateBpm', 14_000, 60),
    ]);
    expect(rows.find((row) => row.atMs === 6_000)?.spo2Percent).toBe(97);
    expect(rows.find((row) => row.atMs === 7_000)?.spo2Percent).toBeNaN();
  });
});
