// The pages of a school over real servers: recordings of all hubs as their own hubs show them, rooms with their alarms, who
// is who, and what is refused.

import { headers } from '@nats-io/transport-node';
import { describe, expect, test, vi } from 'vitest';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import type { RunningSchool } from '../../../hub/school/boot-school.ts';
import { connectNats } from '../../../hub/school/nats/connect.ts';
import { hubIdIn } from '../../../hub/school/publish/hub-id.ts';
import type { AuditEntry } from '../../../shared/audit.ts';
import { closeCodes } from '../../../shared/error-codes.ts';
import type { DownMessage } from '../../../shared/messages/down.ts';
import {
  schoolHealthBodySchema,
  schoolMergePreviewBodySchema,
  schoolPersonsBodySchema,
  schoolRoomsBodySchema,
} from '../../../shared/school/pages.ts';
import { numberHeader } from '../../../shared/school/school-version.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import { fetchAsOwn } from '../../support/own-person.ts';
import { openPageHub, type PageHub } from '../../support/page-hub.ts';
import { sendFromPageHub, startSending } from '../../support/school/sending-hub.ts';
import { serveSchool } from '../../support/school/served-school.ts';
import { query } from '../../support/school/servers.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { serveTestHub } from '../../support/serve-test-hub.ts';
import { hello, openTestPage } from '../../support/test-page.ts';
import { writeSession } from '../../support/written-sessions.ts';

// Servers are started, killed and recover: a loaded machine takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const servers = serversInTest('school-pages');
const { newFolder, opened } = servers;
const folders = new Map<PageHub, string>();
const dataFolderOf = (page: PageHub): string => {
  const known = folders.get(page) ?? newFolder();
  folders.set(page, known);
  return known;
};

async function aSchool(): Promise<RunningSchool & { readonly archiveUrl: string }> {
  const archiveUrl = await servers.postgres.createDatabase();
  const school = await serveSchool({ natsUrl: servers.nats.url, archiveUrl, dataFolder: newFolder() });
  return { ...opened(school), archiveUrl };
}

type SendingExtras = Pick<Parameters<typeof sendFromPageHub>[2], 'audit' | 'whileAsked'>;

async function sending(
  page: PageHub,
  hub: string,
  room: string,
  extras: SendingExtras = {},
): Promise<PageHub> {
  opened(page);
  opened(
    await sendFromPageHub(servers.nats.url, page, { hub, room, dataFolder: dataFolderOf(page), ...extras }),
  );
  return page;
}

/** A hub with recordings and no session. */
async function hubWith(hub: string, room: string, ...titles: readonly string[]): Promise<PageHub> {
  const store = openStoreInMemory();
  titles.forEach((title, i) => {
    writeSession(store, {
      sessionId: `rec-${i + 1}`,
      athleteId: 'athlete-1',
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 10, 3 + i, 18),
      title,
      holdsS: [60, 80],
      seed: i + 1,
      feeling: { comfort: 4, note: 'calm' },
    });
  });
  return sending(await openPageHub({ athleteCount: 1, store, sessionRunning: false }), hub, room);
}

// biome-ignore lint/suspicious/noExplicitAny: tests look into answers of every kind
const json = async (url: string): Promise<any> => (await fetchAsOwn(url)).json();
const post = (url: string, body: unknown): Promise<Response> =>
  fetchAsOwn(url, {
    method: 'POST',
    headers: { 'content-type': 'application/json', origin: new URL(url).origin },
    body: JSON.stringify(body),
  });

describe('recordings at a school', () => {
  test('two hubs in one list, found by a title; each as its own hub shows it, holds worked out from the same packets', async () => {
    const school = await aSchool();
    const quay = await hubWith('quay', 'Quay hall', 'Tuesday tables', 'Thursday');
    await hubWith('basin', 'Basin', 'Long Saturday');
    await expect.poll(async () => (await json(`${school.url}/api/recordings`)).foundCount).toBe(3);
    const found = await json(`${school.url}/api/recordings?search=saturday`);
    expect(
      found.recordings.map((each: { session: { sessionId: string } }) => each.session.sessionId),
    ).toEqual(['basin.rec-1']);
    const here = await json(`${school.url}/api/sessions/quay.rec-1`);
    const there = await json(`${quay.url}/api/sessions/rec-1`);
    const renamed = JSON.parse(
      JSON.stringify(there)
        .replaceAll('"athlete-1"', '"quay.athlete-1"')
        .replaceAll('"rec-1"', '"quay.rec-1"'),
    );
    expect(here.athletes[0].estimatedHolds?.length ?? here.athletes[0].holds?.length).toBeGreaterThan(0);
    expect(here).toEqual(renamed);
    // In both lists with the same figures, worked out at each.
    const inList = async (url: string, id: string): Promise<unknown> => {
      const { recordings } = await json(`${url}/api/recordings`);
      const { holdCount, longestHoldMs, lowestSpo2Percent, figuresBy } = recordings.find(
        ({ session }: { session: { sessionId: string } }) => session.sessionId === id,
      );
      return { holdCount, longestHoldMs, lowestSpo2Percent, figuresBy };
    };
    await expect.poll(() => inList(quay.url, 'rec-1')).toMatchObject({ holdCount: 2, figuresBy: 'analysis' });
    await expect.poll(() => inList(school.url, 'quay.rec-1')).toEqual(await inList(quay.url, 'rec-1'));
  });

  test('nothing of a recording is changed there', async () => {
    const school = await aSchool();
    await hubWith('quay', 'Quay hall', 'Tuesday tables');
    await expect.poll(async () => (await json(`${school.url}/api/recordings`)).foundCount).toBe(1);
    for (const [method, path] of [
      ['PUT', '/api/sessions/quay.rec-1'],
      ['DELETE', '/api/sessions/quay.rec-1'],
      ['POST', '/api/athletes'],
      ['POST', '/api/backup'],
    ] as const) {
      const answer = await fetchAsOwn(`${school.url}${path}`, {
        method,
        headers: { 'content-type': 'application/json', origin: school.url },
        body: '{"title":"Other","name":"Other"}',
      });
      expect([method, path, answer.status, (await answer.json()).said.code]).toEqual([
        method,
        path,
        403,
        'school.changedAtHub',
      ]);
    }
    expect((await json(`${school.url}/api/recordings`)).recordings[0].session.title).toBe('Tuesday tables');
  });

  test('an athlete of two hubs becomes one person, seen beforehand, and two again', async () => {
    const school = await aSchool();
    await hubWith('quay', 'Quay hall', 'One');
    await hubWith('basin', 'Basin', 'Two');
    const persons = async () => schoolPersonsBodySchema.parse(await json(`${school.url}/api/school/persons`));
    await expect
      .poll(async () => (await persons()).persons.map(({ sessionCount }) => sessionCount))
      .toEqual([1, 1]);
    const both = { keptPersonId: 'quay.athlete-1', takenPersonId: 'basin.athlete-1' };
    const preview = await post(`${school.url}/api/school/merges/preview`, both);
    const { kept, taken } = schoolMergePreviewBodySchema.parse(await preview.json());
    expect([kept.name, taken.name, kept.holdCount, taken.holdCount]).toEqual([
      'Marit Oduya',
      'Marit Oduya',
      2,
      2,
    ]);
    expect((await persons()).persons).toHaveLength(2);
    expect((await post(`${school.url}/api/school/merges`, both)).status).toBe(200);
    const merged = await persons();
    expect(
      merged.persons.map(({ personId, sessionCount, holdCount }) => [personId, sessionCount, holdCount]),
    ).toEqual([['quay.athlete-1', 2, 4]]);
    const idsIn = async (): Promise<string[]> =>
      (await json(`${school.url}/api/recordings`)).recordings.flatMap(
        (each: { session: { athleteIds: string[] } }) => each.session.athleteIds,
      );
    expect(await idsIn()).toEqual(['quay.athlete-1', 'quay.athlete-1']);
    const [merge] = merged.merges;
    const undone = await fetchAsOwn(`${school.url}/api/school/merges/${merge!.mergeId}`, {
      method: 'DELETE',
      headers: { origin: school.url },
    });
    expect(undone.status).toBe(204);
    expect((await persons()).persons).toHaveLength(2);
    expect((await idsIn()).toSorted()).toEqual(['basin.athlete-1', 'quay.athlete-1']);
  });
});

describe('rooms of a school', () => {
  const low = { spo2Percent: 80, heartRateBpm: 60 };

  test('what happens while a page is told the whole reaches it once: what is in the whole not again, an alarm after it', async () => {
    const school = await aSchool();
    const quay = await openPageHub({ athleteCount: 1 });
    const told = { before: [] as DownMessage[], after: [] as DownMessage[] };
    let happen: (when: 'before' | 'after') => void = () => undefined;
    await sending(quay, 'quay', 'Quay hall', {
      whileAsked: (question, when) => {
        if (question === 'welcome') happen(when);
      },
    });
    await expect
      .poll(async () => (await json(`${school.url}/api/school/rooms`)).rooms[0]?.isRecording)
      .toBe(true);
    let when: 'before' | 'after' | null = null;
    const stopHearing = quay.server.feed.subscribe({
      message: (message) => {
        if (when !== null && (message.type === 'alarms' || message.type === 'marked'))
          told[when].push(message);
      },
      live: () => undefined,
    });
    happen = (now) => {
      when = now;
      if (now === 'before')
        quay.hub.addMark({ athleteId: 'athlete-1', kind: 'note', atMs: null, text: 'before' });
      else {
        quay.live(0, low);
        quay.pass(6);
        happen = () => undefined;
      }
      when = null;
    };
    const page = opened(openTestPage(school.url, {}, 'quay'));
    page.send(hello);
    const welcome = await page.until('welcome');
    expect(told.before.map(({ type }) => type)).toEqual(['marked']);
    expect(told.after.some((m) => m.type === 'alarms' && m.alarms.length > 0)).toBe(true);
    expect(welcome.athletes[0]?.alarms).toEqual([]);
    const isSame = (one: DownMessage) => (other: DownMessage) =>
      JSON.stringify(one) === JSON.stringify(other);
    await expect
      .poll(() => told.after.map((one) => page.received.filter(isSame(one)).length))
      .toEqual(told.after.map(() => 1));
    for (const one of told.before) expect(page.received.filter(isSame(one))).toEqual([]);
    stopHearing();
  });

  test('a live message that is lost on the way makes pages ask for the whole again', async () => {
    const school = await aSchool();
    const quay = await sending(await openPageHub({ athleteCount: 1 }), 'quay', 'Quay hall');
    await expect
      .poll(async () => (await json(`${school.url}/api/school/rooms`)).rooms[0]?.isRecording)
      .toBe(true);
    const page = opened(openTestPage(school.url, {}, 'quay'));
    page.send(hello);
    await page.until('welcome');
    // As it would come after some that did not.
    const connection = await connectNats(
      { url: servers.nats.url },
      { name: 'test', inboxPrefix: '_INBOX.test', keepTrying: false },
    );
    const numbered = headers();
    numbered.set(numberHeader, '1');
    const who = { hub: 'quay', hubId: hubIdIn(dataFolderOf(quay)) };
    connection.publish(subjects.live('test', who, 'text'), '{}', { headers: numbered });
    await connection.flush();
    await connection.close();
    expect(await page.closed).toBe(closeCodes.tooSlow);
    // The hub's own next is out of order too, once.
    await expect
      .poll(async () => {
        const again = opened(openTestPage(school.url, {}, 'quay'));
        again.send(hello);
        return again.until('heartbeat').then(
          () => true,
          () => false,
        );
      })
      .toBe(true);
  });

  test('two hubs of one name: the second is told, sends nothing, and goes on under a name of its own', async () => {
    const school = await aSchool();
    await hubWith('quay', 'Quay hall', 'One');
    await expect.poll(async () => (await json(`${school.url}/api/recordings`)).foundCount).toBe(1);
    const second = openStoreInMemory();
    opened(second);
    writeSession(second, {
      sessionId: 'rec-2',
      athleteId: 'athlete-2',
      athleteName: 'Teo Lindqvist',
      startedWallAtMs: Date.UTC(2026, 10, 5, 18),
      title: 'Two',
      holdsS: [60],
    });
    const dataFolder = newFolder();
    const settings = { natsUrl: servers.nats.url, store: second, dataFolder, room: 'Basin' };
    const refused = await startSending({ ...settings, hub: 'quay' });
    await expect
      .poll(() => [refused.state()?.link, refused.state()?.fault?.why])
      .toEqual(['refused', { code: 'school.nameTaken', params: { hub: 'quay' } }]);
    expect(refused.state()?.sentSegmentCount).toBe(0);
    expect(school.hub.notices.list).toContainEqual({
      code: 'school.twoOfOneName',
      params: { hub: 'quay', room: 'Basin' },
    });
    await refused.close();
    const renamed = opened(await startSending({ ...settings, hub: 'basin' }));
    await expect.poll(async () => (await json(`${school.url}/api/recordings`)).foundCount).toBe(2);
    expect(renamed.state()?.fault).toBe(null);
    expect(await query(school.archiveUrl, 'SELECT count(*)::int AS n FROM refused')).toEqual([{ n: 0 }]);
  });

  test('a hub that comes back with a new data folder gets its name again when a person says so', async () => {
    const school = await aSchool();
    await hubWith('quay', 'Quay hall', 'One');
    await expect.poll(async () => (await json(`${school.url}/api/recordings`)).foundCount).toBe(1);
    await servers.closeAfter(1);
    expect(await school.archive.releaseName('quay', 'test')).toBe(true);
    expect(await school.archive.releaseName('nobody', 'test')).toBe(false);
    await hubWith('quay', 'Quay hall', 'One', 'Another');
    await expect.poll(async () => (await json(`${school.url}/api/recordings`)).foundCount).toBe(2);
    expect(await query(school.archiveUrl, "SELECT who, hub_id FROM log WHERE what = 'nameReleased'")).toEqual(
      [{ who: 'test', hub_id: 'quay' }],
    );
  });

  test('a page looks at a room as at its hub; an alarm there is acknowledged here, and the hub knows who', async () => {
    const school = await aSchool();
    const atHub: AuditEntry[] = [];
    const quay = await sending(await openPageHub({ athleteCount: 2 }), 'quay', 'Quay hall', {
      audit: { append: (entry) => void atHub.push(entry) },
    });
    const rooms = async () => schoolRoomsBodySchema.parse(await json(`${school.url}/api/school/rooms`)).rooms;
    await expect
      .poll(async () => (await rooms()).map(({ name, isRecording }) => [name, isRecording]))
      .toEqual([['Quay hall', true]]);
    const page = opened(openTestPage(school.url, {}, 'quay'));
    page.send(hello);
    const welcome = await page.until('welcome');
    expect([welcome.role, welcome.athletes.length]).toEqual(['coach', 2]);
    await page.until('latest', ({ spo2 }) => spo2?.value === 98);
    quay.live(0, low);
    quay.pass(6);
    const { alarms, athleteId } = await page.until('alarms', (m) =>
      m.alarms.some(({ kind, acknowledged }) => kind === 'floorBreached' && !acknowledged),
    );
    page.send({ type: 'startSession', requestId: 'r0', athleteIds: [athleteId], title: '' });
    expect((await page.until('refused')).said.code).toBe('school.inTheRoom');
    page.send({
      type: 'acknowledgeAlarms',
      requestId: 'r1',
      athleteId,
      alarmIds: alarms.map(({ alarmId }) => alarmId),
    });
    await page.until('done', ({ requestId }) => requestId === 'r1');
    const told = await page.until('alarms', (m) =>
      m.alarms.some(({ kind, acknowledged }) => kind === 'floorBreached' && acknowledged),
    );
    expect(told.alarms.find(({ kind }) => kind === 'floorBreached')?.acknowledgedBy).toBe('test');
    expect(
      quay.hub.snapshotOf(athleteId)?.alarms.find(({ kind }) => kind === 'floorBreached')?.acknowledged,
    ).toBe(true);
    // Who did it stands in both logs, and is not taken for the hub's own person.
    const sessionId = quay.hub.session?.sessionId;
    expect(atHub).toEqual([
      expect.objectContaining({
        action: 'alarmsAcknowledged',
        athleteId,
        sessionId,
        device: null,
        afar: { school: 'test', by: 'test' },
      }),
    ]);
    const { entries } = await json(`${school.url}/api/audit`);
    expect(entries).toContainEqual(
      expect.objectContaining({ action: 'alarmsAcknowledged', athleteId: `quay.${athleteId}`, room: 'quay' }),
    );
  });

  test('a hub that falls silent in a session is an alarm at the school, until it is heard again', async () => {
    const school = await aSchool();
    const quay = opened(await serveTestHub());
    expect(quay.hub.startSession(['mira'], '').ok).toBe(true);
    // Its clock moves by itself, however late this machine is.
    const moving = setInterval(() => quay.clock.advance(200), 200);
    opened({ close: () => clearInterval(moving) });
    const dataFolder = newFolder();
    const settings = { hub: 'quay', room: 'Quay hall', dataFolder };
    const sender = await sendFromPageHub(servers.nats.url, quay, settings);
    await expect
      .poll(async () => (await json(`${school.url}/api/school/rooms`)).rooms[0])
      .toMatchObject({ isRecording: true, isSilent: false, name: 'Quay hall' });
    await sender.close();
    await expect
      .poll(() => school.hub.supervision.map(({ kind, priority }) => [kind, priority]))
      .toEqual([['roomSilent', 'high']]);
    expect(school.hub.supervision[0]?.subject?.params).toEqual({ text: 'Quay hall' });
    opened(await sendFromPageHub(servers.nats.url, quay, settings));
    await expect.poll(() => school.hub.supervision).toEqual([]);
  });

  test('health says when the archive is away, and when it is back', async () => {
    const school = await aSchool();
    await hubWith('quay', 'Quay hall', 'One');
    const health = async () => schoolHealthBodySchema.parse(await json(`${school.url}/api/school/health`));
    await expect.poll(async () => (await health()).keptCount).toBeGreaterThan(2);
    expect(await health()).toMatchObject({ ok: true, serverConnected: true, refusedCount: 0 });
    await servers.postgres.stop('SIGKILL');
    await hubWith('basin', 'Basin', 'Two');
    await expect.poll(async () => (await health()).fault?.code).toBe('school.archiveAway');
    await servers.postgres.start();
    await expect.poll(async () => (await health()).ok).toBe(true);
    await expect.poll(async () => (await json(`${school.url}/api/recordings`)).foundCount).toBe(2);
  });
});
