import fc from 'fast-check';
import { expect, test } from 'vitest';
import { createSampleColumns } from '../../../src/sessions/sample-columns.ts';

const sampleList = fc.array(
  fc.record({ atMs: fc.integer({ min: 0, max: 10_000 }), value: fc.integer({ min: 0, max: 100 }) }),
  { maxLength: 400 },
);

test('columns come back in time order whatever order they arrived in', () => {
  fc.assert(
    fc.property(sampleList, (samples) => {
      const columns = createSampleColumns();
      for (const { atMs, value } of samples) columns.append(atMs, value, 'good');
      const all = columns.decimate(0, 10_000, 10_000);
      expect(all.decimated).toBe(false);
      expect(all.atMs).toEqual(samples.map((s) => s.atMs).sort((a, b) => a - b));
      expect([...all.value].sort()).toEqual(samples.map((s) => s.value).sort());
    }),
  );
});

test('decimation keeps the least and greatest value of the span and never invents a sample', () => {
  fc.assert(
    fc.property(sampleList, fc.integer({ min: 1, max: 50 }), (samples, buckets) => {
      const columns = createSampleColumns();
      for (const { atMs, value } of samples) columns.append(atMs, value, 'suspect');
      const few = columns.decimate(0, 10_000, buckets);
      expect(few.atMs.length).toBeLessThanOrEqual(buckets * 2);
      expect(few.quality).toBe('s'.repeat(few.atMs.length));
      if (samples.length === 0) return;
      expect(Math.min(...few.value)).toBe(Math.min(...samples.map((s) => s.value)));
      expect(Math.max(...few.value)).toBe(Math.max(...samples.map((s) => s.value)));
      const known = new Set(samples.map((s) => `${s.atMs}:${s.value}`));
      expect(few.atMs.every((atMs, i) => known.has(`${atMs}:${few.value[i]}`))).toBe(true);
    }),
  );
});

test('a span outside the data is empty', () => {
  const columns = createSampleColumns();
  columns.append(5, 97, 'good');
  expect(columns.decimate(6, 100, 10).atMs).toEqual([]);
});
