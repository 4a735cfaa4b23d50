// A coach of some rooms of a school: every route and room really asked for by everybody, written down in
// hub/school/ROLES.md; what is of another room, or of the school as a whole, is refused.

import { expect, test, vi } from 'vitest';
import { initialSettings } from '../../../hub/live/initial-settings.ts';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import type { RunningSchool } from '../../../hub/school/boot-school.ts';
import type { DeviceRole } from '../../../shared/schema-parts.ts';
import { ownCookieOf } from '../../support/own-person.ts';
import { openPageHub, type PageHub } from '../../support/page-hub.ts';
import { sendFromPageHub } from '../../support/school/sending-hub.ts';
import { serveSchool } from '../../support/school/served-school.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { hello, openTestPage } from '../../support/test-page.ts';
import { writeSession } from '../../support/written-sessions.ts';

// Servers are started: a loaded machine takes its time.
vi.setConfig({ testTimeout: 300_000, hookTimeout: 120_000 });

const servers = serversInTest('room-coach');
const { newFolder, opened } = servers;

/** A recording of Marit, who trains at both, and a session that runs. */
async function aHub(hub: string, room: string, other: string): Promise<PageHub> {
  const store = openStoreInMemory();
  writeSession(store, {
    sessionId: 'rec-1',
    athleteId: 'marit',
    athleteName: 'Marit Oduya',
    startedWallAtMs: Date.UTC(2026, 10, hub === 'quay' ? 3 : 4, 18),
    title: `Of ${hub}`,
    holdsS: [60],
  });
  writeSession(store, {
    sessionId: 'rec-2',
    athleteId: `other-of-${hub}`,
    athleteName: other,
    startedWallAtMs: Date.UTC(2026, 10, 5, 18),
    title: `Other of ${hub}`,
    holdsS: [60],
  });
  store.saveAthlete({
    athleteId: 'marit',
    name: 'Marit Oduya',
    simulated: false,
    settings: initialSettings,
  });
  const page = opened(await openPageHub({ athleteCount: 1, names: ['Ilse Barraco'], store }));
  opened(await sendFromPageHub(servers.nats.url, page, { hub, room, dataFolder: newFolder() }));
  return page;
}

interface Both {
  readonly school: RunningSchool;
  readonly quay: PageHub;
  readonly basin: PageHub;
}

async function aSchoolOfTwo(): Promise<Both> {
  const archiveUrl = await servers.postgres.createDatabase();
  const school = opened(
    await serveSchool({ natsUrl: servers.nats.url, archiveUrl, dataFolder: newFolder(), lan: true }),
  );
  const quay = await aHub('quay', 'Quay hall', 'Teo Lindqvist');
  const basin = await aHub('basin', 'Basin', 'Sana Whitlock');
  const cookie = ownCookieOf(school.url);
  const asOwn = async (url: string) =>
    (await school.server.app.inject({ url, headers: { host: 'localhost', cookie } })).json();
  await expect.poll(async () => (await asOwn('/api/recordings')).wholeCount, { timeout: 150_000 }).toBe(6);
  await expect
    .poll(async () =>
      (await asOwn('/api/school/rooms')).rooms.map((each: { isRecording: boolean }) => each.isRecording),
    )
    .toEqual([true, true]);
  await expect
    .poll(async () => JSON.stringify(await asOwn('/api/athletes')), { timeout: 60_000 })
    .toContain('quay.marit');
  const merged = await school.server.app.inject({
    method: 'POST',
    url: '/api/school/merges',
    headers: { host: 'localhost', cookie },
    payload: { keptPersonId: 'quay.marit', takenPersonId: 'basin.marit' },
  });
  expect(merged.statusCode).toBe(200);
  return { school, quay, basin };
}

type Person = 'ownPerson' | 'schoolCoach' | 'roomCoach' | 'athlete' | 'onlooker' | 'stranger';

async function enter(
  school: RunningSchool,
  person: Person,
): Promise<{ readonly cookie: string | undefined }> {
  if (person === 'ownPerson') return { cookie: ownCookieOf(school.url) };
  if (person === 'stranger') return { cookie: undefined };
  const role: DeviceRole = person === 'schoolCoach' || person === 'roomCoach' ? 'coach' : person;
  const { devices } = school.joining;
  const made = devices.makeCode(
    role,
    person === 'athlete' ? 'quay.marit' : null,
    person === 'roomCoach' ? ['quay'] : undefined,
  );
  if (!made.ok) throw new Error(made.reason.said.code);
  const joined = await devices.join({ code: made.value.code, deviceName: person, address: '192.0.2.9' });
  if (!joined.ok) throw new Error(joined.reason.said.code);
  return { cookie: `__Host-slackwater=${joined.value.token}` };
}

/** `address`: where from; one address may ask only so often. */
const ask = (
  school: RunningSchool,
  person: Person,
  cookie: string | undefined,
  [method, url]: readonly [string, string],
  address = '192.0.2.9',
) =>
  school.server.app.inject({
    method: method as 'GET',
    url,
    ...(person !== 'ownPerson' && { remoteAddress: address }),
    headers: {
      host: person === 'ownPerson' ? 'localhost' : '192.0.2.1',
      ...(cookie !== undefined && { cookie }),
    },
  });

/** Of what room somebody asks; Marit trains at both. */
const columns: readonly (readonly [string, Person, 'quay' | 'basin'])[] = [
  ['own person', 'ownPerson', 'basin'],
  ['coach', 'schoolCoach', 'basin'],
  ['coach of quay', 'roomCoach', 'quay'],
  ['coach of quay, of basin', 'roomCoach', 'basin'],
  ['athlete', 'athlete', 'quay'],
  ['athlete, of another', 'athlete', 'basin'],
  ['onlooker', 'onlooker', 'quay'],
  ['stranger', 'stranger', 'quay'],
];

/** Rows as the formatter sets them. */
function table(rows: readonly (readonly (string | number)[])[]): string[] {
  const widths = rows[0]!.map((_cell, column) => Math.max(...rows.map((row) => String(row[column]).length)));
  const line = (cells: readonly (string | number)[]): string =>
    `| ${cells.map((cell, column) => String(cell).padEnd(widths[column]!)).join(' | ')} |`;
  const [head, ...rest] = rows;
  return [line(head!), `| ${widths.map((width) => '-'.repeat(width)).join(' | ')} |`, ...rest.map(line)];
}

test('every route of a school answers everybody as the table says', async () => {
  const { school } = await aSchoolOfTwo();
  const rules = school.server.routes.filter(
    ({ method, path }) => method !== 'HEAD' && path.startsWith('/api'),
  );
  expect(rules.length).toBeGreaterThan(60);
  const rows: (string | number)[][] = [['route', ...columns.map(([name]) => name)]];
  const cookies = await Promise.all(columns.map(async ([, person]) => (await enter(school, person)).cookie));
  for (const { method, path } of rules.toSorted((one, other) =>
    `${one.path} ${one.method}` < `${other.path} ${other.method}` ? -1 : 1,
  )) {
    const statuses: number[] = [];
    for (const [column, [, person, hub]] of columns.entries()) {
      const athleteId = person === 'athlete' && hub === 'quay' ? 'quay.marit' : `${hub}.other-of-${hub}`;
      const sessionId = person === 'athlete' && hub === 'quay' ? 'quay.rec-1' : `${hub}.rec-2`;
      const url = path
        .replace(':otherAthleteId', athleteId)
        .replace(':athleteId', athleteId)
        .replace(':personId', athleteId)
        .replace(':sessionId', sessionId)
        .replaceAll(/:[a-zA-Z]+/g, 'none');
      const answer = await ask(school, person, cookies[column], [method, url], `192.0.2.${10 + column}`);
      statuses.push(answer.statusCode);
      // Whoever has left comes in again.
      if (path === '/api/leave') cookies[column] = (await enter(school, person)).cookie;
    }
    rows.push([`${method} ${path}`, ...statuses]);
  }
  const lines = [
    '# Who may do what at a school',
    '',
    'Written by tests/hub/school/room-coach.test.ts, which really asks each of them, at a school of two rooms, quay and basin. 401',
    'and 403 are refusals of who asks, and so is 404 where a coach of quay asks for a recording of basin; every other status means',
    'that they were let in (400, 404, 409 for want of a body or of the thing named). "coach of quay" is a device let in for that room',
    'only, "of basin" asks of what is of the other. What a hub keeps is changed at the hub: 403 for everybody.',
    '',
    ...table(rows),
  ];
  await expect(`${lines.join('\n')}\n`).toMatchFileSnapshot('../../../hub/school/ROLES.md');
});

test('a coach of one room sees its recordings, weeks and people, and no more', async () => {
  const { school } = await aSchoolOfTwo();
  const { cookie } = await enter(school, 'roomCoach');
  const json = async (url: string) => (await ask(school, 'roomCoach', cookie, ['GET', url])).json();
  const found = await json('/api/recordings');
  const roomsOf = (recordings: readonly { readonly session: { readonly sessionId: string } }[]): string[] => [
    ...new Set(recordings.map(({ session }) => session.sessionId.split('.')[0]!)),
  ];
  expect([found.wholeCount, roomsOf(found.recordings)]).toEqual([3, ['quay']]);
  expect(found.choices.athletes.map(({ name }: { name: string }) => name).toSorted()).toEqual([
    'Ilse Barraco',
    'Marit Oduya',
    'Teo Lindqvist',
  ]);
  expect(JSON.stringify(await json('/api/athletes'))).not.toContain('Sana');
  expect((await json('/api/school/rooms')).rooms.map(({ hub }: { hub: string }) => hub)).toEqual(['quay']);
  // Marit trains at both: of her weeks those sessions that were here.
  const weeks = await json('/api/athletes/quay.marit/history');
  expect(weeks.allCount).toBe(1);
  expect((await json('/api/access')).rooms).toEqual({ hubs: ['quay'], names: ['Quay hall'] });
  const own = ownCookieOf(school.url);
  const whole = await ask(school, 'ownPerson', own, ['GET', '/api/athletes/quay.marit/history']);
  expect(whole.json().allCount).toBe(2);
});

test('who comes to train there shows in their lists while the page is open, of other rooms nobody', async () => {
  const { school, quay, basin } = await aSchoolOfTwo();
  const { cookie = '' } = await enter(school, 'roomCoach');
  const page = opened(openTestPage(`https://127.0.0.1:${school.server.lanPort}`, { cookie }));
  page.send(hello);
  await page.until('welcome');
  basin.hub.addAthlete('Dag Moreau');
  quay.hub.addAthlete('Nerys Okafor');
  const told = await page.until('session', ({ athletes }) =>
    athletes.some(({ name }) => name === 'Nerys Okafor'),
  );
  expect(told.athletes.map(({ name }) => name)).not.toContain('Dag Moreau');
});

test('and enters no other room: an alarm of theirs is acknowledged, under the name of the device', async () => {
  const { school, quay } = await aSchoolOfTwo();
  const { cookie = '' } = await enter(school, 'roomCoach');
  const lanUrl = `https://127.0.0.1:${school.server.lanPort}`;
  const other = opened(openTestPage(lanUrl, { cookie }, 'basin'));
  other.send(hello);
  const closed = await other.closed;
  expect(closed).not.toBe(1000);
  expect(other.received).toEqual([]);
  const page = opened(openTestPage(lanUrl, { cookie }, 'quay'));
  page.send(hello);
  await page.until('welcome');
  quay.live(0, { spo2Percent: 80, heartRateBpm: 60 });
  quay.pass(6);
  const { alarms, athleteId } = await page.until('alarms', (m) =>
    m.alarms.some(({ kind, acknowledged }) => kind === 'floorBreached' && !acknowledged),
  );
  const alarmIds = alarms.map(({ alarmId }) => alarmId);
  page.send({ type: 'acknowledgeAlarms', requestId: 'r1', athleteId, alarmIds });
  await page.until('done', ({ requestId }) => requestId === 'r1');
  const seen = quay.hub.snapshotOf(athleteId)?.alarms.find(({ kind }) => kind === 'floorBreached');
  expect([seen?.acknowledged, seen?.acknowledgedBy]).toEqual([true, 'roomCoach']);
});

test('rooms are for coaches, and there have to be such', async () => {
  const { school } = await aSchoolOfTwo();
  const codeFor = async (payload: object) => {
    const answer = await school.server.app.inject({
      method: 'POST',
      url: '/api/join-codes',
      headers: { host: 'localhost', cookie: ownCookieOf(school.url) },
      payload,
    });
    return [answer.statusCode, answer.json().said?.code ?? answer.json().rooms];
  };
  expect(await codeFor({ role: 'coach', rooms: ['quay'] })).toEqual([201, ['quay']]);
  expect(await codeFor({ role: 'coach', rooms: ['elsewhere'] })).toEqual([400, 'refusal.unknownRoom']);
  expect(await codeFor({ role: 'onlooker', rooms: ['quay'] })).toEqual([400, 'refusal.roomsOfCoach']);
  expect((await codeFor({ role: 'coach', rooms: [] }))[0]).toBe(400);
});
