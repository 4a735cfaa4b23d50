// What a recording's traces, measures and events are drawn from: which trace, what a key does, rows, lines.

import { describe, expect, test } from 'vitest';
import type { AthleteRecording, TraceBody } from '../../shared/http.ts';
import { said } from '../../shared/said.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { Trace } from '../../shared/views.ts';
import { en } from '../../web/i18n/en.ts';
import { formatExactTime } from '../../web/state/format.ts';
import { firstTraceWithSamples, loadedTraceOf, traceForRange } from '../../web/state/loaded-trace.ts';
import { channelsOf } from '../../web/state/quantity.ts';
import { rangeAfterKey } from '../../web/state/time-range.ts';
import { correctionWords } from '../../web/views/correction/correction-words.ts';
import {
  type Measure,
  measureRows,
  mostFrequent,
  whyNotKnown,
} from '../../web/views/recording/measure-rows.ts';

const trace = (channel: Trace['channel'], atMs: number[] = [1_000]): Trace => ({
  channel,
  atMs,
  value: atMs.map(() => 90),
  quality: atMs.map(() => 'g').join(''),
});
const body = (part: Partial<TraceBody> = {}): TraceBody => ({
  fromMs: 0,
  toMs: 600_000,
  traces: [],
  decimated: false,
  cleaned: true,
  ...part,
});

describe('traces', () => {
  test('a line joins samples over 3.5 s, or over three buckets where that is more', () => {
    expect(loadedTraceOf(body(), 100).acrossSeconds).toBe(3.5);
    expect(loadedTraceOf(body({ decimated: true }), 100).acrossSeconds).toBe(18);
    expect(loadedTraceOf(body({ decimated: true }), 1_600).acrossSeconds).toBe(3.5);
  });

  test('a strap goes before an oximeter for the heart rate, unless it sent nothing', () => {
    const both = loadedTraceOf(body({ traces: [trace('pulseRateBpm'), trace('heartRateBpm')] }), 10);
    expect(firstTraceWithSamples(both, channelsOf.heartRate)?.channel).toBe('heartRateBpm');
    const silent = loadedTraceOf(body({ traces: [trace('pulseRateBpm'), trace('heartRateBpm', [])] }), 10);
    expect(firstTraceWithSamples(silent, channelsOf.heartRate)?.channel).toBe('pulseRateBpm');
    expect(firstTraceWithSamples(silent, channelsOf.spo2)).toBeNull();
    expect(firstTraceWithSamples(null, channelsOf.spo2)).toBeNull();
  });

  test('finer traces are drawn where they cover the range', () => {
    const overview = loadedTraceOf(body(), 10);
    const finer = loadedTraceOf(body({ fromMs: 100_000, toMs: 200_000 }), 10);
    expect(traceForRange(overview, finer, { fromSeconds: 100, toSeconds: 200 })).toBe(finer);
    expect(traceForRange(overview, finer, { fromSeconds: 99, toSeconds: 150 })).toBe(overview);
    expect(traceForRange(overview, finer, { fromSeconds: 150, toSeconds: 201 })).toBe(overview);
    expect(traceForRange(overview, null, { fromSeconds: 150, toSeconds: 160 })).toBe(overview);
  });
});

test('keys move and zoom the range; others, inherited names too, leave it', () => {
  const whole = { fromSeconds: 0, toSeconds: 1_000 };
  const range = { fromSeconds: 400, toSeconds: 600 };
  expect(rangeAfterKey('ArrowLeft', range, whole)).toEqual({ fromSeconds: 370, toSeconds: 570 });
  expect(rangeAfterKey('ArrowRight', range, whole)).toEqual({ fromSeconds: 430, toSeconds: 630 });
  expect(rangeAfterKey('+', range, whole)).toEqual({ fromSeconds: 430, toSeconds: 570 });
  expect(rangeAfterKey('0', range, whole)).toEqual(whole);
  expect(rangeAfterKey('Home', range, whole)).toEqual({ fromSeconds: 0, toSeconds: 200 });
  expect(rangeAfterKey('End', range, whole)).toEqual({ fromSeconds: 800, toSeconds: 1_000 });
  for (const key of ['x', 'Enter', 'constructor', 'toString'])
    expect(rangeAfterKey(key, range, whole)).toBeNull();
});

describe('measures', () => {
  const measure = (key: string, value: number | null, why: string | null = null): Measure => ({
    key,
    value,
    unit: 's',
    source: said('plan.noEffect.free'),
    whyNot: why === null ? null : { code: why, params: {} },
  });

  test('a row a measure, in the order of the first hold that has it; a hold without it keeps its place', () => {
    const rows = measureRows([
      { measures: [measure('a', 1), measure('b', 2)] },
      { measures: [measure('b', 3), measure('c', 4)] },
    ]);
    expect(rows.map(({ key }) => key)).toEqual(['a', 'b', 'c']);
    expect(rows.map(({ ofHolds }) => ofHolds.map((each) => each?.value))).toEqual([
      [1, undefined],
      [2, 3],
      [undefined, 4],
    ]);
    expect(measureRows([])).toEqual([]);
  });

  test('why a value is not known is said only where it is not known', () => {
    const say = ({ code }: { code: string }) => code;
    expect(whyNotKnown(measure('a', null, 'x'), say)).toBe('x');
    expect(whyNotKnown(measure('a', 1, 'x'), say)).toBe('');
    expect(whyNotKnown(measure('a', null), say)).toBe('');
    expect(whyNotKnown(undefined, say)).toBe('');
  });

  test('the usual reason is the most frequent, the first of several', () => {
    expect(mostFrequent(['b', 'a', 'a', 'b', 'c'])).toBe('b');
    expect(mostFrequent(['c', 'a', 'a'])).toBe('a');
    expect(mostFrequent([])).toBeUndefined();
  });
});

test('times to a tenth never round up', () => {
  expect(formatExactTime(91_399)).toBe('1:31.3');
  expect(formatExactTime(59_999)).toBe('0:59.9');
  expect(formatExactTime(-1)).toBe('0:00.0');
});

test('each correction says what it did', () => {
  const corrections: AthleteRecording['corrections'][number]['correction'][] = [
    { type: 'addHold', startMs: monotonicMs(60_000), endMs: monotonicMs(61_000) },
    { type: 'removeHold', holdId: 'h' },
    { type: 'moveBoundary', holdId: 'h', boundary: 'end', atMs: monotonicMs(60_000) },
    { type: 'addMark', kind: 'note', atMs: monotonicMs(60_000), text: 'x' },
    { type: 'moveMark', markId: 'm', atMs: monotonicMs(60_000) },
    { type: 'removeMark', markId: 'm' },
  ];
  expect(corrections.map((correction) => correctionWords(correction, en))).toEqual([
    'Hold added from 1:00.0 to 1:01.0',
    'Hold removed',
    'End of a hold moved to 1:00.0',
    `${en.markKind.note} added at 1:00.0`,
    'Mark moved to 1:00.0',
    'Mark removed',
  ]);
});
