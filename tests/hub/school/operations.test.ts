// Running a school: its figures for a monitoring program and its health, read by the format's reference parser; backup and
// restore by PostgreSQL's own programs, after which hubs send what the backup lacks.

import { execFile, execFileSync } from 'node:child_process';
import { chmodSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { expect, test, vi } from 'vitest';
import { openSqliteStore, type SqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { openArchive } from '../../../hub/school/archive/archive.ts';
import { archiveFault } from '../../../hub/school/archive/intake.ts';
import { connectNats } from '../../../hub/school/nats/connect.ts';
import { schoolHealthBodySchema } from '../../../shared/school/pages.ts';
import { fetchAsOwn } from '../../support/own-person.ts';
import { archivedPackets, startSending } from '../../support/school/sending-hub.ts';
import { serveSchool } from '../../support/school/served-school.ts';
import { query, startNats } from '../../support/school/servers.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { writeSession } from '../../support/written-sessions.ts';

// Servers are started, killed and recover: a loaded machine takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const run = promisify(execFile);
const servers = serversInTest('operations');
const { folder, newFolder, opened } = servers;

function record(store: SqliteStore, ...sessionIds: readonly string[]): void {
  for (const [i, sessionId] of sessionIds.entries())
    writeSession(store, {
      sessionId,
      athleteId: 'ath-1',
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 9, 4 + i, 10),
      title: sessionId,
      holdsS: [60, 75],
      seed: i + 1,
    });
}

const sending = async (hub: string, store: SqliteStore, dataFolder: string) =>
  opened(await startSending({ natsUrl: servers.nats.url, hub, room: `Room of ${hub}`, store, dataFolder }));

const packetsIn = (store: SqliteStore, sessionId: string): number => [...store.readPackets(sessionId)].length;

const untilWhole = (url: string, hub: string, store: SqliteStore, sessionId: string): Promise<void> =>
  expect
    .poll(() => archivedPackets(url, hub, sessionId))
    .toEqual({ count: packetsIn(store, sessionId), gaps: 0, doubles: 0 });

const archiveFaultCode = (error: unknown): string => archiveFault(error).code;

interface Sample {
  readonly name: string;
  readonly labels: Readonly<Record<string, string>>;
  readonly value: number;
}

/** By prometheus_client of Debian, whose OpenMetrics parser is the reference implementation; it throws for what is not in order. */
function parsed(text: string): Sample[] {
  const program = `import sys,json
from prometheus_client.openmetrics.parser import text_string_to_metric_families as read
print(json.dumps([dict(name=s.name,labels=s.labels,value=s.value) for f in read(sys.stdin.read()) for s in f.samples]))`;
  return JSON.parse(execFileSync('/usr/bin/python3', ['-c', program], { input: text, encoding: 'utf8' }));
}

test('figures and health of a school by hub: heard, waiting, kept, put aside; while the database is away too', async () => {
  const archiveUrl = await servers.postgres.createDatabase();
  const school = opened(
    await serveSchool({ natsUrl: servers.nats.url, archiveUrl, dataFolder: newFolder() }),
  );
  const dataFolder = newFolder();
  const store = opened(openSqliteStore({ directory: dataFolder }));
  record(store, 's1');
  await sending('quay', store, dataFolder);
  await untilWhole(archiveUrl, 'quay', store, 's1');
  await query(
    archiveUrl,
    `INSERT INTO refused (hub_id, kind, reason, content_key, body) VALUES ('basin', 'told', 'of another version', 'k', '')`,
  );
  const health = async () =>
    schoolHealthBodySchema.parse(await (await fetchAsOwn(`${school.url}/api/school/health`)).json());
  const ask = async () => {
    const answer = await fetch(`${school.url}/metrics`);
    expect(answer.headers.get('content-type')).toContain('application/openmetrics-text');
    const text = await answer.text();
    const samples = parsed(text);
    const of = (name: string, label?: string): number | undefined =>
      samples.find(
        (each) =>
          each.name === `slackwater_${name}` &&
          (label === undefined || Object.values(each.labels).includes(label)),
      )?.value;
    return { text, of };
  };
  await expect.poll(async () => (await health()).pendingCount).toBe(0);
  // Who is who is read anew every second.
  await expect.poll(async () => (await health()).hubs[0]?.name).toBe('Room of quay');

  const well = await health();
  expect(well).toMatchObject({ ok: true, fault: null, serverConnected: true, archiveReached: true });
  expect(well.archiveBytes).toBeGreaterThan(1e6);
  expect(well.diskFreeBytes).toBeGreaterThan(1e6);
  expect(well.stream).toEqual({ bytes: 0, mostBytes: 4 * 2 ** 30 });
  const [quay, basin] = well.hubs;
  expect(quay).toMatchObject({ hub: 'quay', name: 'Room of quay', waitingCount: 0, refusedCount: 0 });
  expect(Math.abs(Date.now() - (quay?.keptAtWallMs ?? 0))).toBeLessThan(120_000);
  expect(basin).toMatchObject({ hub: 'basin', isSilent: true, heardAtWallMs: null, refusedCount: 1 });
  const { of, text } = await ask();
  expect(of('school_taking')).toBe(1);
  expect(of('school_messages_total', 'kept')).toBe(well.keptCount);
  expect(well.keptCount).toBeGreaterThan(1);
  expect(of('school_hub_waiting', 'quay')).toBe(0);
  expect(of('school_hub_refused', 'basin')).toBe(1);
  expect(of('school_archive_bytes')).toBeGreaterThan(1e6);
  for (const word of ['Marit', 'ath-1']) expect(text).not.toContain(word);

  await servers.postgres.stop('SIGKILL');
  record(store, 's2');
  await expect.poll(async () => (await ask()).of('school_hub_waiting', 'quay')).toBeGreaterThan(0);
  const away = await ask();
  expect(away.of('school_archive_reached')).toBe(0);
  expect(away.of('school_taking')).toBe(0);
  expect(away.of('school_archive_bytes')).toBeUndefined();
  await expect.poll(async () => (await health()).fault?.code).toBe('school.archiveAway');
  const without = await health();
  expect(without).toMatchObject({ ok: false, archiveReached: false, serverConnected: true });
  expect(without.hubs[0]).toMatchObject({ hub: 'quay', keptAtWallMs: null, refusedCount: null });
  await servers.postgres.start();
  await untilWhole(archiveUrl, 'quay', store, 's2');
  await expect.poll(async () => (await ask()).of('school_taking')).toBe(1);
});

test('a database that dies between two statements of a transaction, or answers nothing any more, ends nothing here', async () => {
  const url = await servers.postgres.createDatabase();
  const archive = opened(await openArchive({ url, answerWithinMs: 1_000 }));
  const client = await archive.pool.connect();
  await client.query('BEGIN');
  await servers.postgres.stop('SIGKILL');
  // Unheard, the client's error would fail this test as it ended the school.
  await expect
    .poll(() => client.query('SELECT 1').then(() => 'answered', archiveFaultCode))
    .toBe('school.archiveAway');
  client.release(true);
  await servers.postgres.start();

  const { rows } = await archive.pool.query<{ pid: number }>('SELECT pg_backend_pid() AS pid');
  const backend = rows[0]!.pid;
  process.kill(backend, 'SIGSTOP');
  const message = { subject: 'slackwater.test.from.quay.kept.told', version: '0', bytes: Uint8Array.of(1) };
  expect(await archive.keep([message]).then(() => 'kept', archiveFaultCode)).toBe('school.archiveAway');
  process.kill(backend, 'SIGCONT');
  expect(await archive.keep([message])).toEqual({ kept: 0, known: 0, refused: 1 });
});

test('a message server named by its address is known by a certificate of that address, and by no other', async () => {
  const certificates = newFolder();
  const openssl = (...args: readonly string[]) =>
    execFileSync('openssl', args, { cwd: certificates, stdio: 'pipe' });
  const made = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2'];
  for (const [name, address] of [
    ['own', '127.0.0.1'],
    ['other', '192.0.2.7'],
  ] as const) {
    const extension = `subjectAltName=IP:${address}`;
    openssl(
      'req',
      '-x509',
      ...made,
      '-subj',
      `/CN=${name}`,
      '-addext',
      extension,
      '-keyout',
      `${name}.key`,
      '-out',
      `${name}.pem`,
    );
    const [certificate, key] = [join(certificates, `${name}.pem`), join(certificates, `${name}.key`)];
    // The server runs as another user where the test is root.
    chmodSync(key, 0o644);
    chmodSync(certificates, 0o755);
    chmodSync(folder, 0o755);
    const server = await startNats(`tls { cert_file: "${certificate}", key_file: "${key}" }`);
    opened({ close: () => server.stop() });
    const access = { url: server.url.replace('nats:', 'tls:'), authorityFile: certificate };
    const connecting = connectNats(access, { name, inboxPrefix: '_INBOX.test', keepTrying: false });
    const outcome = connecting.then(
      async (connection) => {
        await connection.close();
        return 'connected';
      },
      (error: unknown) => String(error),
    );
    if (name === 'own') expect(await outcome).toBe('connected');
    else expect(await outcome).toMatch(/altnames/);
  }
});

test('dumped while hubs send, dropped, restored: hubs send what it lacks, and both sides are equal by another reader', async () => {
  const archiveUrl = await servers.postgres.createDatabase();
  const address = new URL(archiveUrl);
  const database = address.pathname.slice(1);
  const from = ['-h', address.hostname, '-p', address.port, '-U', address.username];
  const program = (name: string): string => join(servers.postgres.programs, name);
  const first = await serveSchool({ natsUrl: servers.nats.url, archiveUrl, dataFolder: newFolder() });
  const folders = { quay: newFolder(), basin: newFolder() };
  const stores = {
    quay: opened(openSqliteStore({ directory: folders.quay })),
    basin: opened(openSqliteStore({ directory: folders.basin })),
  };
  record(stores.quay, 's1', 's2');
  record(stores.basin, 's1');
  const hubs = [
    await sending('quay', stores.quay, folders.quay),
    await sending('basin', stores.basin, folders.basin),
  ];
  await untilWhole(archiveUrl, 'quay', stores.quay, 's1');
  const backup = join(newFolder(), 'archive.dump');
  // Whatever has come by then: a dump is of one moment.
  await run(program('pg_dump'), [...from, '--format=custom', `--file=${backup}`, database]);
  record(stores.quay, 's3');
  record(stores.basin, 's2', 's4');
  await untilWhole(archiveUrl, 'quay', stores.quay, 's3');
  await untilWhole(archiveUrl, 'basin', stores.basin, 's4');
  await expect.poll(() => hubs.every(({ state }) => state()?.isCaughtUp)).toBe(true);
  for (const hub of hubs) await hub.close();
  await first.close();

  await run(program('dropdb'), [...from, database]);
  await run(program('createdb'), [...from, database]);
  await run(program('pg_restore'), [...from, '--exit-on-error', `--dbname=${database}`, backup]);
  const sessions = await query(archiveUrl, `SELECT 1 FROM sessions WHERE session_id = 's3'`);
  expect(sessions).toEqual([]);

  opened(await serveSchool({ natsUrl: servers.nats.url, archiveUrl, dataFolder: newFolder() }));
  await sending('quay', stores.quay, folders.quay);
  await sending('basin', stores.basin, folders.basin);
  await untilWhole(archiveUrl, 'quay', stores.quay, 's3');
  await untilWhole(archiveUrl, 'basin', stores.basin, 's4');
  await untilWhole(archiveUrl, 'basin', stores.basin, 's2');
  await expect
    .poll(() => query(archiveUrl, `SELECT count(*)::int AS n FROM holds`))
    .toEqual([{ n: 2 * (3 + 3) }]);
  stores.quay.close();
  stores.basin.close();
  const { stdout } = await run('/usr/bin/python3', [
    join(import.meta.dirname, '../../foreign/read-school.py'),
    ['psql', ...from, '-d', database].join(' '),
    `quay=${folders.quay}`,
    `basin=${folders.basin}`,
  ]);
  const both = JSON.parse(stdout);
  expect(both.differences).toEqual([]);
  expect(both.hubs.quay).toMatchObject({ sessions: 3, gaps: 0, doubles: 0 });
  expect(both.hubs.basin).toMatchObject({ sessions: 3, gaps: 0, doubles: 0 });
  expect(both.hubs.quay.packetsInArchive).toBeGreaterThan(100);
});
