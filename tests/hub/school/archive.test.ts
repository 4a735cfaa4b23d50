// Recordings of hubs in a school's archive, through a real message server and a real database: each packet once, whatever
// is stopped, killed, lost or put back in between.

import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test, vi } from 'vitest';
import { decodeChunk, packetsOf } from '../../../hub/recorder/packet-chunk.ts';
import { openSqliteStore, openStoreInMemory, type SqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';
import {
  archivedPackets,
  type SendingHub,
  startSending,
  startTaking,
  type TakingSchool,
} from '../../support/school/sending-hub.ts';
import { query } from '../../support/school/servers.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { writeSession } from '../../support/written-sessions.ts';

// Servers are started, killed and recover: a loaded machine takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const servers = serversInTest('sending');
const { newFolder, opened } = servers;

const send = async (hub: string, store: SqliteStore, dataFolder = newFolder()): Promise<SendingHub> =>
  opened(await startSending({ natsUrl: servers.nats.url, hub, store, dataFolder }));
const take = async (archiveUrl: string): Promise<TakingSchool> =>
  opened(await startTaking({ natsUrl: servers.nats.url, archiveUrl }));

function storeWith(...sessionIds: readonly string[]): SqliteStore {
  const store = opened(openStoreInMemory());
  sessionIds.forEach((sessionId, i) => {
    writeSession(store, {
      sessionId,
      athleteId: `ath-${sessionId}`,
      athleteName: `Athlete of ${sessionId}`,
      startedWallAtMs: Date.UTC(2026, 9 + (i % 3), 4, 10),
      title: `Evening ${sessionId}`,
      holdsS: [60, 75],
      seed: i + 1,
    });
  });
  return store;
}

const packetsIn = (store: SqliteStore, sessionId: string): number => [...store.readPackets(sessionId)].length;

async function untilWhole(
  archiveUrl: string,
  hub: string,
  store: SqliteStore,
  sessionId: string,
): Promise<void> {
  await expect
    .poll(() => archivedPackets(archiveUrl, hub, sessionId))
    .toEqual({ count: packetsIn(store, sessionId), gaps: 0, doubles: 0 });
}

describe('what two hubs recorded', () => {
  test('is in the archive whole: packets to the byte, holds as rows, a table a month', async () => {
    const url = await servers.postgres.createDatabase();
    await take(url);
    const [one, two] = [storeWith('s1', 's2'), storeWith('s3')];
    await send('quay', one);
    await send('basin', two);
    await untilWhole(url, 'quay', one, 's1');
    await untilWhole(url, 'quay', one, 's2');
    await untilWhole(url, 'basin', two, 's3');
    const rows = await query<{ body: Buffer }>(
      url,
      `SELECT body FROM segments WHERE hub_id = 'quay' AND session_id = 's1' ORDER BY first_packet`,
    );
    const kept = rows.flatMap(({ body }) => {
      const chunk = decodeChunk(body);
      return chunk.ok ? [...packetsOf(chunk.value)] : [];
    });
    expect(kept).toEqual(
      [...one.readPackets('s1')].map((packet) => ({ ...packet, bytes: expect.any(Uint8Array) })),
    );
    expect(Buffer.concat(kept.map(({ bytes }) => bytes))).toEqual(
      Buffer.concat([...one.readPackets('s1')].map(({ bytes }) => bytes)),
    );
    await expect
      .poll(() =>
        query(url, 'SELECT hub_id, session_id, count(*)::int AS holds FROM holds GROUP BY 1, 2 ORDER BY 2'),
      )
      .toEqual([
        { hub_id: 'quay', session_id: 's1', holds: 2 },
        { hub_id: 'quay', session_id: 's2', holds: 2 },
        { hub_id: 'basin', session_id: 's3', holds: 2 },
      ]);
    const tables = await query<{ name: string }>(
      url,
      `SELECT relname AS name FROM pg_class WHERE relname LIKE 'segments\\_20%' AND relkind = 'r' ORDER BY 1`,
    );
    expect(tables.map(({ name }) => name)).toEqual(['segments_2026_10', 'segments_2026_11']);
  });

  test('waits in the stream while no school runs, and is known when it comes twice', async () => {
    const url = await servers.postgres.createDatabase();
    const first = await take(url);
    await first.close();
    const store = storeWith('s1');
    const dataFolder = newFolder();
    const sending = await send('quay', store, dataFolder);
    await expect.poll(() => sending.state()?.isCaughtUp).toBe(true);
    await sending.close();
    // The cursor is lost: everything is sent again.
    rmSync(join(dataFolder, 'school-cursor.db'), { force: true });
    rmSync(join(dataFolder, 'school-cursor.db-wal'), { force: true });
    const again = await send('quay', store, dataFolder);
    await expect.poll(() => again.state()?.isCaughtUp).toBe(true);
    await take(url);
    await untilWhole(url, 'quay', store, 's1');
  });
});

describe('a recording that grows', () => {
  test('comes by the piece, however it is cut, and goes on after the hub was killed', async () => {
    const url = await servers.postgres.createDatabase();
    await take(url);
    const directory = newFolder();
    const store = opened(openSqliteStore({ directory, sealAtBytes: 2_000 }));
    writeSession(store, {
      sessionId: 'grows',
      athleteId: 'ath-1',
      athleteName: 'Growing',
      startedWallAtMs: Date.UTC(2026, 10, 30, 9),
      title: '',
      holdsS: [],
      ended: false,
    });
    store.commit();
    const sending = await send('quay', store, directory);
    const append = (from: number, count: number): void => {
      for (let i = from; i < from + count; i++)
        store.appendPacket('grows', {
          sensorId: 'strap-ath-1',
          characteristic: '2a37',
          bytes: Uint8Array.of(0, 60 + (i % 20)),
          atMs: monotonicMs(100_000 + i * 10),
          wallAtMs: wallMs(Date.UTC(2026, 10, 30, 9) + 100_000 + i * 10),
        });
      store.commit();
    };
    const covered = async (): Promise<number> =>
      Number((await query<{ covered: string }>(url, 'SELECT covered FROM coverage'))[0]?.covered ?? 0);
    await expect.poll(covered).toBe(packetsIn(store, 'grows'));
    append(0, 40);
    await expect.poll(covered).toBe(packetsIn(store, 'grows'));
    // What was acknowledged is not known to the next process, which cuts it otherwise.
    await sending.close();
    append(40, 70);
    for (const ending of ['', '-wal', '-shm'])
      rmSync(join(directory, `school-cursor.db${ending}`), { force: true });
    await send('quay', store, directory);
    append(110, 10);
    store.endSession('grows', monotonicMs(110_000));
    await untilWhole(url, 'quay', store, 'grows');
    await expect
      .poll(() => query(url, 'SELECT status, packet_count::int FROM sessions'))
      .toEqual([{ status: 'ended', packet_count: packetsIn(store, 'grows') }]);
  });
});

describe('what fails in between', () => {
  test('the message server killed, the database killed, the school stopped: nothing is lost', async () => {
    const url = await servers.postgres.createDatabase();
    const school = await take(url);
    const store = storeWith('s1', 's2');
    await send('quay', store);
    await servers.nats.stop('SIGKILL');
    await servers.nats.start();
    await untilWhole(url, 'quay', store, 's1');
    await servers.postgres.stop('SIGKILL');
    writeSession(store, {
      sessionId: 's9',
      athleteId: 'ath-9',
      athleteName: 'Ninth',
      startedWallAtMs: Date.UTC(2026, 10, 9, 9),
      title: '',
      holdsS: [50],
    });
    await expect.poll(() => school.state().fault?.code).toBe('school.archiveAway');
    await servers.postgres.start();
    await untilWhole(url, 'quay', store, 's2');
    await untilWhole(url, 'quay', store, 's9');
    expect(school.state().counts.refused).toBe(0);
  });

  test('an archive put back from an earlier backup gets again what it lacks', async () => {
    const url = await servers.postgres.createDatabase();
    const school = await take(url);
    const store = storeWith('s1', 's2');
    const dataFolder = newFolder();
    const sending = await send('quay', store, dataFolder);
    await untilWhole(url, 'quay', store, 's2');
    await expect.poll(() => sending.state()?.isCaughtUp).toBe(true);
    await sending.close();
    await school.close();
    const empty = await servers.postgres.createDatabase();
    await take(empty);
    await send('quay', store, dataFolder);
    await untilWhole(empty, 'quay', store, 's1');
    await untilWhole(empty, 'quay', store, 's2');
    await expect.poll(() => query(empty, 'SELECT count(*)::int AS n FROM holds')).toEqual([{ n: 4 }]);
  });

  test('somebody erased on the hub: the recording comes anew without them', async () => {
    const url = await servers.postgres.createDatabase();
    await take(url);
    const store = opened(openStoreInMemory());
    writeSession(store, {
      sessionId: 'both',
      athleteId: 'ath-1',
      athleteName: 'One',
      startedWallAtMs: Date.UTC(2026, 10, 3, 9),
      title: '',
      holdsS: [50],
      others: [{ athleteId: 'ath-2', athleteName: 'Two' }],
    });
    await send('quay', store);
    await untilWhole(url, 'quay', store, 'both');
    store.eraseAthlete('ath-2');
    await untilWhole(url, 'quay', store, 'both');
    await expect
      .poll(() => query(url, 'SELECT shown_generation, athlete_ids FROM sessions'))
      .toEqual([{ shown_generation: 1, athlete_ids: ['ath-1'] }]);
    expect(await query(url, 'SELECT count(*)::int AS n FROM segments WHERE generation = 0')).toEqual([
      { n: 0 },
    ]);
    expect(await query(url, 'SELECT DISTINCT athlete_id FROM holds')).toEqual([{ athlete_id: 'ath-1' }]);
  });
});
