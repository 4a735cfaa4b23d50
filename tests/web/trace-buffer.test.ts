import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { Trace } from '../../shared/views.ts';
import { sampleFlags, TraceBuffer } from '../../web/state/trace-buffer.ts';

const trace = (samples: readonly (readonly [number, number | null, string?])[]): Trace => ({
  channel: 'spo2Percent',
  atMs: samples.map(([atMs]) => atMs),
  value: samples.map(([, value]) => value),
  quality: samples.map(([, , quality]) => quality ?? 'g').join(''),
});

test('keeps times in seconds, values and doubts', () => {
  const buffer = new TraceBuffer(8);
  expect(
    buffer.append(
      trace([
        [1000, 98],
        [2000, 97, 's'],
        [3000, 60, 'b'],
      ]),
    ),
  ).toBe(3);
  const view = buffer.view();
  expect([...view.atSeconds]).toEqual([1, 2, 3]);
  expect([...view.value]).toEqual([98, 97, 60]);
  expect([...view.flags]).toEqual([0, sampleFlags.suspect, sampleFlags.bad]);
});

test('a null value breaks the line before the next value', () => {
  const buffer = new TraceBuffer(8);
  buffer.append(
    trace([
      [1000, 98],
      [2000, null],
      [3000, 96],
    ]),
  );
  expect([...buffer.view().flags]).toEqual([0, sampleFlags.breakBefore]);
});

test('a repeated batch after a resume adds nothing', () => {
  const buffer = new TraceBuffer(8);
  const batch = trace([
    [1000, 98],
    [2000, 97],
  ]);
  buffer.append(batch);
  const version = buffer.version;
  expect(buffer.append(batch)).toBe(0);
  expect(buffer.version).toBe(version);
  expect(
    buffer.append(
      trace([
        [2000, 97],
        [3000, 96],
      ]),
    ),
  ).toBe(1);
  expect([...buffer.view().atSeconds]).toEqual([1, 2, 3]);
});

test('property: however samples are batched, the newest are kept in order', () => {
  fc.assert(
    fc.property(
      fc.array(fc.integer({ min: 1, max: 500 }), { minLength: 1, maxLength: 60 }),
      fc.array(fc.integer({ min: 1, max: 7 }), { minLength: 1, maxLength: 60 }),
      (steps, cuts) => {
        let atMs = 0;
        const samples = steps.map((step) => {
          atMs += step;
          return [atMs, (atMs % 40) + 60] as const;
        });
        const buffer = new TraceBuffer(10);
        let from = 0;
        for (let index = 0; from < samples.length; index += 1) {
          const count = cuts[index % cuts.length]!;
          buffer.append(trace(samples.slice(from, from + count)));
          from += count;
        }
        const kept = samples.slice(-10);
        expect([...buffer.view().atSeconds]).toEqual(kept.map(([at]) => at / 1000));
        expect([...buffer.view().value]).toEqual(kept.map(([, value]) => value));
      },
    ),
  );
});
