// What is kept of a session's holds for the weeks: no lag before the end, lungs and comfort as they were said.

import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import type { HoldView } from '../../../shared/views.ts';
import type { MeasuredHold } from '../../../src/sessions/derive-recording.ts';
import { summariseSession } from '../../../src/sessions/session-summary.ts';

const boundary = (atMs: number) => ({
  atMs: monotonicMs(atMs),
  uncertaintyMs: 300,
  declaredAtMs: monotonicMs(atMs),
  source: 'mark' as const,
  evidence: [],
});
const hold = (holdId: string, fromMs: number, toMs: number, lagS: number | null): MeasuredHold => ({
  hold: { holdId, start: boundary(fromMs), end: boundary(toMs), contractionsAtMs: [] },
  measures: { spo2LowestAfterEndS: lagS } as MeasuredHold['measures'],
  lowestSpo2: undefined,
  whyNot: {},
});

test('only a lowest reading near the end or after it tells how late a finger shows; never negative', () => {
  const { measures } = summariseSession([
    hold('a', 0, 60_000, 21.3),
    hold('b', 100_000, 160_000, -3),
    hold('c', 200_000, 260_000, -31),
    hold('d', 300_000, 360_000, null),
  ]);
  expect(measures.spo2LowestAfterEndS).toEqual([21.3, 0, null, null]);
});

test('lungs as marked after the hold before or in it, the last word counts; comfort of the hold it was said of', () => {
  const liveHold = (fromMs: number, toMs: number, comfort: number): HoldView => ({
    holdId: `live-${fromMs}`,
    start: boundary(fromMs),
    end: boundary(toMs),
    contractionCount: 0,
    firstContractionAtMs: null,
    lowestSpo2: null,
    feeling: { comfort, note: null },
  });
  const summary = summariseSession(
    [hold('a', 50_000, 100_000, null), hold('b', 200_000, 260_000, null), hold('c', 300_000, 360_000, null)],
    {
      marks: [
        { kind: 'lungsFull', atMs: monotonicMs(20_000) },
        { kind: 'lungsHalf', atMs: monotonicMs(60_000) },
        { kind: 'contraction', atMs: monotonicMs(220_000) },
        { kind: 'lungsEmptied', atMs: monotonicMs(290_000) },
      ],
      liveHolds: [liveHold(205_000, 258_000, 4)],
    },
  );
  expect(summary.lungs).toEqual(['half', null, 'emptied']);
  expect(summary.comfort).toEqual([null, 4, null]);
});

test('recovery is to this athlete\u2019s own rest: whose rest is 94 % is back there, never having been at 95 again', () => {
  const measured: MeasuredHold = {
    ...hold('a', 0, 60_000, 20),
    measures: { spo2BackToBaselineS: 48.24, spo2HalfTimeS: 9.06, timeBackTo95S: null } as never,
  };
  const { measures } = summariseSession([measured]);
  expect(measures.spo2BackToBaselineS).toEqual([48.2]);
  expect(measures.spo2HalfTimeS).toEqual([9.1]);
  expect(Object.keys(measures)).not.toContain('timeBackTo95S');
});
