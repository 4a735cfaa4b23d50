// What may be wrong between a hub and its school: each is said in a sentence, keeps nothing else from being sent, and loses
// nothing. Real servers.

import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { jetstream } from '@nats-io/jetstream';
import { headers } from '@nats-io/transport-node';
import { describe, expect, test, vi } from 'vitest';
import { readConfig } from '../../../hub/base/config.ts';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { openStoreInMemory, type SqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { bootSchool } from '../../../hub/school/boot-school.ts';
import { connectNats } from '../../../hub/school/nats/connect.ts';
import { hubIdIn } from '../../../hub/school/publish/hub-id.ts';
import { said } from '../../../shared/said.ts';
import { versionHeader } from '../../../shared/school/school-version.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import { wallMs } from '../../../shared/units.ts';
import { archivedPackets, startSending, startTaking } from '../../support/school/sending-hub.ts';
import { query, startNats } from '../../support/school/servers.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { writeSession } from '../../support/written-sessions.ts';

// Servers are started, killed and recover: a loaded machine takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const servers = serversInTest('refusals');
const { newFolder, opened } = servers;

function storeWith(...sessionIds: readonly string[]): SqliteStore {
  const store = opened(openStoreInMemory());
  sessionIds.forEach((sessionId, i) => {
    writeSession(store, {
      sessionId,
      athleteId: `ath-${sessionId}`,
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 9, 4 + i, 10),
      title: `Evening ${sessionId}`,
      holdsS: [60, 75],
      seed: i + 1,
    });
  });
  return store;
}

const packetsIn = (store: SqliteStore, sessionId: string): number => [...store.readPackets(sessionId)].length;
async function untilWhole(url: string, store: SqliteStore, sessionId: string): Promise<void> {
  await expect
    .poll(() => archivedPackets(url, 'quay', sessionId))
    .toEqual({ count: packetsIn(store, sessionId), gaps: 0, doubles: 0 });
}

describe('at the hub', () => {
  test('a damaged cursor is put aside and made anew of what the archive has: said, and nothing is sent twice', async () => {
    const url = await servers.postgres.createDatabase();
    opened(await startTaking({ natsUrl: servers.nats.url, archiveUrl: url }));
    const store = storeWith('s1', 's2');
    const dataFolder = newFolder();
    const settings = { natsUrl: servers.nats.url, hub: 'quay', store, dataFolder };
    const first = await startSending(settings);
    await untilWhole(url, store, 's1');
    await untilWhole(url, store, 's2');
    await expect.poll(() => first.state()?.isCaughtUp).toBe(true);
    await first.close();
    const path = join(dataFolder, 'school-cursor.db');
    const bytes = readFileSync(path);
    bytes.fill(0x5a, 100, Math.min(bytes.length, 9_000));
    writeFileSync(path, bytes);
    const again = opened(await startSending(settings));
    await expect.poll(() => again.state()?.isCaughtUp).toBe(true);
    expect(again.state()?.fault).toBe(null);
    expect(again.state()?.notices).toEqual([said('school.cursorDamaged', { path: `${path}.damaged` })]);
    expect(existsSync(`${path}.damaged`)).toBe(true);
    expect(again.state()?.sentSegmentCount).toBe(0);
    expect(await query(url, 'SELECT count(*)::int AS n FROM coverage')).toEqual([{ n: 2 }]);
    writeSession(store, {
      sessionId: 's3',
      athleteId: 'ath-3',
      athleteName: 'Third',
      startedWallAtMs: Date.UTC(2026, 9, 9, 10),
      title: '',
      holdsS: [50],
    });
    await untilWhole(url, store, 's3');
  });

  test('what the server takes no message of is cut smaller, or set aside with a sentence; the rest goes on', async () => {
    const small = await startNats('max_payload: 6000');
    opened({ close: () => small.stop() });
    const url = await servers.postgres.createDatabase();
    opened(await startTaking({ natsUrl: small.url, archiveUrl: url }));
    const store = storeWith();
    for (const sessionId of ['s1', 's2'])
      writeSession(store, {
        sessionId,
        athleteId: `ath-${sessionId}`,
        athleteName: 'Marit Oduya',
        startedWallAtMs: Date.UTC(2026, 9, 4, sessionId === 's1' ? 10 : 12),
        title: '',
        holdsS: [60],
        // Ten bytes of a pulse wave ten times a second.
        wave: sessionId === 's1',
      });
    // What was noted takes more than the server does; random letters, so that they do not pack to nothing.
    for (let i = 0; i < 200; i++)
      store.saveMark('s1', {
        mark: {
          markId: `m${i}`,
          athleteId: 'ath-s1',
          kind: 'note',
          atMs: 1_000 * i,
          text: Array.from({ length: 40 }, (_, n) => ((n * 7919 + i * 104_729) % 9_973).toString(36)).join(
            '',
          ),
        } as never,
        removed: false,
      });
    const sending = opened(
      await startSending({ natsUrl: small.url, hub: 'quay', store, dataFolder: newFolder() }),
    );
    await untilWhole(url, store, 's2');
    await expect
      .poll(() => sending.state()?.setAside.map(({ why }) => why.code))
      .toEqual(['school.toldTooLarge']);
    expect(sending.state()?.fault).toBe(null);
    expect(sending.state()?.setAside[0]?.sinceWallMs).toBeGreaterThan(Date.UTC(2026, 0, 1));
    // Its packets are there all the same, in more pieces than one.
    await expect
      .poll(() =>
        query(
          url,
          `SELECT sum(packet_count)::int AS packets, count(*) > 1 AS pieces FROM segments WHERE session_id = 's1'`,
        ),
      )
      .toEqual([{ packets: packetsIn(store, 's1'), pieces: true }]);
    await expect
      .poll(() => query(url, `SELECT status FROM sessions WHERE session_id = 's2'`))
      .toEqual([{ status: 'ended' }]);
  });

  test('a school of another version: told, nothing is sent meanwhile, and all of it when they agree', async () => {
    const store = storeWith('s1');
    const dataFolder = newFolder();
    const newer = await connectNats(
      { url: servers.nats.url },
      { name: 'newer', inboxPrefix: '_INBOX.school', keepTrying: false },
    );
    newer.subscribe(subjects.everyAsk('test'), {
      callback: (_error, message) => {
        const { version } = message.json<{ version: number }>();
        message.respond(
          JSON.stringify({
            version: 99,
            refused: said('school.otherVersion', { hub: version, school: 99 }),
            notice: null,
          }),
        );
      },
    });
    await newer.flush();
    const settings = { natsUrl: servers.nats.url, hub: 'quay', store, dataFolder };
    const refused = await startSending(settings);
    await expect
      .poll(() => [refused.state()?.link, refused.state()?.fault?.why.code])
      .toEqual(['refused', 'school.otherVersion']);
    expect(refused.state()?.sentSegmentCount).toBe(0);
    await refused.close();
    await newer.close();
    const url = await servers.postgres.createDatabase();
    opened(await startTaking({ natsUrl: servers.nats.url, archiveUrl: url }));
    opened(await startSending(settings));
    await untilWhole(url, store, 's1');
  });

  test('a clock an hour off: told at the hub, and everything is kept', async () => {
    const url = await servers.postgres.createDatabase();
    const anHourLater = { ...systemClock, wallNowMs: () => wallMs(systemClock.wallNowMs() + 3_600_000) };
    opened(await startTaking({ natsUrl: servers.nats.url, archiveUrl: url, clock: anHourLater }));
    const store = storeWith('s1');
    const sending = opened(
      await startSending({ natsUrl: servers.nats.url, hub: 'quay', store, dataFolder: newFolder() }),
    );
    await expect.poll(() => sending.state()?.notices).toEqual([said('school.clockOff', { minutes: 60 })]);
    await untilWhole(url, store, 's1');
    expect(sending.state()?.fault).toBe(null);
  });
});

describe('at the school', () => {
  test('a message of another version is put aside as it came, with why; what comes after it is kept', async () => {
    const url = await servers.postgres.createDatabase();
    const school = opened(await startTaking({ natsUrl: servers.nats.url, archiveUrl: url }));
    const store = storeWith('s1');
    const dataFolder = newFolder();
    const who = { hub: 'quay', hubId: hubIdIn(dataFolder) };
    const other = await connectNats(
      { url: servers.nats.url },
      { name: 'other', inboxPrefix: subjects.inbox('quay'), keepTrying: false },
    );
    const versioned = headers();
    versioned.set(versionHeader, '99');
    await jetstream(other).publish(subjects.kept('test', who, 'told'), 'of another time', {
      headers: versioned,
    });
    await other.close();
    await expect.poll(() => school.state().counts.refused).toBe(1);
    opened(await startSending({ natsUrl: servers.nats.url, hub: 'quay', store, dataFolder }));
    await untilWhole(url, store, 's1');
    expect(
      await query(url, `SELECT hub_id, kind, reason, convert_from(body, 'UTF8') AS body FROM refused`),
    ).toEqual([{ hub_id: 'quay', kind: 'told', reason: 'otherVersion', body: 'of another time' }]);
  });

  test('wrong user or password, a message server or an archive that is away: it does not start, and says why', async () => {
    const locked = await startNats(
      'authorization { users: [ { user: "school", password: "of-the-school" } ] }',
    );
    opened({ close: () => locked.stop() });
    const archiveUrl = await servers.postgres.createDatabase();
    const start = (...argv: readonly string[]) => {
      const { config } = readConfig(['--log', 'silent', ...argv], {});
      return bootSchool({ ...config, data: newFolder(), port: 0 }, '/nonexistent');
    };
    for (const [argv, code] of [
      [
        [
          '--school',
          locked.url,
          '--school-user',
          'school',
          '--school-password',
          'wrong',
          '--archive',
          archiveUrl,
        ],
        'school.serverAway',
      ],
      [['--school', 'nats://127.0.0.1:1', '--archive', archiveUrl], 'school.serverAway'],
      [
        ['--school', servers.nats.url, '--archive', 'postgres://school@127.0.0.1:1/archive'],
        'school.archiveAway',
      ],
      [['--school', servers.nats.url], 'school.needsArchive'],
      [['--archive', archiveUrl], 'school.needsServer'],
    ] as const)
      await expect(start(...argv), argv.join(' ')).rejects.toMatchObject({ said: { code } });
  });

  test('the same name twice, at one hub and at another, stays three people', async () => {
    const url = await servers.postgres.createDatabase();
    opened(await startTaking({ natsUrl: servers.nats.url, archiveUrl: url }));
    const one = storeWith('s1', 's2');
    const other = storeWith('s1');
    opened(
      await startSending({ natsUrl: servers.nats.url, hub: 'quay', store: one, dataFolder: newFolder() }),
    );
    opened(
      await startSending({ natsUrl: servers.nats.url, hub: 'basin', store: other, dataFolder: newFolder() }),
    );
    await expect
      .poll(() =>
        query(url, 'SELECT name, count(DISTINCT person_id)::int AS people FROM athletes GROUP BY 1'),
      )
      .toEqual([{ name: 'Marit Oduya', people: 3 }]);
    await untilWhole(url, one, 's1');
    await untilWhole(url, one, 's2');
  });

  test.skipIf(!canMount())(
    'a full disk of the archive: said, the hub keeps sending into the stream, and all arrives when there is room',
    async () => {
      const place = mkdtempSync(join(tmpdir(), 'slackwater-disk-'));
      execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=12m,mode=0700,uid=65534,gid=65534', 'none', place]);
      opened({ close: () => execFileSync('umount', ['-l', place]) });
      const url = await servers.postgres.createDatabase();
      const name = url.split('/').at(-1)!;
      await query(servers.postgres.url, `CREATE TABLESPACE small_${name} LOCATION '${place}'`);
      await query(servers.postgres.url, `ALTER DATABASE ${name} SET TABLESPACE small_${name}`);
      const school = opened(await startTaking({ natsUrl: servers.nats.url, archiveUrl: url }));
      await query(
        url,
        'CREATE TABLE ballast AS SELECT repeat(md5(random()::text), 60) AS what FROM generate_series(1, 1)',
      );
      for (;;) {
        try {
          await query(
            url,
            'INSERT INTO ballast SELECT repeat(md5(random()::text), 60) FROM generate_series(1, 60)',
          );
        } catch (error) {
          expect((error as { code?: string }).code).toBe('53100');
          break;
        }
      }
      const store = storeWith('s1', 's2');
      const sending = opened(
        await startSending({ natsUrl: servers.nats.url, hub: 'quay', store, dataFolder: newFolder() }),
      );
      await expect.poll(() => school.state().fault).toEqual(said('school.archiveFull'));
      await expect.poll(() => sending.state()?.isCaughtUp).toBe(true);
      execFileSync('mount', ['-o', 'remount,size=96m', place]);
      await untilWhole(url, store, 's1');
      await untilWhole(url, store, 's2');
      await expect.poll(() => school.state().fault).toBe(null);
      expect(school.state().counts.refused).toBe(0);
      await school.close();
      await query(servers.postgres.url, `DROP DATABASE ${name}`);
      await query(servers.postgres.url, `DROP TABLESPACE small_${name}`);
    },
  );
});

/** A small disk of its own takes the right to mount one. */
function canMount(): boolean {
  const place = mkdtempSync(join(tmpdir(), 'slackwater-mount-'));
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=1m', 'none', place], { stdio: 'ignore' });
    execFileSync('umount', [place]);
    return true;
  } catch {
    return false;
  } finally {
    rmSync(place, { recursive: true, force: true, maxRetries: 5 });
  }
}
