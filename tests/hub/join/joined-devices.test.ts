// Other devices on a real TLS port: who is let in, what each role sees and may change, and how a device is dropped.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import * as z from 'zod/mini';
import { told } from '../../../hub/base/hub-error.ts';
import { startHttpServer } from '../../../hub/server/http-server.ts';
import { closeCodes } from '../../../shared/error-codes.ts';
import { accessBodySchema, devicesBodySchema, newJoinCodeBodySchema } from '../../../shared/http.ts';
import type { UpMessage } from '../../../shared/messages/up.ts';
import { said } from '../../../shared/said.ts';
import type { Role } from '../../../shared/schema-parts.ts';
import { wallMs } from '../../../shared/units.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { ownHeaders } from '../../support/own-person.ts';
import { scriptedSensorIds } from '../../support/scripted-source.ts';
import { type ServedTestHub, serveTestHub, testLog } from '../../support/serve-test-hub.ts';
import { createTestDevice, type TestDevice } from '../../support/test-device.ts';
import { hello, openTestPage, type TestPage } from '../../support/test-page.ts';

let directory: string;
let served: ServedTestHub;
let jonas: string;
const pages: TestPage[] = [];

beforeAll(() => {
  directory = mkdtempSync(join(tmpdir(), 'slackwater-join-'));
});
afterAll(() => rmSync(directory, { recursive: true, force: true, maxRetries: 5 }));

beforeEach(async () => {
  rmSync(join(directory, 'devices.json'), { force: true });
  served = await serveTestHub({ lanIn: directory });
  const added = served.hub.addAthlete('Jonas');
  if (!added.ok) throw new Error('refused');
  jonas = added.value.athleteId;
  served.hub.assignSensor(scriptedSensorIds.strap, jonas);
});
afterEach(async () => {
  for (const page of pages.splice(0)) page.close();
  await served.close();
});

/** A request from the hub's own machine. */
const own = (method: 'GET' | 'POST' | 'DELETE', url: string, payload?: object) =>
  served.server.app.inject({ method, url, headers: ownHeaders, ...(payload && { payload }) });

async function codeFor(role: Role, athleteId: string | null = null): Promise<string> {
  const made = await own('POST', '/api/join-codes', { role, athleteId });
  expect(made.statusCode).toBe(201);
  return z.parse(newJoinCodeBodySchema, made.json()).code;
}

async function joinAs(role: Role, athleteId: string | null = null): Promise<TestDevice> {
  const device = createTestDevice(served.lanUrl);
  const answer = await device.join(await codeFor(role, athleteId), `${role}’s`);
  expect(answer.status).toBe(200);
  return device;
}

function open(device: TestDevice): TestPage {
  const page = device.openPage();
  pages.push(page);
  page.send(hello);
  return page;
}
function openOwn(): TestPage {
  const page = openTestPage(served.url);
  pages.push(page);
  page.send(hello);
  return page;
}

function startSession(athleteIds = ['mira', jonas]): string {
  const started = served.hub.startSession(athleteIds, 'evening');
  if (!started.ok) throw new Error(started.reason.said.code);
  return started.value.sessionId;
}
function seconds(count: number): void {
  for (let i = 0; i < count; i += 1) {
    served.source.oximetry(97);
    served.source.heartRate(60);
    served.clock.advance(1_000);
  }
}

/** A request from the network without the cost of TLS, for those that go through every route. */
async function askFromNetwork(method: string, url: string, cookie: string | null) {
  const answer = await served.server.app.inject({
    method: method as 'GET',
    url,
    remoteAddress: '192.0.2.9',
    headers: { host: '192.0.2.1', ...(cookie !== null && { cookie }) },
  });
  return { status: answer.statusCode, body: answer.json<{ code?: string }>() };
}

/** Every route under /api with its methods, as the server knows them. */
const apiRoutes = () => served.server.routes.filter(({ path }) => path.startsWith('/api/'));

/** What lets in, and what is compared before: a certificate is no secret. */
const ofTheDoor = [
  '/api/join',
  '/api/radio/join',
  '/api/own-person',
  '/api/hub-certificate',
  '/api/authority/:form',
];

describe('before joining', () => {
  test('every route but joining answers 401, and says nothing else', async () => {
    const routes = apiRoutes().filter(({ path, method }) => !ofTheDoor.includes(path) && method !== 'HEAD');
    expect(routes.length).toBeGreaterThan(15);
    for (const { method, path } of routes) {
      const answer = await askFromNetwork(method, path.replaceAll(/:[a-zA-Z]+/g, 'mira'), null);
      expect([path, answer.status, answer.body.code]).toEqual([path, 401, 'notJoined']);
    }
  });

  test('a socket is closed with a code that its page can read, and hears nothing', async () => {
    const page = open(createTestDevice(served.lanUrl));
    expect(await page.closed).toBe(closeCodes.notAllowed);
    expect(page.received).toEqual([]);
  });

  test('a made-up cookie is nobody', async () => {
    const stranger = createTestDevice(served.lanUrl);
    stranger.cookie = '__Host-slackwater=AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA';
    expect((await stranger.ask('GET', '/api/athletes')).status).toBe(401);
    expect(await open(stranger).closed).toBe(closeCodes.notAllowed);
  });

  test('only the hub’s own machine gets in without TLS, and its page needs no code', async () => {
    expect(served.server.app.server.address()).toMatchObject({ address: '127.0.0.1' });
    const fromNetwork = await served.server.app.inject({
      method: 'GET',
      url: '/api/athletes',
      remoteAddress: '192.0.2.9',
      headers: { host: '192.0.2.1' },
    });
    expect(fromNetwork.statusCode).toBe(401);
    expect((await own('GET', '/api/access')).json()).toEqual({
      role: 'coach',
      athleteIds: 'all',
      deviceId: null,
      deviceName: '',
    });
    await expect(
      startHttpServer(
        {
          hub: served.hub,
          store: served.store,
          clock: served.clock,
          log: testLog,
          hubVersion: 'test',
        } as never,
        { host: '0.0.0.0', port: 0, webDirectory: directory, makeId: () => 'x' },
      ),
    ).rejects.toMatchObject({ code: 'config.badValue', message: expect.stringContaining('--lan') });
  });

  test('the page’s files are given to anyone', async () => {
    const web = mkdtempSync(join(directory, 'web-'));
    writeFileSync(join(web, 'index.html'), '<title>page</title>');
    const other = await serveTestHub({ lanIn: directory, webDirectory: web });
    const answer = await createTestDevice(other.lanUrl).ask('GET', '/join');
    expect(answer).toMatchObject({ status: 200, text: '<title>page</title>' });
    expect(answer.headers['content-security-policy']).toContain("default-src 'none'");
    await other.close();
  });

  test('the certificate shown is the one whose fingerprint the coach sees', async () => {
    const { lan } = z.parse(devicesBodySchema, (await own('GET', '/api/devices')).json());
    const answer = await createTestDevice(served.lanUrl).ask('GET', '/api/access');
    expect(answer.fingerprint).toBe(lan?.fingerprintSha256);
    expect(lan?.addresses).toEqual([served.lanUrl]);
    expect(lan).toMatchObject({ signedBy: 'itself', authority: null });
    // Whoever is about to join is told the same, and nothing secret.
    const { body } = await createTestDevice(served.lanUrl).ask('GET', '/api/hub-certificate');
    expect(body).toEqual({
      fingerprintSha256: answer.fingerprint,
      comparisonCode: lan?.comparisonCode,
      signedBy: 'itself',
      authority: null,
    });
    expect(answer.fingerprint.replaceAll(':', '').startsWith(body.comparisonCode.replaceAll(' ', ''))).toBe(
      true,
    );
    for (const form of ['pem', 'der', 'mobileconfig'])
      expect((await createTestDevice(served.lanUrl).ask('GET', `/api/authority/${form}`)).status).toBe(404);
  });
});

describe('joining', () => {
  test('a code gives a cookie that scripts, other sites and plain HTTP never see', async () => {
    const device = createTestDevice(served.lanUrl);
    const answer = await device.join(await codeFor('coach'), 'Tablet');
    expect(z.parse(accessBodySchema, answer.body)).toMatchObject({
      role: 'coach',
      athleteIds: 'all',
      deviceName: 'Tablet',
    });
    const [cookie] = answer.headers['set-cookie'] as string[];
    for (const part of ['HttpOnly', 'Secure', 'SameSite=Strict', 'Path=/', 'Max-Age=2592000'])
      expect(cookie?.split('; ')).toContain(part);
    expect(cookie).not.toContain('Domain');
    expect((await device.ask('GET', '/api/access')).body).toEqual(answer.body);
  });

  test('the link carries the code in its fragment, and the QR code comes as an SVG', async () => {
    const made = z.parse(
      newJoinCodeBodySchema,
      (await own('POST', '/api/join-codes', { role: 'coach' })).json(),
    );
    expect(made.joinAddress).toBe(`${served.lanUrl}/join#${made.code}`);
    expect(made.qrSvg).toMatch(/^<svg /);
    const listed = (await own('GET', '/api/devices')).body;
    expect(listed).toContain(made.codeId);
    expect(listed).not.toContain(made.code);
  });

  test.each([
    ['wrong', async () => '0000-0000', 'not a code'],
    [
      'used',
      async () => {
        const code = await codeFor('coach');
        await createTestDevice(served.lanUrl).join(code);
        return code;
      },
      'used',
    ],
    [
      'expired',
      async () => {
        const code = await codeFor('coach');
        served.clock.advance(10 * 60_000);
        return code;
      },
      'too old',
    ],
  ])('a %s code is refused', async (_name, makeCode, says) => {
    const device = createTestDevice(served.lanUrl);
    const answer = await device.join(await makeCode());
    expect(answer).toMatchObject({ status: 403, body: { code: 'codeRefused' } });
    expect(answer.body.message).toContain(says);
    expect(device.cookie).toBeNull();
    expect((await device.ask('GET', '/api/access')).status).toBe(401);
  });

  test('too many wrong codes make the device wait', async () => {
    const device = createTestDevice(served.lanUrl);
    const code = await codeFor('coach');
    for (let i = 0; i < 5; i += 1) expect((await device.join('0000-0000')).status).toBe(403);
    expect(await device.join(code)).toMatchObject({ status: 429, body: { code: 'tooManyRequests' } });
    served.clock.advance(10 * 60_000);
    expect((await device.join(await codeFor('coach'))).status).toBe(200);
  });

  test('requests are counted too, right or wrong', async () => {
    const device = createTestDevice(served.lanUrl);
    const statuses: number[] = [];
    for (let i = 0; i < 25; i += 1) statuses.push((await device.ask('POST', '/api/join', {})).status);
    expect(statuses.slice(0, 20)).not.toContain(429);
    expect(statuses.slice(20)).toEqual([429, 429, 429, 429, 429]);
  });

  test('another site can neither join nor open a socket with a joined browser’s cookie', async () => {
    const device = await joinAs('coach');
    const origin = 'https://elsewhere.example';
    expect((await device.ask('POST', '/api/athletes', { name: 'X' }, { origin })).status).toBe(403);
    expect((await device.ask('POST', '/api/join', { code: await codeFor('coach') }, { origin })).status).toBe(
      403,
    );
    await expect(device.openPage({ origin }).until('welcome')).rejects.toThrow('403');
    await expect(
      device.openPage({ origin: served.lanUrl.replace('https', 'http') }).until('welcome'),
    ).rejects.toThrow('403');
    const page = device.openPage({ origin: served.lanUrl });
    pages.push(page);
    page.send(hello);
    expect((await page.until('welcome')).role).toBe('coach');
  });

  test('a name that is not the hub’s is refused, its own are not', async () => {
    const device = await joinAs('coach');
    const status = async (host: string) =>
      (await device.ask('GET', '/api/access', undefined, { host })).status;
    expect(await status('elsewhere.example')).toBe(403);
    expect(await status('slackwater.local:7443')).toBe(200);
    expect(await status('localhost:7443')).toBe(200);
    expect(await status('192.0.2.77:7443')).toBe(200);
    // A network name pointed at the hub's own machine must not reach its coach without a code.
    const rebound = await served.server.app.inject({
      method: 'GET',
      url: '/api/access',
      headers: { host: 'slackwater.local' },
    });
    expect(rebound.statusCode).toBe(403);
  });

  test('without --lan no code is made', async () => {
    const alone = await serveTestHub();
    const made = await alone.server.app.inject({
      method: 'POST',
      url: '/api/join-codes',
      headers: ownHeaders,
      payload: { role: 'coach' },
    });
    expect(made.statusCode).toBe(409);
    expect(made.json()).toMatchObject({ code: 'lanOff', message: expect.stringContaining('--lan') });
    expect(alone.server.lanPort).toBeNull();
    await alone.close();
  });
});

describe('an onlooker', () => {
  test('sees everyone live and changes nothing by socket', async () => {
    startSession();
    seconds(2);
    const page = open(await joinAs('onlooker'));
    const welcome = await page.until('welcome');
    expect(welcome).toMatchObject({ role: 'onlooker', athleteIds: 'all' });
    expect(welcome.athletes).toHaveLength(2);
    const mark = { type: 'addMark', athleteId: 'mira', kind: 'contraction', atMs: null, text: null } as const;
    const requests: (UpMessage & { requestId: string })[] = [
      { ...mark, requestId: 'addMark' },
      { type: 'removeMark', requestId: 'removeMark', markId: 'x' },
      { type: 'startSession', requestId: 'startSession', athleteIds: ['mira'], title: '' },
      { type: 'acknowledgeAlarms', requestId: 'acknowledge', athleteId: 'mira', alarmIds: ['alarm-1'] },
      { type: 'pauseAudio', requestId: 'pause', athleteId: 'mira', paused: true },
      {
        type: 'changeSettings',
        requestId: 'settings',
        athleteId: 'mira',
        settings: served.hub.athletes[0]!.settings,
      },
      { type: 'endSession', requestId: 'end' },
    ];
    for (const request of requests) {
      page.send(request);
      const refused = await page.until('refused', (m) => m.requestId === request.requestId);
      expect(refused.code).toBe('notAllowed');
    }
    expect(page.received.some((m) => m.type === 'marked' || m.type === 'presence')).toBe(false);
    expect(served.hub.session).not.toBeNull();
  });

  test('gets no recording and may change nothing by HTTP', async () => {
    startSession();
    seconds(2);
    served.hub.endSession();
    const device = await joinAs('onlooker');
    // Everything an onlooker may read; a new route is refused until it is thought about and named here.
    const readable: Record<string, number> = {
      '/api/health': 200,
      '/api/athletes': 200,
      '/api/sensors': 200,
      '/api/access': 200,
      '/api/plans': 200,
      '/api/plan-runs/current': 200,
      // Whether what was changed has reached the disk; nothing of what it was.
      '/api/saved': 200,
      // Whom to call, for whoever stands by.
      '/api/emergency-card': 200,
      // Allowed, but there is no plan of that name.
      '/api/plans/:planId/file': 404,
      // The words of cues, which say nothing of anyone; there is none of that name.
      '/api/spoken-cues/:kind': 404,
    };
    for (const { method, path } of apiRoutes()) {
      const isOpen = path === '/api/leave' || (ofTheDoor.includes(path) && path !== '/api/own-person');
      if (method === 'HEAD' || isOpen) continue;
      const { status } = await askFromNetwork(method, path.replaceAll(/:[a-zA-Z]+/g, 'mira'), device.cookie);
      expect([method, path, status]).toEqual([
        method,
        path,
        method === 'GET' ? (readable[path] ?? 403) : 403,
      ]);
    }
  });

  test('does not count as a page that can raise the alarm', async () => {
    startSession(['mira']);
    const page = open(await joinAs('onlooker'));
    await page.until('welcome');
    page.send({ type: 'pageState', visible: true, soundReady: true, presented: [], sounding: null });
    // Answered in order: when the next is refused, the state has been taken.
    page.send({ type: 'endSession', requestId: 'after' });
    await page.until('refused');
    for (let i = 0; i < 12; i += 1) {
      page.send({ type: 'pageState', visible: true, soundReady: true, presented: [], sounding: null });
      seconds(1);
    }
    const kinds = served.server.feed
      .welcome(null)
      .welcome.athletes.flatMap((state) => state.alarms.map((alarm) => alarm.kind));
    expect(kinds).toContain('pageUnresponsive');
  });
});

describe('an athlete’s device', () => {
  test('sees its own athlete and nobody else, live', async () => {
    startSession();
    seconds(2);
    const page = open(await joinAs('athlete', 'mira'));
    const welcome = await page.until('welcome');
    expect(welcome).toMatchObject({ role: 'athlete', athleteIds: ['mira'] });
    expect(welcome.session?.athleteIds).toEqual(['mira']);
    seconds(3);
    served.hub.addMark({ athleteId: jonas, kind: 'note', atMs: null, text: 'for the coach' });
    served.hub.addMark({ athleteId: 'mira', kind: 'contraction', atMs: null, text: null });
    await page.until('marked');
    const everything = JSON.stringify(page.received);
    expect(everything).toContain('"mira"');
    expect(everything).not.toContain(jonas);
    expect(everything).not.toContain('Jonas');
    expect(everything).not.toContain(scriptedSensorIds.strap);
    expect(everything).not.toContain('for the coach');
    for (const type of ['latest', 'trace', 'sensors', 'session'] as const) await page.until(type);
    expect(page.received.some((m) => m.type === 'presence')).toBe(false);
  });

  test('a session without its athlete does not exist for it', async () => {
    startSession([jonas]);
    const page = open(await joinAs('athlete', 'mira'));
    expect((await page.until('welcome')).session).toBeNull();
    expect((await page.until('session')).session).toBeNull();
  });

  test('changes only itself by socket', async () => {
    startSession();
    const note = served.hub.addMark({ athleteId: jonas, kind: 'note', atMs: null, text: 'x' });
    if (!note.ok) throw new Error('refused');
    const page = open(await joinAs('athlete', 'mira'));
    await page.until('welcome');
    const { settings } = served.hub.athletes[0]!;
    const refusedRequests: (UpMessage & { requestId: string })[] = [
      { type: 'addMark', requestId: 'a', athleteId: jonas, kind: 'contraction', atMs: null, text: null },
      { type: 'removeMark', requestId: 'b', markId: note.value.markId },
      { type: 'acknowledgeAlarms', requestId: 'c', athleteId: jonas, alarmIds: ['alarm-1'] },
      { type: 'pauseAudio', requestId: 'd', athleteId: jonas, paused: true },
      { type: 'changeSettings', requestId: 'e', athleteId: jonas, settings },
      { type: 'startSession', requestId: 'f', athleteIds: ['mira', jonas], title: '' },
      { type: 'endSession', requestId: 'g' },
    ];
    for (const request of refusedRequests) {
      page.send(request);
      const refused = await page.until('refused', (m) => m.requestId === request.requestId);
      expect([request.type, refused.code]).toEqual([request.type, 'notAllowed']);
    }
    expect(served.hub.session).not.toBeNull();
    page.send({ type: 'addMark', requestId: 'h', athleteId: 'mira', kind: 'note', atMs: null, text: 'mine' });
    const { mark } = await page.until('marked');
    page.send({ type: 'removeMark', requestId: 'i', markId: mark.markId });
    await page.until('marked', (m) => m.removed);
  });

  test('may start and end a session of its own', async () => {
    const page = open(await joinAs('athlete', 'mira'));
    await page.until('welcome');
    page.send({ type: 'startSession', requestId: 'a', athleteIds: ['mira'], title: '' });
    await page.until('session', (m) => m.session?.status === 'recording');
    page.send({ type: 'endSession', requestId: 'b' });
    await page.until('session', (m) => m.session?.status === 'ended');
  });

  test('gets only its own recordings, and only its own part of them', async () => {
    const both = startSession();
    served.hub.addMark({ athleteId: jonas, kind: 'note', atMs: null, text: 'for the coach' });
    seconds(3);
    served.hub.endSession();
    const others = startSession([jonas]);
    seconds(1);
    served.hub.endSession();
    const device = await joinAs('athlete', 'mira');
    const list = await device.ask('GET', '/api/sessions');
    expect(list.body.sessions).toMatchObject([
      { session: { sessionId: both, athleteIds: ['mira'] }, athleteNames: ['Mira'] },
    ]);
    const one = await device.ask('GET', `/api/sessions/${both}`);
    expect(one.body.athletes).toHaveLength(1);
    const csv = await device.ask('GET', `/api/sessions/${both}/csv`);
    expect(csv).toMatchObject({ status: 200, text: expect.stringContaining('spo2_percent') });
    for (const answer of [list, one, csv])
      for (const secret of ['Jonas', jonas, scriptedSensorIds.strap, 'for the coach', 'heart_rate_bpm'])
        expect(answer.text).not.toContain(`${secret}"`);
    expect((await device.ask('GET', `/api/sessions/${both}/athletes/mira/trace`)).status).toBe(200);
    expect((await device.ask('GET', `/api/sessions/${both}/athletes/${jonas}/trace`)).status).toBe(403);
    expect((await device.ask('GET', `/api/sessions/${both}/csv?athleteId=${jonas}`)).status).toBe(404);
    expect((await device.ask('GET', `/api/sessions/${others}`)).status).toBe(404);
    expect((await device.ask('GET', `/api/sessions/${others}/csv`)).status).toBe(404);
    expect((await device.ask('DELETE', `/api/sessions/${both}`)).status).toBe(403);
  });

  test('changes its own name and no one else’s, and sees only its own sensors', async () => {
    const device = await joinAs('athlete', 'mira');
    expect((await device.ask('PUT', '/api/athletes/mira', { name: 'Mira S.' })).status).toBe(200);
    expect((await device.ask('PUT', `/api/athletes/${jonas}`, { name: 'X' })).status).toBe(403);
    expect((await device.ask('POST', '/api/athletes', { name: 'X' })).status).toBe(403);
    expect((await device.ask('GET', '/api/athletes')).body.athletes).toHaveLength(1);
    expect((await device.ask('GET', '/api/sensors')).body.sensors).toMatchObject([
      { sensorId: scriptedSensorIds.oximeter },
    ]);
    const assign = `/api/sensors/${scriptedSensorIds.strap}/athlete`;
    expect((await device.ask('PUT', assign, { athleteId: 'mira' })).status).toBe(403);
    expect((await device.ask('GET', '/api/devices')).status).toBe(403);
    expect((await device.ask('POST', '/api/join-codes', { role: 'coach' })).status).toBe(403);
  });

  test('is dropped within a second of its athlete being removed', async () => {
    const page = open(await joinAs('athlete', jonas));
    await page.until('welcome');
    served.hub.removeAthlete(jonas);
    served.clock.advance(1_000);
    expect(await page.closed).toBe(closeCodes.notAllowed);
  });
});

describe('a coach', () => {
  test('on another device may do what the hub’s own page may', async () => {
    const device = await joinAs('coach');
    const made = await device.ask('POST', '/api/join-codes', { role: 'onlooker' });
    expect(made.status).toBe(201);
    expect((await createTestDevice(served.lanUrl).join(made.body.code)).status).toBe(200);
    expect((await device.ask('POST', '/api/athletes', { name: 'Teodor' })).status).toBe(201);
    expect((await device.ask('GET', '/api/devices')).body.devices).toHaveLength(2);
  });

  test('removes a device: its page closes at once, hears no more, and its cookie is nobody’s', async () => {
    startSession();
    const device = await joinAs('athlete', 'mira');
    const page = open(device);
    const { deviceId } = await page.until('welcome');
    // The last of what follows a welcome.
    await page.until('sensors');
    const heard = page.received.length;
    expect((await own('DELETE', `/api/devices/${deviceId}`)).statusCode).toBe(204);
    seconds(3);
    expect(await page.closed).toBe(closeCodes.notAllowed);
    expect(page.received.length).toBe(heard);
    expect((await device.ask('GET', '/api/access')).status).toBe(401);
    expect(await open(device).closed).toBe(closeCodes.notAllowed);
    expect((await own('DELETE', `/api/devices/${deviceId}`)).statusCode).toBe(404);
  });

  test('withdraws a code', async () => {
    const made = (await own('POST', '/api/join-codes', { role: 'coach' })).json() as {
      codeId: string;
      code: string;
    };
    expect((await own('DELETE', `/api/join-codes/${made.codeId}`)).statusCode).toBe(204);
    expect((await createTestDevice(served.lanUrl).join(made.code)).status).toBe(403);
  });
});

describe('staying joined', () => {
  test('a restart of the hub keeps its devices', async () => {
    const device = await joinAs('coach');
    const { clock, store } = served;
    await served.close();
    served = await serveTestHub({ lanIn: directory, clock, store });
    const after = createTestDevice(served.lanUrl);
    after.cookie = device.cookie;
    expect((await after.ask('GET', '/api/access')).body).toMatchObject({ role: 'coach' });
    expect((await open(after).until('welcome')).role).toBe('coach');
  });

  test('a token that runs out closes its page', async () => {
    const device = await joinAs('onlooker');
    const page = open(device);
    await page.until('welcome');
    served.clock.jump(24 * 3_600_000);
    expect(await page.closed).toBe(closeCodes.notAllowed);
    expect((await device.ask('GET', '/api/access')).status).toBe(401);
  });

  test('a token that runs out in a session is an alarm on every other page; one that a coach removes is not', async () => {
    await served.close();
    const clock = createFakeClock();
    // The wall clock alone is moved: no monotonic time passes, as when somebody sets the date.
    let shiftMs = 0;
    const wallNowMs = () => wallMs(clock.wallNowMs() + shiftMs);
    served = await serveTestHub({ lanIn: directory, clock: { ...clock, wallNowMs } });
    const added = served.hub.addAthlete('Jonas');
    if (!added.ok) throw new Error('refused');
    jonas = added.value.athleteId;
    const kept = openOwn();
    await kept.until('welcome');
    const page = open(await joinAs('athlete', 'mira'));
    await page.until('welcome');
    const removed = open(await joinAs('athlete', jonas));
    await removed.until('welcome');
    startSession();
    const ofJonas = served.devices.devices().find(({ athleteId }) => athleteId === jonas);
    await own('DELETE', `/api/devices/${ofJonas!.deviceId}`);
    expect(await removed.closed).toBe(closeCodes.notAllowed);
    expect(served.hub.supervision).toEqual([]);
    // A clock that was moved is enough for it.
    shiftMs = 400 * 24 * 3_600_000;
    clock.advance(1_500);
    expect(await page.closed).toBe(closeCodes.notAllowed);
    const told = await kept.until('supervision', ({ alarms }) =>
      alarms.some(({ kind }) => kind === 'deviceDropped'),
    );
    expect(told.alarms.find(({ kind }) => kind === 'deviceDropped')).toMatchObject({
      priority: 'high',
      subject: said('said.asTold', { text: 'athlete’s' }),
      acknowledged: false,
    });
  });

  test('an athlete’s page hears only of sessions of theirs, and answers only for what is of them alone', async () => {
    const coach = openOwn();
    await coach.until('welcome');
    const page = open(await joinAs('athlete', 'mira'));
    await page.until('welcome');
    startSession();
    served.hub.raiseSupervision({
      kind: 'outputFailed',
      priority: 'medium',
      subject: told('lamp'),
      reason: told('no bus'),
    });
    served.hub.endSession('diskFault');
    const seen = await page.until('supervision', ({ alarms }) => alarms.length > 0);
    expect(seen.alarms.map(({ kind }) => kind)).toEqual(['monitoringStopped']);
    expect(seen.alarms[0]!.session!.athletes).toEqual([{ athleteId: 'mira', name: 'Mira' }]);
    const alarmIds = seen.alarms.map(({ alarmId }) => alarmId);
    page.send({ type: 'acknowledgeSupervision', requestId: 'r', alarmIds });
    expect((await page.until('refused')).code).toBe('notAllowed');
    coach.send({ type: 'acknowledgeSupervision', requestId: 'c', alarmIds });
    await coach.until('done');
    await page.until('supervision', ({ alarms }) => alarms.length === 0);
  });

  test('a device may leave by itself', async () => {
    const device = await joinAs('onlooker');
    const page = open(device);
    await page.until('welcome');
    expect((await device.ask('POST', '/api/leave')).status).toBe(204);
    expect(await page.closed).toBe(closeCodes.notAllowed);
    expect(served.devices.devices()).toEqual([]);
    expect((await own('POST', '/api/leave')).statusCode).toBe(400);
  });

  test('one device can’t take every place', async () => {
    const device = await joinAs('onlooker');
    for (let i = 0; i < 8; i += 1) await open(device).until('welcome');
    await expect(open(device).until('welcome')).rejects.toThrow('503');
    expect((await open(await joinAs('onlooker')).until('welcome')).role).toBe('onlooker');
  });
});

describe('who is present', () => {
  test('the coach sees a page come, hide, fall asleep, wake and go, and its sound', async () => {
    const coach = openOwn();
    await coach.until('welcome');
    const device = await joinAs('athlete', 'mira');
    const stateIs = (state: string, soundReady = false) =>
      coach.until('presence', (m) =>
        m.pages.some(
          (page) => page.athleteId === 'mira' && page.state === state && page.soundReady === soundReady,
        ),
      );
    const tick = () => served.clock.advance(1_000);
    tick();
    await stateIs('absent');
    const page = open(device);
    await page.until('welcome');
    const say = async (visible: boolean, soundReady: boolean, mark: string) => {
      page.send({ type: 'pageState', visible, soundReady, presented: [], sounding: null });
      page.send({ type: 'endSession', requestId: mark });
      await page.until('refused', (m) => m.requestId === mark);
      tick();
    };
    await say(true, true, '1');
    const present = await stateIs('visible', true);
    expect(present.pages.find((entry) => entry.role === 'athlete')).toMatchObject({
      name: 'athlete’s',
      deviceId: expect.any(String),
      pageId: expect.any(String),
    });
    expect(present.pages.find((entry) => entry.deviceId === null)).toMatchObject({ role: 'coach', name: '' });
    await say(false, true, '2');
    await stateIs('hidden', true);
    const before = coach.received.length;
    for (let i = 0; i < 4; i += 1) tick();
    const asleep = () =>
      coach.received
        .slice(before)
        .some(
          (m) =>
            m.type === 'presence' &&
            m.pages.some(
              (entry) => entry.athleteId === 'mira' && entry.state === 'silent' && !entry.soundReady,
            ),
        );
    await coach.until('presence', asleep);
    await say(true, false, '3');
    await stateIs('visible', false);
    page.close();
    await page.closed;
  });
});
