// Who leads a session: said when it begins, by whom it may be said, found and corrected afterwards, and taken out everywhere.

import { afterEach, beforeEach, expect, test } from 'vitest';
import { carryOut } from '../../hub/server/page-requests.ts';
import { auditBodySchema } from '../../shared/audit.ts';
import {
  belongingsBodySchema,
  foundRecordingsBodySchema,
  leadersBodySchema,
  recordingBodySchema,
} from '../../shared/http.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { hello, openTestPage } from '../support/test-page.ts';

let served: ServedTestHub;
beforeEach(async () => {
  served = await serveTestHub();
});
afterEach(() => served.close());

const get = async (path: string) => (await fetchAsOwn(`${served.url}${path}`)).json();
const change = (method: string, path: string, body?: unknown): Promise<Response> =>
  fetchAsOwn(`${served.url}${path}`, {
    method,
    headers: {
      origin: served.url,
      ...(body !== undefined && { 'content-type': 'application/json' }),
    },
    ...(body !== undefined && { body: JSON.stringify(body) }),
  });
const found = async (query: string) => foundRecordingsBodySchema.parse(await get(`/api/recordings?${query}`));
const ids = async (query: string) => (await found(query)).recordings.map(({ session }) => session.sessionId);

/** A minute with an alarm that somebody puts aside. */
function record(ledBy: readonly string[], acknowledgedBy = ''): string {
  const started = served.hub.startSession(['mira'], '', ledBy);
  if (!started.ok) throw new Error(started.reason.said.code);
  for (let second = 0; second < 10; second += 1) {
    served.source.oximetry(second < 3 ? 89 : 80);
    served.clock.advance(1_000);
  }
  served.hub.acknowledge('mira', undefined, acknowledgedBy);
  served.hub.endSession();
  return started.value.sessionId;
}

test('a page names who leads; it stands in the running session and in the recording, and is found', async () => {
  const page = openTestPage(served.url);
  page.send(hello);
  await page.until('welcome');
  const ledBy = ['Runa Sjöholm', 'Jorid Aalto', 'runa sjoholm'];
  page.send({ type: 'startSession', requestId: 's', athleteIds: ['mira'], title: '', ledBy });
  const { session } = await page.until('session', (message) => message.session !== null);
  expect(session?.leaders.map(({ name }) => name)).toEqual(['Runa Sjöholm', 'Jorid Aalto']);
  served.clock.advance(5_000);
  served.hub.endSession();
  const other = record(['Jorid Aalto']);
  const unnamed = record([]);
  expect(await ids('leader=RUNA%20SJOHOLM')).toEqual([session?.sessionId]);
  expect(await ids('leader=Jorid%20Aalto')).toEqual([other, session?.sessionId]);
  expect(await ids('search=sjoholm')).toEqual([session?.sessionId]);
  expect((await found('')).choices.leaders).toEqual(['Jorid Aalto', 'Runa Sjöholm']);
  expect(await ids('')).toContain(unnamed);
  // One id a name.
  const { leaders } = leadersBodySchema.parse(await get('/api/leaders'));
  expect(leaders.map(({ name, sessionCount, leaderIds }) => [name, sessionCount, leaderIds.length])).toEqual([
    ['Jorid Aalto', 2, 1],
    ['Runa Sjöholm', 1, 1],
  ]);
});

test('a joined coach who says nothing leads by the name of the device; nobody else says who leads', () => {
  const begun = (access: Partial<Parameters<typeof carryOut>[2]>, ledBy?: string[]) => {
    const started = carryOut(
      served.hub,
      {
        type: 'startSession',
        requestId: 'r',
        athleteIds: ['mira'],
        title: '',
        ...(ledBy !== undefined && { ledBy }),
      },
      { role: 'coach', deviceId: 'd', deviceName: 'Runa, tablet', athleteIds: 'all', ...access },
    );
    expect(started.ok).toBe(true);
    const leaders = served.hub.session?.leaders.map(({ name }) => name);
    served.hub.endSession();
    return leaders;
  };
  expect(begun({})).toEqual(['Runa, tablet']);
  expect(begun({}, ['Jorid Aalto'])).toEqual(['Jorid Aalto']);
  expect(begun({ deviceId: null, deviceName: '' })).toEqual([]);
  expect(begun({ role: 'athlete', athleteIds: ['mira'] }, ['Jorid Aalto'])).toEqual([]);
});

test('it is said otherwise afterwards, not while it is being recorded', async () => {
  const sessionId = record(['Runa Sjöhlom']);
  const named = await change('PUT', `/api/sessions/${sessionId}/leaders`, { names: ['Runa Sjöholm'] });
  expect(named.status).toBe(200);
  const { session } = recordingBodySchema.parse(await get(`/api/sessions/${sessionId}`));
  expect(session.leaders.map(({ name }) => name)).toEqual(['Runa Sjöholm']);
  expect((await change('PUT', `/api/sessions/${sessionId}/leaders`, { names: ['‮'] })).status).toBe(400);
  expect((await change('PUT', '/api/sessions/none/leaders', { names: [] })).status).toBe(404);
  const running = served.hub.startSession(['mira'], '', ['Runa Sjöholm']);
  const path = `/api/sessions/${running.ok ? running.value.sessionId : ''}/leaders`;
  expect((await change('PUT', path, { names: [] })).status).toBe(409);
  served.hub.endSession();
  expect((await change('PUT', path, { names: [] })).status).toBe(200);
  expect(await ids('leader=Runa%20Sj%C3%B6holm')).toEqual([sessionId]);
});

test('whoever led is erased by name: from heads, from who acknowledged, from the log; the recordings stay', async () => {
  const led = record(['Runa Sjöholm', 'Jorid Aalto'], 'Runa Sjöholm');
  const other = record(['Jorid Aalto'], 'runa sjoholm');
  const path = `/api/sessions/${other}/leaders`;
  expect((await change('PUT', path, { names: ['Runa Sjöholm', 'Jorid Aalto'] })).status).toBe(200);
  const { leaders } = leadersBodySchema.parse(await get('/api/leaders'));
  const [runa] = leaders.find(({ name }) => name === 'Runa Sjöholm')!.leaderIds;
  const goes = belongingsBodySchema.parse(await get(`/api/athletes/${runa}/belongings`));
  expect(goes).toMatchObject({ ownRecordings: 0, sharedRecordings: 0, ledRecordings: 2 });
  expect((await change('DELETE', `/api/athletes/${runa}?recordings=all`)).status).toBe(204);
  for (const sessionId of [led, other]) {
    const stored = await get(`/api/sessions/${sessionId}`);
    expect(JSON.stringify(stored)).toContain('Jorid Aalto');
    expect(JSON.stringify(stored).normalize('NFD').toLowerCase()).not.toContain('runa');
    expect(recordingBodySchema.parse(stored).athletes[0]?.alarms[0]?.alarm).toMatchObject({
      acknowledged: true,
      acknowledgedBy: null,
    });
  }
  const { entries } = auditBodySchema.parse(await get('/api/audit'));
  expect(entries[0]).toMatchObject({ action: 'leaderErased', athleteId: 'erased' });
  expect((await change('DELETE', `/api/athletes/${runa}?recordings=all`)).status).toBe(404);
});

test('an athlete who is erased leads nothing any more either', async () => {
  const { name } = served.hub.athletes.find(({ athleteId }) => athleteId === 'mira')!;
  const added = served.hub.addAthlete('Teo Lindqvist');
  if (!added.ok) throw new Error('not added');
  const own = record([name]);
  const started = served.hub.startSession([added.value.athleteId], '', [name, 'Jorid Aalto']);
  served.clock.advance(5_000);
  served.hub.endSession();
  if (!started.ok) throw new Error('not started');
  expect((await change('DELETE', '/api/athletes/mira?recordings=all')).status).toBe(204);
  expect(await ids('')).toEqual([started.value.sessionId]);
  expect((await found('')).choices.leaders).toEqual(['Jorid Aalto']);
  expect(own).not.toBe('');
});
