// The list of recordings: found by words, athlete, days and kind, a page at a time.

import { expect, test } from 'vitest';
import { wallMs } from '../../shared/units.ts';
import {
  athletesOfList,
  filteredRecordings,
  isFiltered,
  type ListedRecording,
  noFilter,
  pageOf,
  recordingsPerPage,
} from '../../web/state/recording-filter.ts';

const recording = (
  sessionId: string,
  day: string,
  title: string,
  people: Record<string, string>,
  part: Partial<ListedRecording['session']> = {},
): ListedRecording => ({
  session: {
    sessionId,
    startedWallAtMs: wallMs(Date.parse(`${day}T12:00:00Z`)),
    endedAtMs: null,
    status: 'ended',
    simulated: false,
    source: 'live',
    title,
    athleteIds: Object.keys(people),
    unwatched: [],
    ...part,
  },
  athleteNames: Object.values(people),
  holdCount: 0,
  longestHoldMs: null,
  lowestSpo2Percent: null,
  durationMs: 0,
  details: [],
  plans: [],
});
const all = [
  recording('s3', '2031-04-03', 'Evening', { a: 'Renée Oduya', b: 'Teo' }),
  recording('s2', '2031-04-02', '', { b: 'Teo' }, { source: 'import' }),
  recording('s1', '2031-04-01', 'Morning', { a: 'Renee Oduya' }, { status: 'interrupted' }),
];
const dayOf = (at: number) => new Date(at).toISOString().slice(0, 10);
const found = (filter: Partial<typeof noFilter>) =>
  filteredRecordings(all, { ...noFilter, ...filter }, 'Untitled', dayOf).map(
    ({ session }) => session.sessionId,
  );

test.each([
  [{}, ['s3', 's2', 's1']],
  [{ search: ' renee ' }, ['s3', 's1']],
  [{ search: 'ODUYA evening' }, ['s3']],
  [{ search: 'untitled' }, ['s2']],
  [{ athleteId: 'b' }, ['s3', 's2']],
  [{ fromDay: '2031-04-02' }, ['s3', 's2']],
  [{ untilDay: '2031-04-02' }, ['s2', 's1']],
  [{ fromDay: '2031-04-02', untilDay: '2031-04-02' }, ['s2']],
  [{ kind: 'import' as const }, ['s2']],
  [{ kind: 'interrupted' as const }, ['s1']],
  [{ kind: 'simulated' as const }, []],
])('%j finds %j', (filter, ids) => {
  expect(found(filter)).toEqual(ids);
  expect(isFiltered({ ...noFilter, ...filter })).toBe(Object.keys(filter).length > 0);
});

test('a page is never empty where there is something, nor beyond the last', () => {
  const many = Array.from({ length: recordingsPerPage * 2 + 1 }, (_, index) => index);
  expect(pageOf(many, 0)).toMatchObject({ page: 0, pages: 3 });
  expect(pageOf(many, 9)).toEqual({ page: 2, pages: 3, items: [recordingsPerPage * 2] });
  expect(pageOf([], 4)).toEqual({ page: 0, pages: 1, items: [] });
  const pages = [0, 1, 2].flatMap((page) => pageOf(many, page).items);
  expect(pages).toEqual(many);
});

test('everybody is offered once, by the newest name', () => {
  expect(athletesOfList(all)).toEqual([
    { athleteId: 'a', name: 'Renée Oduya' },
    { athleteId: 'b', name: 'Teo' },
  ]);
});
