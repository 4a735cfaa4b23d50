// The list of recordings: found by words, athlete, time, kind, plan, tag, place and condition, a page at a time.

import { expect, test } from 'vitest';
import { noDetails, type SessionDetails } from '../../../shared/session-details.ts';
import { wallMs } from '../../../shared/units.ts';
import {
  foundRecordings,
  type ListedRecording,
  pageOf,
  type RecordingFilter,
  recordingChoices,
  recordingsPerPage,
} from '../../../src/sessions/found-recordings.ts';

const noFilter: RecordingFilter = {
  search: '',
  athleteId: '',
  leader: '',
  room: '',
  kind: '',
  plan: '',
  tag: '',
  place: '',
  condition: '',
  fromMs: null,
  untilMs: null,
};
const at = (day: string): number => Date.parse(`${day}T12:00:00Z`);

const recording = (
  sessionId: string,
  day: string,
  title: string,
  people: Record<string, string>,
  part: Partial<ListedRecording['session']> = {},
  noted: Record<string, Partial<SessionDetails>> = {},
  plans: string[] = [],
): ListedRecording => ({
  session: {
    sessionId,
    startedWallAtMs: wallMs(at(day)),
    endedAtMs: null,
    status: 'ended',
    simulated: false,
    source: 'live',
    title,
    athleteIds: Object.keys(people),
    unwatched: [],
    leaders: [],
    ...part,
  },
  athleteNames: Object.values(people),
  holdCount: 0,
  longestHoldMs: null,
  lowestSpo2Percent: null,
  figuresBy: 'analysis',
  durationMs: 0,
  details: Object.entries(noted).map(([athleteId, details]) => ({
    athleteId,
    details: { ...noDetails, ...details },
  })),
  plans,
});
const jorid = { leaderId: 'l2', name: 'Jorid Aalto' };
const all = [
  recording(
    's3',
    '2031-04-03',
    'Evening',
    { a: 'Renée Oduya', b: 'Teo' },
    { leaders: [{ leaderId: 'l1', name: 'Runa Sjöholm' }, jorid] },
    { a: { tags: ['Warm'], place: 'Studio', effort: 'hard' }, b: { sleep: 'poor', company: 'alone' } },
    ['Evening table'],
  ),
  recording('s2', '2031-04-02', '', { b: 'Teo' }, { source: 'import' }, { b: { illness: 'unwell' } }),
  recording('s1', '2031-04-01', 'Morning', { a: 'Renee Oduya' }, { status: 'interrupted', leaders: [jorid] }),
];
const found = (filter: Partial<RecordingFilter>) =>
  foundRecordings(all, { ...noFilter, ...filter }, 'Untitled').map(({ session }) => session.sessionId);

test.each<[Partial<RecordingFilter>, string[]]>([
  [{}, ['s3', 's2', 's1']],
  [{ search: ' renee ' }, ['s3', 's1']],
  [{ search: 'ODUYA evening' }, ['s3']],
  [{ search: 'untitled' }, ['s2']],
  [{ search: '#warm studio' }, ['s3']],
  [{ search: 'evening table' }, ['s3']],
  [{ athleteId: 'b' }, ['s3', 's2']],
  [{ fromMs: at('2031-04-02') }, ['s3', 's2']],
  [{ untilMs: at('2031-04-03') }, ['s2', 's1']],
  [{ kind: 'import' }, ['s2']],
  [{ kind: 'interrupted' }, ['s1']],
  [{ kind: 'simulated' }, []],
  [{ leader: 'RUNA SJOHOLM' }, ['s3']],
  [{ leader: 'Jorid Aalto' }, ['s3', 's1']],
  // The whole name, not a part of it.
  [{ leader: 'Jorid' }, []],
  [{ search: 'jorid morning' }, ['s1']],
  [{ plan: 'Evening table' }, ['s3']],
  [{ tag: 'warm' }, ['s3']],
  [{ place: 'studio' }, ['s3']],
  [{ condition: 'hard' }, ['s3']],
  [{ condition: 'alone' }, ['s3']],
  [{ condition: 'unwell' }, ['s2']],
  [{ condition: 'withoutNotes' }, ['s1']],
  // What was noted of another in the same session is not theirs.
  [{ condition: 'hard', athleteId: 'b' }, []],
  [{ condition: 'poorSleep', athleteId: 'b' }, ['s3']],
])('%j finds %j', (filter, ids) => {
  expect(found(filter)).toEqual(ids);
});

test('a page is never empty where there is something, nor beyond the last', () => {
  const many = Array.from({ length: recordingsPerPage * 2 + 1 }, (_, index) => index);
  expect(pageOf(many, 0)).toMatchObject({ page: 0, pages: 3 });
  expect(pageOf(many, 9)).toEqual({ page: 2, pages: 3, items: [recordingsPerPage * 2] });
  expect(pageOf([], 4)).toEqual({ page: 0, pages: 1, items: [] });
  const pages = [0, 1, 2].flatMap((page) => pageOf(many, page).items);
  expect(pages).toEqual(many);
});

test('everybody is offered once, by the newest name, and each plan, tag and place', () => {
  expect(recordingChoices(all)).toEqual({
    athletes: [
      { athleteId: 'a', name: 'Renée Oduya' },
      { athleteId: 'b', name: 'Teo' },
    ],
    leaders: ['Jorid Aalto', 'Runa Sjöholm'],
    plans: ['Evening table'],
    tags: ['Warm'],
    places: ['Studio'],
  });
});

test('at a school by the room that recorded it', () => {
  const all = [recording('quay.one', '2026-11-03', '', {}), recording('basin.one', '2026-11-04', '', {})];
  const found = (room: string) =>
    foundRecordings(all, { ...noFilter, room }, '').map(({ session }) => session.sessionId);
  expect([found('quay'), found('qua'), found('')]).toEqual([['quay.one'], [], ['quay.one', 'basin.one']]);
});
