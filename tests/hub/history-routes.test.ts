// Holds side by side and weeks of sessions over HTTP: what is worked out once, when it is worked out anew, and for whom.

import { afterEach, beforeEach, expect, test } from 'vitest';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { auditBodySchema } from '../../shared/audit.ts';
import { besideBodySchema, historyBodySchema, holdWindowsBodySchema } from '../../shared/history.ts';
import { sessionsBodySchema } from '../../shared/http.ts';
import { noDetails, sessionDetailsRequestSchema } from '../../shared/session-details.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

const day = 86_400_000;
const began = Date.UTC(2031, 4, 10, 18);
let served: ServedTestHub;
let store: SqliteStore;

beforeEach(async () => {
  store = openStoreInMemory();
  for (const [index, holdsS] of [
    [70, 80],
    [75, 85, 95],
  ].entries())
    writeSession(store, {
      sessionId: `s${index + 1}`,
      athleteId: 'mira',
      athleteName: 'Mira',
      startedWallAtMs: began + index * day,
      title: '',
      holdsS,
      seed: index,
    });
  served = await serveTestHub({ store });
});
afterEach(() => served.close());

const get = async (path: string) => (await fetchAsOwn(`${served.url}${path}`)).json();
const history = async () => historyBodySchema.parse(await get('/api/athletes/mira/history'));

/** Asks as the page does, until everything is there. */
async function wholeHistory() {
  for (let asked = 0; asked < 10; asked += 1) {
    const body = await history();
    if (body.missingCount === 0) return body;
  }
  throw new Error('sessions are still missing');
}

test('windows round each hold, in session time, without the neighbours', async () => {
  const body = holdWindowsBodySchema.parse(await get('/api/sessions/s2/athletes/mira/holds'));
  expect(body.holds.map(({ number, fromMs, toMs }) => [number, fromMs, toMs])).toEqual([
    [1, 60_000, 255_000],
    [2, 285_000, 490_000],
    [3, 520_000, 735_000],
  ]);
  for (const { traces, fromMs, toMs } of body.holds) {
    expect(traces.map(({ channel }) => channel)).toEqual(['spo2Percent', 'heartRateBpm']);
    for (const { atMs, value, quality } of traces) {
      expect(atMs.length).toBeGreaterThan(150);
      expect(atMs[0]).toBeGreaterThanOrEqual(fromMs);
      expect(atMs.at(-1)).toBeLessThanOrEqual(toMs);
      expect(value).toHaveLength(atMs.length);
      expect(quality).toHaveLength(atMs.length);
    }
  }
  expect(await get('/api/sessions/nothing/athletes/mira/holds')).toMatchObject({ code: 'unknownSession' });
  expect(await get('/api/sessions/s2/athletes/nobody/holds')).toMatchObject({ code: 'unknownAthlete' });
});

test('a summary of each session, oldest first, kept in the store and not worked out again', async () => {
  const body = await wholeHistory();
  expect(body.sessions.map(({ sessionId }) => sessionId)).toEqual(['s1', 's2']);
  expect(body.sessions.map(({ summary }) => summary?.measures['durationS'])).toEqual([
    [70, 80],
    [75, 85, 95],
  ]);
  const [onset] = body.sessions[0]!.summary!.measures['timeToFirstContractionS']!;
  expect(onset).toBeCloseTo(38.5, 0);
  const readPackets = store.readPackets.bind(store);
  let readCount = 0;
  store.readPackets = (...parts) => {
    readCount += 1;
    return readPackets(...parts);
  };
  await served.close();
  served = await serveTestHub({ store });
  expect(await history()).toEqual(body);
  expect(readCount).toBe(0);
});

test('a correction and its undoing are in the next answer', async () => {
  await wholeHistory();
  const path = `${served.url}/api/sessions/s1/athletes/mira/corrections`;
  const headers = { 'content-type': 'application/json', origin: served.url };
  const body = JSON.stringify({ type: 'moveBoundary', holdId: 'hold-1', boundary: 'end', atMs: 165_000 });
  const windows = holdWindowsBodySchema.parse(await get('/api/sessions/s1/athletes/mira/holds'));
  const holdId = windows.holds[0]!.hold.holdId;
  const moved = await fetchAsOwn(path, { method: 'PUT', headers, body: body.replace('hold-1', holdId) });
  expect(moved.status).toBe(200);
  expect((await wholeHistory()).sessions[0]?.summary?.measures['durationS']).toEqual([75, 80]);
  await fetchAsOwn(path, { method: 'DELETE', headers: { origin: served.url } });
  expect((await wholeHistory()).sessions[0]?.summary?.measures['durationS']).toEqual([70, 80]);
});

test('nothing is worked out while a session runs; what is kept is shown, the rest when it has ended', async () => {
  served.hub.startSession(['mira'], '');
  expect(await history()).toMatchObject({ sessions: [], missingCount: 2, waitsForSession: true });
  served.hub.endSession();
  expect((await wholeHistory()).sessions.map(({ sessionId }) => sessionId).slice(0, 2)).toEqual(['s1', 's2']);
  served.hub.startSession(['mira'], '');
  const beside = await history();
  expect(beside).toMatchObject({ missingCount: 0, waitsForSession: false });
  expect(beside.sessions.length).toBeGreaterThanOrEqual(2);
  served.hub.endSession();
  await wholeHistory();
  await fetchAsOwn(`${served.url}/api/sessions/s2`, { method: 'DELETE', headers: { origin: served.url } });
  const left = (await wholeHistory()).sessions.map(({ sessionId }) => sessionId);
  expect(left).toContain('s1');
  expect(left).not.toContain('s2');
  expect(await get('/api/athletes/nobody/history')).toMatchObject({ code: 'unknownAthlete' });
});

test('a summary by the rules of an earlier version is shown until there is a new one', async () => {
  const { sessions } = await wholeHistory();
  for (const { sessionId, summary } of sessions) {
    const measures = { ...summary!.measures, durationS: [1, 2] };
    store.saveSummary(sessionId, 'mira', 'earlier rules', { ...summary, measures });
  }
  served.hub.startSession(['mira'], '');
  const beside = await history();
  expect(beside.missingCount).toBe(2);
  expect(beside.sessions.map(({ summary }) => summary?.measures['durationS'])).toEqual([
    [1, 2],
    [1, 2],
  ]);
  served.hub.endSession();
  const durations = (await wholeHistory()).sessions.map(({ summary }) => summary?.measures['durationS']);
  expect(durations.slice(0, 2)).toEqual([
    [70, 80],
    [75, 85, 95],
  ]);
});

test('what was noted of a session: for the weeks, the list and the advice; with nobody there and hard, it is said', async () => {
  const path = `${served.url}/api/sessions/s2/athletes/mira/details`;
  expect(sessionDetailsRequestSchema.parse(await get('/api/sessions/s2/athletes/mira/details'))).toEqual({
    details: noDetails,
  });
  const details = {
    ...noDetails,
    effort: 'hard',
    company: 'alone',
    place: ' Studio ',
    tags: ['Evening', 'evening', 'new mat'],
    sleep: 'poor',
  };
  const headers = { 'content-type': 'application/json', origin: served.url };
  const put = (body: unknown) => fetchAsOwn(path, { method: 'PUT', headers, body: JSON.stringify(body) });
  expect((await put({ details })).status).toBe(200);
  expect((await put({ details: { ...details, effort: 'brutal' } })).status).toBe(400);
  const noted = { ...details, place: 'Studio', tags: ['evening', 'new mat'] };
  expect((await wholeHistory()).sessions.map((session) => session.details)).toEqual([null, noted]);
  const listed = sessionsBodySchema.parse(await get('/api/sessions'));
  expect(listed.sessions.map((session) => session.details)).toEqual([
    [{ athleteId: 'mira', details: noted }],
    [],
  ]);
  const other = await get('/api/sessions/s2/athletes/nobody/details');
  expect(other).toMatchObject({ code: 'unknownAthlete' });
});

test('a part given to another athlete: their history has it, the other’s not, and both are in the audit log', async () => {
  store.saveAthlete({ athleteId: 'oda', name: 'Oda', simulated: false, settings: initialSettings });
  await served.close();
  served = await serveTestHub({ store });
  const headers = { 'content-type': 'application/json', origin: served.url };
  const give = (sessionId: string, athleteId: string) =>
    fetchAsOwn(`${served.url}/api/sessions/${sessionId}/athletes/mira/athlete`, {
      method: 'PUT',
      headers,
      body: JSON.stringify({ athleteId }),
    });
  await wholeHistory();
  expect((await give('s2', 'nobody')).status).toBe(404);
  expect((await give('s2', 'mira')).status).toBe(400);
  expect((await give('s2', 'oda')).status).toBe(204);
  expect((await wholeHistory()).sessions.map(({ sessionId }) => sessionId)).toEqual(['s1']);
  const odas = historyBodySchema.parse(await get('/api/athletes/oda/history'));
  expect(odas.sessions.map(({ summary }) => summary?.measures['durationS'])).toEqual([[75, 85, 95]]);
  const { entries } = auditBodySchema.parse(await get('/api/audit'));
  expect(
    entries
      .filter(({ action }) => action === 'recordingReassigned')
      .map(({ athleteId, sessionId }) => [athleteId, sessionId]),
  ).toEqual([
    ['oda', 's2'],
    ['mira', 's2'],
  ]);
  served.hub.startSession(['mira'], '');
  expect((await give('s1', 'oda')).status).toBe(409);
  served.hub.endSession();
});

test('two side by side only while both agree: the hub refuses, and says whose word is missing', async () => {
  writeSession(store, {
    sessionId: 'ada-1',
    athleteId: 'ada',
    athleteName: 'Ada',
    startedWallAtMs: began,
    title: '',
    holdsS: [60, 65],
  });
  await served.close();
  store.saveAthlete({ athleteId: 'ada', name: 'Ada', simulated: true, settings: initialSettings });
  served = await serveTestHub({ store });
  const beside = async (path = 'mira/beside/ada') => {
    const answer = await fetchAsOwn(`${served.url}/api/athletes/${path}`, {
      headers: { 'accept-language': 'en' },
    });
    return { status: answer.status, body: await answer.json() };
  };
  const agree = async (athleteId: string, agreed: boolean) =>
    expect(
      (
        await fetchAsOwn(`${served.url}/api/athletes/${athleteId}/sharing`, {
          method: 'PUT',
          headers: { 'content-type': 'application/json' },
          body: JSON.stringify({ agreed }),
        })
      ).status,
    ).toBe(200);
  const refused = (names: string) => ({
    status: 403,
    body: {
      code: 'notAllowed',
      message: `Two people are shown side by side only when both have agreed. Not agreed yet: ${names}.`,
    },
  });
  expect(await beside()).toMatchObject(refused('Mira, Ada'));
  await agree('mira', true);
  expect(await beside()).toMatchObject(refused('Ada'));
  expect(await beside('ada/beside/mira')).toMatchObject(refused('Ada'));
  await agree('ada', true);
  const both = besideBodySchema.parse((await beside()).body);
  expect(both.one.sessions.map(({ sessionId }) => sessionId)).toEqual(['s1', 's2']);
  expect(both.other.sessions.map(({ sessionId }) => sessionId)).toEqual(['ada-1']);
  expect(both.one).toEqual(await history());
  await agree('mira', false);
  expect(await beside()).toMatchObject(refused('Mira'));
  expect(await beside('mira/beside/nobody')).toMatchObject({ status: 404, body: { code: 'unknownAthlete' } });
});
