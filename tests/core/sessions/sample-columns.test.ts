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
      const all = columns.thin(0, 10_000, 10_000);
      expect(all.thinned).toBe(false);
      expect(all.atMs).toEqual(samples.map((s) => s.atMs).sort((a, b) => a - b));
      expect([...all.value].sort()).toEqual(samples.map((s) => s.value).sort());
    }),
  );
});

test('thinning keeps the least and greatest value of the span and never invents a sample', () => {
  fc.assert(
    fc.property(sampleList, fc.integer({ min: 1, max: 50 }), (samples, buckets) => {
      const columns = createSampleColumns();
      for (const { atMs, value } of samples) columns.append(atMs, value, 'suspect');
      const thin = columns.thin(0, 10_000, buckets);
      expect(thin.atMs.length).toBeLessThanOrEqual(buckets * 2);
      expect(thin.quality).toBe('s'.repeat(thin.atMs.length));
      if (samples.length === 0) return;
      expect(Math.min(...thin.value)).toBe(Math.min(...samples.map((s) => s.value)));
      expect(Math.max(...thin.value)).toBe(Math.max(...samples.map((s) => s.value)));
      const known = new Set(samples.map((s) => `${s.atMs}:${s.value}`));
      expect(thin.atMs.every((atMs, i) => known.has(`${atMs}:${thin.value[i]}`))).toBe(true);
    }),
  );
});

test('a span outside the data is empty', () => {
  const columns = createSampleColumns();
  columns.append(5, 97, 'good');
  expect(columns.thin(6, 100, 10).atMs).toEqual([]);
});
