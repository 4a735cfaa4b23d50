// Past sessions narrowed to those alike, and two of them row by row.

import { describe, expect, test } from 'vitest';
import type { HistoryBody } from '../../shared/history.ts';
import { noDetails } from '../../shared/session-details.ts';
import { wallMs } from '../../shared/units.ts';
import {
  eightWeeksBefore,
  lastOfSamePlan,
  pairedRows,
  sharedPlan,
  valueAt,
} from '../../web/state/session-pair.ts';
import { everySession, filteredSessions, isNarrowed, weeksChoices } from '../../web/state/weeks-filter.ts';

type PastSession = HistoryBody['sessions'][number];
const day = 86_400_000;
const now = Date.UTC(2031, 4, 10, 18);

const session = (
  sessionId: string,
  daysAgo: number,
  durationS: readonly number[],
  part: Partial<PastSession> & { lungs?: readonly ('full' | 'half' | 'emptied' | null)[] } = {},
): PastSession => {
  const { lungs, ...rest } = part;
  return {
    sessionId,
    title: '',
    startedWallAtMs: wallMs(now - daysAgo * day),
    simulated: false,
    durationMs: 1_800_000,
    comfort: null,
    details: null,
    plans: [],
    planRows: durationS.map(() => null),
    summary: {
      holdIds: durationS.map((_, index) => `h${index}`),
      startAtMs: durationS.map((_, index) => index * 200_000),
      durationUncertaintyS: durationS.map(() => 0),
      measures: { durationS: [...durationS] },
      lungs: [...(lungs ?? durationS.map(() => null))],
      comfort: durationS.map(() => null),
    },
    ...rest,
  };
};

describe('sessions alike', () => {
  const table = session('table', 3, [60, 70, 80], {
    plans: ['Evening table'],
    details: { ...noDetails, tags: ['Warm', 'new mat'], place: 'Studio' },
    lungs: ['full', 'full', 'emptied'],
  });
  const free = session('free', 10, [90], { details: { ...noDetails, tags: ['warm'], place: 'studio' } });
  const bare = session('bare', 20, [50, 55], { lungs: ['half', null] });
  const all = [bare, free, table];

  test('by plan, tag and place, whatever their spelling', () => {
    const ids = (part: Partial<typeof everySession>) =>
      filteredSessions(all, { ...everySession, ...part }).map(({ sessionId }) => sessionId);
    expect(ids({})).toEqual(['bare', 'free', 'table']);
    expect(ids({ plan: 'Evening table' })).toEqual(['table']);
    expect(ids({ tag: 'WARM' })).toEqual(['free', 'table']);
    expect(ids({ place: 'Studio', tag: 'new mat' })).toEqual(['table']);
    expect(ids({ place: 'Nowhere' })).toEqual([]);
    expect(isNarrowed(everySession)).toBe(false);
    expect(isNarrowed({ ...everySession, tag: 'warm' })).toBe(true);
  });

  test('by lungs: a session keeps those holds alone, each column alike', () => {
    const full = filteredSessions(all, { ...everySession, lungs: 'full' });
    expect(full.map(({ sessionId, summary }) => [sessionId, summary?.measures['durationS']])).toEqual([
      ['table', [60, 70]],
    ]);
    expect(full[0]?.summary?.startAtMs).toEqual([0, 200_000]);
    expect(full[0]?.planRows).toHaveLength(2);
    const half = filteredSessions(all, { ...everySession, lungs: 'half' });
    expect(half.map(({ summary }) => summary?.holdIds)).toEqual([['h0']]);
  });

  test('what can be chosen is what occurs, the most frequent first', () => {
    expect(weeksChoices(all)).toEqual({
      plans: ['Evening table'],
      tags: ['Warm', 'new mat'],
      places: ['Studio'],
      lungs: ['full', 'half', 'emptied'],
    });
    expect(weeksChoices([])).toEqual({ plans: [], tags: [], places: [], lungs: [] });
  });
});

describe('session against session', () => {
  const byPlan = (sessionId: string, daysAgo: number, durationS: number[], planRows: (number | null)[]) =>
    session(sessionId, daysAgo, durationS, { plans: ['Evening table'], planRows });
  // A warm-up outside the plan, and a row that was left out.
  const newest = byPlan('newest', 1, [40, 60, 70, 80], [null, 1, 2, 3]);
  const before = byPlan('before', 8, [58, 75], [1, 3]);
  const old = session('old', 57, [50, 52]);
  const older = session('older', 64, [48]);
  const all = [older, old, before, newest];

  test('rows of the plan where both were run by it, else the holds in their order', () => {
    const { byPlan: isByPlan, rows } = pairedRows(newest, before);
    expect(isByPlan).toBe(true);
    expect(rows).toEqual([
      { number: 1, one: 1, other: 0 },
      { number: 2, one: 2, other: null },
      { number: 3, one: 3, other: 1 },
    ]);
    expect(
      rows.map(({ one, other }) => [valueAt(newest, 'durationS', one), valueAt(before, 'durationS', other)]),
    ).toEqual([
      [60, 58],
      [70, null],
      [80, 75],
    ]);
    expect(pairedRows(newest, old)).toEqual({
      byPlan: false,
      rows: [
        { number: 1, one: 0, other: 0 },
        { number: 2, one: 1, other: 1 },
        { number: 3, one: 2, other: null },
        { number: 4, one: 3, other: null },
      ],
    });
  });

  test('the last by the same plan, and the one nearest to eight weeks before', () => {
    expect(sharedPlan(newest, old)).toBeNull();
    expect(lastOfSamePlan(all, newest)?.sessionId).toBe('before');
    expect(lastOfSamePlan(all, before)).toBeUndefined();
    expect(eightWeeksBefore(all, newest)?.sessionId).toBe('old');
    expect(eightWeeksBefore(all, before)?.sessionId).toBe('older');
    expect(eightWeeksBefore([newest, before], newest)).toBeUndefined();
  });
});
