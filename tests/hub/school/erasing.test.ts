// Erasing somebody from all hubs of a school and its archive, over real servers: whoever asks, whatever is offline, in a
// session, on its way or put back from a backup. What is left is looked for in a dump of the whole database.

import { execFile } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { describe, expect, test, vi } from 'vitest';
import type { Store } from '../../../hub/base/ports/store.ts';
import { decodeChunk, packetsOf } from '../../../hub/recorder/packet-chunk.ts';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import type { RunningSchool } from '../../../hub/school/boot-school.ts';
import { unpackJson } from '../../../hub/school/kept-bytes.ts';
import { connectNats } from '../../../hub/school/nats/connect.ts';
import {
  type SchoolErasure,
  schoolBelongingsBodySchema,
  schoolErasuresBodySchema,
  schoolPersonsBodySchema,
} from '../../../shared/school/pages.ts';
import { schoolVersion, versionHeader } from '../../../shared/school/school-version.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import { fetchAsOwn } from '../../support/own-person.ts';
import { openPageHub, type PageHub } from '../../support/page-hub.ts';
import { sendFromPageHub } from '../../support/school/sending-hub.ts';
import { serveSchool } from '../../support/school/served-school.ts';
import { query } from '../../support/school/servers.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { writeSession } from '../../support/written-sessions.ts';

// Servers are started, killed and recover: a loaded machine takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const run = promisify(execFile);
const servers = serversInTest('erasing');
const { newFolder, opened } = servers;

type School = RunningSchool & { readonly archiveUrl: string };
async function aSchool(archiveUrl?: string): Promise<School> {
  const url = archiveUrl ?? (await servers.postgres.createDatabase());
  const school = opened(
    await serveSchool({ natsUrl: servers.nats.url, archiveUrl: url, dataFolder: newFolder() }),
  );
  return { ...school, archiveUrl: url };
}

/** Marit, who is to be erased, by herself and with Teo, who stays. */
function aStore(marit: string): Store {
  const store = openStoreInMemory();
  const of = { athleteId: marit, athleteName: 'Marit Oduya', holdsS: [50] };
  writeSession(store, {
    ...of,
    sessionId: 'alone-of-marit',
    startedWallAtMs: Date.UTC(2026, 9, 3, 18),
    title: 'Alone',
    simulated: false,
    feeling: { comfort: 4, note: 'calm' },
  });
  writeSession(store, {
    ...of,
    sessionId: 'both-of-them',
    startedWallAtMs: Date.UTC(2026, 10, 4, 18),
    title: 'Both',
    simulated: true,
    seed: 2,
    others: [{ athleteId: 'teo-id', athleteName: 'Teo Lindqvist' }],
  });
  for (const [kind, documentId] of [
    ['training', 'entry-of-marit'],
    ['sessionDetails', `alone-of-marit ${marit}`],
  ] as const)
    store.saveDocument({
      kind,
      documentId,
      groupId: kind === 'sessionDetails' ? 'alone-of-marit' : null,
      athleteId: marit,
      body: { note: 'written by Marit Oduya' },
    });
  return store;
}

interface Sending {
  readonly page: PageHub;
  readonly dataFolder: string;
  readonly sender: { close(): Promise<void> };
}

async function sendingHub(
  hub: string,
  store: Store,
  options: {
    readonly dataFolder?: string;
    readonly sessionRunning?: boolean;
    readonly isSending?: boolean;
  } = {},
): Promise<Sending> {
  const { dataFolder = newFolder(), sessionRunning = false } = options;
  const page = opened(await openPageHub({ athleteCount: 1, names: ['Ilse Barraco'], store, sessionRunning }));
  const sender =
    options.isSending === false ? { close: async () => undefined } : await sendingOf(page, hub, dataFolder);
  return { page, dataFolder, sender };
}

const sendingOf = async (
  page: PageHub,
  hub: string,
  dataFolder: string,
): Promise<{ close(): Promise<void> }> =>
  opened(await sendFromPageHub(servers.nats.url, page, { hub, room: `Room ${hub}`, dataFolder }));

// biome-ignore lint/suspicious/noExplicitAny: tests look into answers of every kind
const json = async (url: string): Promise<any> => (await fetchAsOwn(url)).json();
const post = (url: string, body: unknown): Promise<Response> =>
  fetchAsOwn(url, {
    method: 'POST',
    headers: { 'content-type': 'application/json', origin: new URL(url).origin },
    body: JSON.stringify(body),
  });
const personsOf = async ({ url }: School) =>
  schoolPersonsBodySchema.parse(await json(`${url}/api/school/persons`)).persons;
const erasuresOf = async ({ url }: School): Promise<readonly SchoolErasure[]> =>
  schoolErasuresBodySchema.parse(await json(`${url}/api/school/erasures`)).erasures;
/** Rooms with whether they are done. */
const standOf = async (school: School): Promise<readonly (readonly [string, boolean])[][]> =>
  (await erasuresOf(school)).map(({ hubs }) =>
    hubs.map(({ hub, doneAtWallMs }) => [hub, doneAtWallMs !== null]),
  );
const erase = (school: School, personId: string): Promise<Response> =>
  post(`${school.url}/api/school/erasures`, { personId });

const untilKept = (school: School, count: number) =>
  expect
    .poll(() => query(school.archiveUrl, `SELECT count(*)::int AS n FROM sessions WHERE packet_count > 0`))
    .toEqual([{ n: count }]);

/** Every text and every packed text of the database. */
async function everythingIn(archiveUrl: string): Promise<string> {
  const { stdout } = await run(
    join(servers.postgres.programs, 'pg_dump'),
    ['--data-only', '--inserts', '--rows-per-insert=1', archiveUrl],
    { maxBuffer: 256 << 20 },
  );
  const packed = await query<{ body: Buffer }>(
    archiveUrl,
    'SELECT body FROM told UNION ALL SELECT body FROM refused',
  );
  return (
    stdout + packed.map(({ body }) => JSON.stringify(unpackJson(body)) + body.toString('latin1')).join('\n')
  );
}

async function sensorsInSegments(archiveUrl: string): Promise<readonly string[]> {
  const rows = await query<{ body: Buffer }>(archiveUrl, 'SELECT body FROM segments');
  const ids = rows.flatMap(({ body }) => {
    const chunk = decodeChunk(body);
    return chunk.ok ? [...packetsOf(chunk.value)].map(({ sensorId }) => sensorId) : [];
  });
  return [...new Set(ids)].toSorted();
}

/** What the message server has on its disk. */
function onDiskOfNats(): string {
  return readdirSync(join(servers.nats.folder, 'jetstream'), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.blk'))
    .map((name) => readFileSync(join(servers.nats.folder, 'jetstream', name), 'latin1'))
    .join('\n');
}

async function expectNothingOf(school: School, ...words: readonly string[]): Promise<void> {
  const all = await everythingIn(school.archiveUrl);
  // What is looked for would be found.
  expect(all).toContain('Teo Lindqvist');
  for (const word of words) expect(all, word).not.toContain(word);
}

describe('asked for at the school', () => {
  test('one person of two hubs: gone from the archive at once, from both hubs and the message server soon; who stays, stays', async () => {
    const school = await aSchool();
    const quay = await sendingHub('quay', aStore('marit-of-quay'));
    const basin = await sendingHub('basin', aStore('marit-of-basin'));
    await untilKept(school, 4);
    const both = { keptPersonId: 'quay.marit-of-quay', takenPersonId: 'basin.marit-of-basin' };
    await expect.poll(async () => (await personsOf(school)).length).toBeGreaterThan(3);
    expect((await post(`${school.url}/api/school/merges`, both)).status).toBe(200);
    const preview = await post(`${school.url}/api/school/erasures/preview`, {
      personId: 'quay.marit-of-quay',
    });
    const { person, ...counts } = schoolBelongingsBodySchema.parse(await preview.json());
    expect(person.athletes.map(({ room, name }) => [room, name])).toEqual([
      ['Room quay', 'Marit Oduya'],
      ['Room basin', 'Marit Oduya'],
    ]);
    expect(counts).toEqual({ ownRecordings: 2, sharedRecordings: 2, ledRecordings: 0, documents: 4 });
    expect((await erase(school, 'quay.marit-of-quay')).status).toBe(201);
    // Before any hub has answered.
    await expectNothingOf(school, 'Marit', 'marit-of-quay', 'marit-of-basin', 'alone-of-marit');
    expect(await sensorsInSegments(school.archiveUrl)).toEqual(
      expect.not.arrayContaining([expect.stringContaining('marit')]),
    );
    await expect
      .poll(() => standOf(school))
      .toEqual([
        [
          ['basin', true],
          ['quay', true],
        ],
      ]);
    for (const { page } of [quay, basin]) {
      expect(page.store.listSessions().map(({ session }) => session.sessionId)).toEqual(['both-of-them']);
      expect(page.hub.athletes.map(({ name }) => name)).not.toContain('Marit Oduya');
    }
    // The recording with Teo comes anew, as his hubs now have it.
    const teos = [...quay.page.store.readPackets('both-of-them')].length;
    await expect
      .poll(() => query(school.archiveUrl, 'SELECT DISTINCT packet_count::int AS n FROM sessions'))
      .toEqual([{ n: teos }]);
    await expect.poll(async () => (await erasuresOf(school))[0]?.streamDoneAtWallMs).not.toBeNull();
    expect(onDiskOfNats()).not.toContain('alone-of-marit');
    await expectNothingOf(school, 'Marit', 'marit-of-quay', 'marit-of-basin', 'alone-of-marit');
    const recordings = await json(`${school.url}/api/recordings`);
    expect(recordings.recordings.map((each: { athleteNames: string[] }) => each.athleteNames)).toEqual([
      ['Teo Lindqvist'],
      ['Teo Lindqvist'],
    ]);
    const { entries } = await json(`${school.url}/api/audit`);
    expect(entries.filter((each: { action: string }) => each.action === 'athleteErased')).toHaveLength(1);
    expect((await erase(school, 'quay.marit-of-quay')).status).toBe(404);
  });

  test('who led: the name goes from the archive at once, from each hub soon, and the recordings stay', async () => {
    const school = await aSchool();
    const led = (leaderId: string) => {
      const store = aStore('marit-id');
      const runa = { leaderId, name: 'Runa Sjoholm' };
      store.nameLeaders('alone-of-marit', [runa]);
      store.nameLeaders('both-of-them', [runa, { leaderId: 'jorid', name: 'Jorid Aalto' }]);
      return store;
    };
    const quay = await sendingHub('quay', led('runa-of-quay'));
    const basin = await sendingHub('basin', led('runa-of-basin'));
    await untilKept(school, 4);
    const leadersOf = async () =>
      (await json(`${school.url}/api/recordings`)).recordings.map(
        (each: { session: { leaders: unknown } }) => each.session.leaders,
      );
    await expect.poll(async () => (await leadersOf()).length).toBe(4);
    const { coaches } = schoolPersonsBodySchema.parse(await json(`${school.url}/api/school/persons`));
    expect(
      coaches.map(({ name, rooms, ...counts }) => [
        name,
        rooms.length,
        counts.sessionCount,
        counts.simulatedCount,
      ]),
    ).toEqual([
      ['Jorid Aalto', 2, 2, 2],
      ['Runa Sjoholm', 2, 4, 2],
    ]);
    const ofRuna = await json(`${school.url}/api/recordings?leader=runa%20sj%C3%B6holm`);
    expect(ofRuna.foundCount).toBe(4);
    const list = await json(`${school.url}/api/school/coaches/export?name=Runa%20Sjoholm`);
    expect(list.led.map((each: { sessionId: string }) => each.sessionId).toSorted()).toEqual([
      'basin.alone-of-marit',
      'basin.both-of-them',
      'quay.alone-of-marit',
      'quay.both-of-them',
    ]);
    const erased = await post(`${school.url}/api/school/erasures`, { coach: 'runa sjoholm' });
    expect(erased.status).toBe(201);
    await expectNothingOf(school, 'Runa', 'runa-of');
    await expect
      .poll(() => standOf(school))
      .toEqual([
        [
          ['basin', true],
          ['quay', true],
        ],
      ]);
    for (const { page } of [quay, basin])
      expect(page.store.listSessions().map(({ session }) => session.leaders.map(({ name }) => name))).toEqual(
        [['Jorid Aalto'], []],
      );
    // Everything is still there, and what the hubs told since says the same.
    await expectNothingOf(school, 'Runa', 'runa-of');
    await expect
      .poll(leadersOf)
      .toEqual([
        [{ leaderId: 'jorid', name: 'Jorid Aalto' }],
        [{ leaderId: 'jorid', name: 'Jorid Aalto' }],
        [],
        [],
      ]);
    expect((await post(`${school.url}/api/school/erasures`, { coach: 'Runa Sjoholm' })).status).toBe(404);
  });

  test('a hub that is offline does it when it is back, before anything of them is sent', async () => {
    const school = await aSchool();
    const quay = await sendingHub('quay', aStore('marit-id'));
    await untilKept(school, 2);
    await expect.poll(async () => (await personsOf(school)).length).toBeGreaterThan(1);
    await quay.sender.close();
    writeSession(quay.page.store, {
      sessionId: 'made-offline',
      athleteId: 'marit-id',
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 10, 6, 18),
      title: '',
      holdsS: [40],
    });
    expect((await erase(school, 'quay.marit-id')).status).toBe(201);
    expect(await standOf(school)).toEqual([[['quay', false]]]);
    const subjectsHeard = await hearKept();
    await sendingOf(quay.page, 'quay', quay.dataFolder);
    await expect.poll(() => standOf(school)).toEqual([[['quay', true]]]);
    await expect.poll(() => subjectsHeard.join(' ')).toContain('both-of-them');
    expect(subjectsHeard.join(' ')).not.toMatch(/made-offline|alone-of-marit|Marit/);
    expect(quay.page.store.listSessions().map(({ session }) => session.sessionId)).toEqual(['both-of-them']);
    await expectNothingOf(school, 'Marit', 'marit-id', 'made-offline');
  });

  test('a hub in a session does it afterwards, and sends nothing of them meanwhile', async () => {
    const school = await aSchool();
    const quay = await sendingHub('quay', aStore('marit-id'));
    await untilKept(school, 2);
    const started = quay.page.hub.startSession(['marit-id', 'athlete-1'], '');
    // Taken on to the list as a person would.
    expect(started.ok || started.reason.said.code).toBe('refusal.unknownAmongAthletes');
    quay.page.store.saveAthlete({
      ...quay.page.hub.athletes[0]!,
      athleteId: 'marit-id',
      name: 'Marit Oduya',
    });
    quay.page.hub.athletesReread();
    expect(quay.page.hub.startSession(['marit-id', 'athlete-1'], '').ok).toBe(true);
    const { sessionId } = quay.page.hub.session!;
    await expect
      .poll(() => query(school.archiveUrl, 'SELECT 1 AS n FROM sessions WHERE session_id = $1', [sessionId]))
      .toEqual([{ n: 1 }]);
    await expect
      .poll(async () => (await personsOf(school)).map(({ personId }) => personId))
      .toContain('quay.marit-id');
    expect((await erase(school, 'quay.marit-id')).status).toBe(201);
    await expectNothingOf(school, 'Marit', 'marit-id');
    const heard = await hearKept();
    quay.page.pass(30);
    // The hub has heard: its list comes without her.
    quay.page.hub.addAthlete('Sana Whitlock');
    await expect.poll(() => heard.join(' ')).toContain('Sana Whitlock');
    expect(heard.join(' ')).not.toMatch(/Marit/);
    expect(await standOf(school)).toEqual([[['quay', false]]]);
    expect(quay.page.hub.session).not.toBeNull();
    quay.page.hub.endSession();
    await expect.poll(() => standOf(school)).toEqual([[['quay', true]]]);
    await expect
      .poll(() =>
        query(school.archiveUrl, 'SELECT athlete_ids FROM sessions WHERE session_id = $1 AND status = $2', [
          sessionId,
          'ended',
        ]),
      )
      .toEqual([{ athlete_ids: ['athlete-1'] }]);
    expect(heard.join(' ')).not.toMatch(/Marit/);
    await expectNothingOf(school, 'Marit', 'marit-id');
  });

  test('a hub put back from a backup brings nobody back: nor while the school is away', async () => {
    const first = await aSchool();
    const quay = await sendingHub('quay', aStore('marit-id'));
    await untilKept(first, 2);
    await expect.poll(async () => (await personsOf(first)).length).toBeGreaterThan(1);
    expect((await erase(first, 'quay.marit-id')).status).toBe(201);
    await expect.poll(() => standOf(first)).toEqual([[['quay', true]]]);
    await quay.sender.close();
    await first.stop();
    // On another disk, so that the hub itself knows nothing of it; and it sends to a server without its school.
    const heard = await hearKept();
    const backup = aStore('marit-id');
    // The server knows for two minutes what it was sent before.
    writeSession(backup, {
      sessionId: 'of-the-backup',
      athleteId: 'marit-id',
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 8, 6, 18),
      title: '',
      holdsS: [40],
    });
    const back = await sendingHub('quay', backup);
    await expect.poll(() => heard.join(' ')).toContain('Marit');
    await expect.poll(() => onDiskOfNats()).toContain('"sessionId":"of-the-backup"');
    const school = await aSchool(first.archiveUrl);
    // With a new data folder it is another hub, until a person says that it is the same.
    expect(await school.archive.releaseName('quay', 'test')).toBe(true);
    await expect
      .poll(() => back.page.store.listSessions().map(({ session }) => session.sessionId), { timeout: 60_000 })
      .toEqual(['both-of-them']);
    await expect.poll(() => pendingOf(school)).toBe(0);
    expect(onDiskOfNats()).not.toContain('of-the-backup');
    await expectNothingOf(school, 'Marit', 'marit-id', 'alone-of-marit', 'of-the-backup');
    // And with its own memory of it, without the school, on the disk of before.
    await school.stop();
    await back.sender.close();
    heard.length = 0;
    const again = await sendingHub('quay', aStore('marit-id'), { dataFolder: back.dataFolder });
    await expect
      .poll(() => again.page.store.listSessions().map(({ session }) => session.sessionId))
      .toEqual(['both-of-them']);
    again.page.hub.addAthlete('Sana Whitlock');
    await expect.poll(() => heard.join(' ')).toContain('Sana Whitlock');
    expect(heard.join(' ')).not.toMatch(/Marit|alone-of-marit/);
  });

  test('what was put aside unread goes too, and of others it stays', async () => {
    const school = await aSchool();
    await sendingHub('quay', aStore('marit-id'));
    await untilKept(school, 2);
    for (const [hub, body] of [
      ['quay', 'of nobody knows whom'],
      ['basin', 'of another hub'],
    ] as const)
      await query(
        school.archiveUrl,
        `INSERT INTO refused (hub_id, kind, reason, content_key, body) VALUES ($1, 'told', 'unreadable', $2, $3)`,
        [hub, body, Buffer.from(body)],
      );
    await expect.poll(async () => (await personsOf(school)).length).toBeGreaterThan(1);
    expect((await erase(school, 'quay.marit-id')).status).toBe(201);
    expect(await query(school.archiveUrl, 'SELECT hub_id FROM refused')).toEqual([{ hub_id: 'basin' }]);
    // What comes unreadable from there now is counted, not kept.
    const connection = await connectNats(
      { url: servers.nats.url },
      { name: 'test', inboxPrefix: '_INBOX.test', keepTrying: false },
    );
    const { headers } = await import('@nats-io/transport-node');
    const { jetstream } = await import('@nats-io/jetstream');
    const named = headers();
    named.set(versionHeader, String(schoolVersion + 1));
    await jetstream(connection).publish(
      subjects.kept('test', { hub: 'quay', hubId: '0123456789abcdef01234567' }, 'told'),
      'Marit in another version',
      {
        headers: named,
      },
    );
    await connection.close();
    await expect
      .poll(() =>
        query(school.archiveUrl, `SELECT reason, length(body) AS n FROM refused WHERE hub_id = 'quay'`),
      )
      .toEqual([{ reason: 'otherVersion', n: 0 }]);
  });
});

describe('asked for at a hub', () => {
  test('who led is erased at that hub and in the archive; what is still on its way says nothing of them', async () => {
    const school = await aSchool();
    const store = aStore('marit-id');
    store.nameLeaders('both-of-them', [{ leaderId: 'runa-id', name: 'Runa Sjoholm' }]);
    const quay = await sendingHub('quay', store);
    await untilKept(school, 2);
    await school.stop();
    // Told once more, and not taken before it is erased.
    store.titleSession('both-of-them', 'Evening');
    await expect.poll(onDiskOfNats).toContain('both-of-them');
    const erased = await fetchAsOwn(`${quay.page.url}/api/athletes/runa-id?recordings=all`, {
      method: 'DELETE',
      headers: { origin: quay.page.url },
    });
    expect(erased.status).toBe(204);
    const again = await aSchool(school.archiveUrl);
    await expect.poll(() => standOf(again), { timeout: 60_000 }).toEqual([[['quay', true]]]);
    await expect.poll(() => pendingOf(again)).toBe(0);
    await expectNothingOf(again, 'Runa', 'runa-id');
    await expect.poll(async () => (await json(`${again.url}/api/recordings`)).foundCount).toBe(2);
  });

  test('the archive and the other hub follow, also when the school was away then', async () => {
    const first = await aSchool();
    const quay = await sendingHub('quay', aStore('marit-of-quay'));
    const basin = await sendingHub('basin', aStore('marit-of-basin'));
    await untilKept(first, 4);
    await expect.poll(async () => (await personsOf(first)).length).toBeGreaterThan(3);
    const both = { keptPersonId: 'quay.marit-of-quay', takenPersonId: 'basin.marit-of-basin' };
    expect((await post(`${first.url}/api/school/merges`, both)).status).toBe(200);
    await first.stop();
    const erased = await fetchAsOwn(`${quay.page.url}/api/athletes/marit-of-quay?recordings=all`, {
      method: 'DELETE',
      headers: { origin: quay.page.url },
    });
    expect(erased.status).toBe(204);
    const school = await aSchool(first.archiveUrl);
    await expect
      .poll(() => standOf(school), { timeout: 60_000 })
      .toEqual([
        [
          ['basin', true],
          ['quay', true],
        ],
      ]);
    expect((await erasuresOf(school))[0]).toMatchObject({ askedBy: '', askedAtRoom: 'Room quay' });
    expect(basin.page.store.listSessions().map(({ session }) => session.sessionId)).toEqual(['both-of-them']);
    await expectNothingOf(school, 'Marit', 'marit-of-quay', 'marit-of-basin', 'alone-of-marit');
  });
});

async function pendingOf(school: School): Promise<unknown> {
  return (await json(`${school.url}/api/school/health`)).pendingCount;
}

/** Everything that hubs send to be kept from now on, as text. */
async function hearKept(): Promise<string[]> {
  const connection = await connectNats(
    { url: servers.nats.url },
    { name: 'test', inboxPrefix: '_INBOX.test', keepTrying: false },
  );
  opened({ close: () => connection.close() });
  const heard: string[] = [];
  connection.subscribe(subjects.everyKept('test'), {
    callback: (error, message) => {
      if (error !== null) return;
      const text = Buffer.from(message.data);
      const end = 4 + text.readUInt32LE(0);
      heard.push(
        text.subarray(4, end).toString('utf8'),
        JSON.stringify(unpackJson(text.subarray(end)) ?? ''),
      );
    },
  });
  await connection.flush();
  return heard;
}
