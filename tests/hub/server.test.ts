// The server on a real port: who is let in, what is answered to nonsense, and that bodies are what the contract says.

import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import * as z from 'zod/mini';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { startHttpServer } from '../../hub/server/http-server.ts';
import { closeCodes } from '../../shared/error-codes.ts';
import {
  athleteRecordingSchema,
  athletesBodySchema,
  errorBodySchema,
  healthBodySchema,
  recordingBodySchema,
  sensorsBodySchema,
  sessionsBodySchema,
  traceBodySchema,
} from '../../shared/http.ts';
import { labelledExtractSchema } from '../../shared/labelled-extract.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { inlineReview } from '../support/inline-review.ts';
import { ownHeaders } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub, testLog } from '../support/serve-test-hub.ts';
import { hello, openTestPage } from '../support/test-page.ts';

let served: ServedTestHub;
beforeEach(async () => {
  served = await serveTestHub();
});
afterEach(() => served.close());

const openPage = (headers?: Record<string, string>) => openTestPage(served.url, headers);
const get = async (path: string) =>
  served.server.app.inject({
    method: 'GET',
    url: path,
    headers: ownHeaders,
  });

function recordMinute(): string {
  const started = served.hub.startSession(['mira'], 'evening');
  if (!started.ok) throw new Error(started.reason.said.code);
  for (let second = 0; second < 60; second += 1) {
    served.source.oximetry(second < 40 ? 97 : 85);
    served.source.heartRate(60);
    if (second === 10) served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    if (second === 35) served.hub.addMark({ athleteId: 'mira', kind: 'holdEnd', atMs: null, text: null });
    served.clock.advance(1_000);
  }
  served.hub.endSession();
  return started.value.sessionId;
}

describe('sockets', () => {
  test('a page says hello, starts a session, marks, sees values and the alarm, acknowledges and ends', async () => {
    const page = openPage();
    page.send(hello);
    const welcome = await page.until('welcome');
    expect(welcome).toMatchObject({ protocolVersion, session: null, simulated: false });
    page.send({ type: 'startSession', requestId: 'r1', athleteIds: ['mira'], title: '' });
    await page.until('session', (m) => m.session?.status === 'recording');
    for (let second = 0; second < 8; second += 1) {
      served.source.oximetry(second < 3 ? 89 : 87);
      served.clock.advance(1_000);
    }
    expect((await page.until('latest', (m) => m.spo2?.value === 87)).spo2?.quality).toBeDefined();
    const alarm = await page.until('alarms', (m) => m.alarms.some((a) => a.kind === 'floorBreached'));
    expect(alarm.sound.priority).toBe('high');
    page.send({
      type: 'acknowledgeAlarms',
      requestId: 'r2',
      athleteId: 'mira',
      alarmIds: alarm.alarms.map((a) => a.alarmId),
    });
    await page.until('alarms', (m) => m.alarms.some((a) => a.kind === 'floorBreached' && a.acknowledged));
    page.send({
      type: 'addMark',
      requestId: 'r3',
      athleteId: 'mira',
      kind: 'contraction',
      atMs: null,
      text: null,
    });
    const { mark } = await page.until('marked');
    page.send({ type: 'removeMark', requestId: 'r4', markId: mark.markId });
    await page.until('marked', (m) => m.removed);
    page.send({ type: 'endSession', requestId: 'r5' });
    await page.until('session', (m) => m.session?.status === 'ended');
    page.close();
  });

  test('a page of another version is told to reload, and closed', async () => {
    const page = openPage();
    page.send({ ...hello, protocolVersion: 999 });
    expect(await page.until('refused')).toMatchObject({
      code: 'wrongProtocolVersion',
      said: { code: 'refusal.wrongVersion', params: { page: 999 } },
    });
    expect(await page.closed).toBe(closeCodes.wrongProtocolVersion);
  });

  test.each([
    ['not JSON', '{'],
    ['an unknown type', '{"type":"sing"}'],
    ['a missing field', '{"type":"addMark"}'],
    [
      'a floor of 10 %',
      JSON.stringify({
        type: 'changeSettings',
        requestId: 'x',
        athleteId: 'mira',
        settings: { floorSpo2Percent: 10 },
      }),
    ],
  ])('%s is answered and the page lives on', async (_name, text) => {
    const page = openPage();
    page.send(hello);
    await page.until('welcome');
    page.send(text);
    expect(await page.until('refused')).toMatchObject({ code: 'badMessage' });
    page.send({ type: 'endSession', requestId: 'after' });
    expect(await page.until('refused', (m) => m.requestId === 'after')).toMatchObject({ code: 'noSession' });
    page.close();
  });

  test('a request before hello is refused', async () => {
    const page = openPage();
    page.send({ type: 'endSession', requestId: 'early' });
    expect(await page.until('refused')).toMatchObject({ requestId: 'early', code: 'badMessage' });
    page.close();
  });

  test('a message of a megabyte closes the page, not the hub', async () => {
    const page = openPage();
    page.send('x'.repeat(1_000_000));
    expect(await page.closed).toBe(1009);
    expect((await get('/api/health')).statusCode).toBe(200);
    // Nobody answers the goodbye: two seconds later the hub lets go.
    served.clock.advance(2_000);
  });

  test('too many requests in a second are refused', async () => {
    const page = openPage();
    page.send(hello);
    await page.until('welcome');
    for (let i = 0; i < 60; i += 1) page.send({ type: 'endSession', requestId: `n${i}` });
    await page.until('refused', (m) => m.code === 'tooManyRequests');
    page.close();
  });

  test.each([
    ['another site', { origin: 'https://elsewhere.example' }],
    ['a rebound name', { host: 'elsewhere.example' }],
  ])('a socket from %s is refused', async (_name, headers) => {
    const page = openPage(headers);
    await expect(page.until('welcome')).rejects.toThrow('403');
  });
});

describe('HTTP', () => {
  test('answers are what the contract says', async () => {
    const sessionId = recordMinute();
    const check = async (path: string, schema: z.ZodMiniType) => {
      const answer = await get(path);
      expect(answer.statusCode, path).toBe(200);
      return z.parse(schema, answer.json());
    };
    await check('/api/health', healthBodySchema);
    await check('/api/athletes', athletesBodySchema);
    await check('/api/sensors', sensorsBodySchema);
    expect(await check('/api/sessions', sessionsBodySchema)).toMatchObject({
      sessions: [{ athleteNames: ['Mira'] }],
    });
    await check(`/api/sessions/${sessionId}`, recordingBodySchema);
    const trace = await check(
      `/api/sessions/${sessionId}/athletes/mira/trace?points=20&fromMs=0&toMs=60000`,
      traceBodySchema,
    );
    expect(trace).toMatchObject({ decimated: true, fromMs: 0, toMs: expect.any(Number) });
  });

  test('a recording has its hold where the marks are, with measures, and the lowest reading after its end', async () => {
    const body = z.parse(recordingBodySchema, (await get(`/api/sessions/${recordMinute()}`)).json());
    const [hold] = body.athletes[0]!.holds;
    expect(hold?.hold.start).toMatchObject({ atMs: 10_000, source: 'mark', uncertaintyMs: 0 });
    expect(hold?.hold.end).toMatchObject({ atMs: 35_000, source: 'mark' });
    // The fall is a jump, doubted until it has stood for 6 s.
    expect(hold?.hold.lowestSpo2).toMatchObject({ value: 85, atMs: 46_000 });
    const measure = (key: string) => hold?.measures.find((m) => m.key === key);
    expect(measure('durationS')?.value).toBe(25);
    expect(hold?.measures.filter((m) => m.value === null).every((m) => m.whyNot !== null)).toBe(true);
    expect(body.athletes[0]!.alarms.some(({ alarm }) => alarm.kind === 'floorBreached')).toBe(true);
  });

  test('the CSV has every sample and mark', async () => {
    const answer = await get(`/api/sessions/${recordMinute()}/csv`);
    expect(answer.headers['content-disposition']).toMatch(
      /^attachment; filename="slackwater-Mira-\d{4}-\d{2}-\d{2}-\d{4}\.csv"$/,
    );
    const lines = answer.body
      .trimEnd()
      .split('\n')
      .filter((line) => !line.startsWith('#'));
    expect(lines[0]).toBe('time_s,channel,value,quality');
    expect(lines.filter((line) => line.includes(',spo2_percent,'))).toHaveLength(60);
    expect(lines.filter((line) => line.includes(',mark,'))).toEqual([
      '10.000,mark,hold_start,',
      '35.000,mark,hold_end,',
    ]);
    const times = lines.slice(1).map((line) => Number(line.split(',')[0]));
    expect(times).toEqual([...times].sort((a, b) => a - b));
  });

  test('an extract has what was marked and nothing that names anybody or a day', async () => {
    const answer = await get(`/api/sessions/${recordMinute()}/extract?athleteId=mira`);
    expect(answer.headers['content-disposition']).toBe('attachment; filename="labelled-extract.json"');
    const extract = labelledExtractSchema.parse(answer.json());
    expect(extract.holds).toEqual([{ startMs: 10_000, endMs: 35_000, lungs: null }]);
    expect(extract.series.find(({ channel }) => channel === 'spo2Percent')?.values).toHaveLength(60);
    expect(answer.body).not.toMatch(/mira|evening|wall/i);
  });

  test('while a session is recorded, earlier recordings and the running one can be opened', async () => {
    const earlier = recordMinute();
    const running = served.hub.startSession(['mira'], '');
    if (!running.ok) throw new Error('refused');
    for (const path of ['', '?outline', '/csv', '/edf', '/athletes/mira', '/athletes/mira/trace'])
      for (const sessionId of [earlier, running.value.sessionId])
        expect((await get(`/api/sessions/${sessionId}${path}`)).statusCode, path).toBe(200);
  });

  test('a running session is shown as far as it is, and whole when it has ended', async () => {
    const started = served.hub.startSession(['mira'], '');
    if (!started.ok) throw new Error('refused');
    const path = `/api/sessions/${started.value.sessionId}/athletes/mira`;
    const seconds = (count: number) => {
      for (let second = 0; second < count; second += 1) {
        served.source.oximetry(97);
        served.source.heartRate(60);
        served.clock.advance(1_000);
      }
    };
    const tracedToMs = async () => {
      expect(athleteRecordingSchema.parse((await get(path)).json()).workedOut).toBe(true);
      const { traces } = traceBodySchema.parse((await get(`${path}/trace`)).json());
      return traces.find(({ channel }) => channel === 'spo2Percent')!.atMs.at(-1)!;
    };
    seconds(20);
    expect(await tracedToMs()).toBeLessThan(21_000);
    seconds(20);
    expect(await tracedToMs()).toBeGreaterThan(38_000);
    seconds(20);
    served.hub.endSession();
    expect(await tracedToMs()).toBeGreaterThan(58_000);
  });

  test('a recording can be deleted, but not while it is being made', async () => {
    const sessionId = recordMinute();
    const remove = (id: string) =>
      served.server.app.inject({
        method: 'DELETE',
        url: `/api/sessions/${id}`,
        headers: ownHeaders,
      });
    expect((await remove(sessionId)).statusCode).toBe(200);
    expect((await get(`/api/sessions/${sessionId}`)).statusCode).toBe(404);
    const running = served.hub.startSession(['mira'], '');
    if (!running.ok) throw new Error('refused');
    expect((await remove(running.value.sessionId)).statusCode).toBe(409);
  });

  test.each([
    ['/api/sessions/nothing', 404],
    ['/api/sessions/nothing/csv', 404],
    ['/api/nothing', 404],
    ['/', 404],
  ])('%s is answered with %d and a sentence', async (path, status) => {
    const answer = await get(path);
    expect(answer.statusCode).toBe(status);
    expect(z.parse(errorBodySchema, answer.json()).message).toMatch(/\.$/);
  });

  test('without a built page the hub says how to build it', async () => {
    expect((await get('/')).json()).toMatchObject({ message: expect.stringContaining('npm run build') });
  });

  test('athletes are added, changed and removed; a bad body names its field', async () => {
    const send = (method: 'POST' | 'PUT' | 'DELETE', url: string, payload?: object) =>
      served.server.app.inject({ method, url, headers: ownHeaders, ...(payload && { payload }) });
    const added = await send('POST', '/api/athletes', { name: 'Teodor' });
    expect(added.statusCode).toBe(201);
    const { athleteId } = added.json() as { athleteId: string };
    expect((await send('PUT', `/api/athletes/${athleteId}`, { name: 'Teo' })).json()).toMatchObject({
      name: 'Teo',
    });
    expect((await send('POST', '/api/athletes', { name: '' })).json()).toMatchObject({
      code: 'badRequest',
      message: expect.stringContaining('"name"'),
    });
    expect((await send('DELETE', `/api/athletes/${athleteId}`)).statusCode).toBe(200);
    expect((await send('DELETE', `/api/athletes/${athleteId}`)).statusCode).toBe(404);
  });

  test('foreign sites and names are refused, and the headers keep foreign content out', async () => {
    const foreign = await served.server.app.inject({
      method: 'POST',
      url: '/api/athletes',
      headers: { ...ownHeaders, origin: 'https://elsewhere.example' },
      payload: { name: 'x' },
    });
    expect(foreign.statusCode).toBe(403);
    expect(
      (
        await served.server.app.inject({
          method: 'GET',
          url: '/api/health',
          headers: { host: 'elsewhere.example' },
        })
      ).statusCode,
    ).toBe(403);
    const policy = String((await get('/api/health')).headers['content-security-policy']);
    expect(policy).toContain("default-src 'none'");
    expect(policy).toContain("script-src 'self'");
    expect(policy).not.toMatch(/unsafe|https:/);
  });

  test('a busy port is said in one sentence', async () => {
    const context = {
      hub: served.hub,
      store: served.store,
      recordings: new RecordedSessions(served.store, inlineReview),
      clock: served.clock,
      log: testLog,
      hubVersion: 'test',
    };
    await expect(
      startHttpServer(context, {
        host: '127.0.0.1',
        port: served.server.port,
        webDirectory: '/nonexistent',
        makeId: () => 'x',
      }),
    ).rejects.toMatchObject({
      code: 'server.portBusy',
      message: expect.stringContaining('--port'),
    });
  });
});
