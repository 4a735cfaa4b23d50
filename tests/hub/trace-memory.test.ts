// What a joining page is filled in with: samples that live pages plot, without repeats that nobody would see.

import { expect, test } from 'vitest';
import { createTraceMemory } from '../../hub/server/trace-memory.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { Sample } from '../../src/samples/sample.ts';

const sample = (atMs: number, value: number, more: Partial<Sample> = {}): Sample => ({
  channel: 'spo2Percent',
  value,
  atMs: monotonicMs(atMs),
  quality: 'good',
  reasons: [],
  sensorId: 'clip',
  ...more,
});

test('a reading that comes with each packet of a wave is kept twice a second, and whenever it changes', () => {
  const memory = createTraceMemory();
  const kept = Array.from({ length: 30 }, (_, tenth) =>
    memory.add(sample(100 * tenth, tenth < 17 ? 97 : 96)),
  );
  expect(kept.filter(Boolean)).toHaveLength(7);
  expect(memory.since(monotonicMs(-1)).traces[0]?.atMs).toEqual([0, 500, 1_000, 1_500, 1_700, 2_200, 2_700]);
});

test('another quality, reason, sensor or channel is no repeat', () => {
  const memory = createTraceMemory();
  expect(memory.add(sample(0, 97))).toBe(true);
  expect(memory.add(sample(10, 97))).toBe(false);
  expect(memory.add(sample(20, 97, { quality: 'suspect', reasons: ['noContact'] }))).toBe(true);
  expect(memory.add(sample(30, 97, { quality: 'suspect', reasons: ['poorSignal'] }))).toBe(true);
  expect(memory.add(sample(40, 97, { quality: 'suspect', reasons: ['poorSignal'], sensorId: 'other' }))).toBe(
    true,
  );
  expect(memory.add(sample(40, 97, { channel: 'pulseRateBpm' }))).toBe(true);
  expect(memory.add(sample(40, 97, { channel: 'pleth' }))).toBe(false);
});
