// Who may write and hear what on a school's message server, by really trying; and what a hub with wrong words is told.

import { execFileSync } from 'node:child_process';
import {
  chmodSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import type { NatsConnection } from '@nats-io/transport-node';
import { describe, expect, test, vi } from 'vitest';
import type { CommandIo } from '../../../hub/base/command-io.ts';
import { readConfig } from '../../../hub/base/config.ts';
import { runSchool } from '../../../hub/commands/school.ts';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import { openArchive } from '../../../hub/school/archive/archive.ts';
import { checkArchiveAddress } from '../../../hub/school/archive/archive-address.ts';
import { bootSchool } from '../../../hub/school/boot-school.ts';
import { checkAccess, connectNats } from '../../../hub/school/nats/connect.ts';
import { serverConfig } from '../../../hub/school/nats/server-config.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import { startSending, startTaking } from '../../support/school/sending-hub.ts';
import { query, startNats } from '../../support/school/servers.ts';
import { serversInTest } from '../../support/school/servers-in-test.ts';
import { writeSession } from '../../support/written-sessions.ts';

// Servers are started and stopped: a loaded machine takes its time.
vi.setConfig({ testTimeout: 240_000, hookTimeout: 120_000 });

const own = { hub: 'quay', hubId: '0123456789abcdef01234567' };
const basin = { hub: 'basin', hubId: '76543210fedcba9876543210' };

/** Less what names an address and a folder, which are the test's own. */
const settingsOf = (written: string): string =>
  written
    .split('\n')
    .filter((line) => !/^(listen|jetstream)/.test(line))
    .join('\n');

const servers = serversInTest(
  'rights',
  settingsOf(
    serverConfig({
      school: 'test',
      owner: { name: 'school', password: 'of-the-school' },
      hubs: [
        { name: 'quay', password: 'of-the-quay' },
        { name: 'basin', password: 'of-the-basin' },
      ],
      storeFolder: '/nonexistent',
      storeGigabytes: 1,
      port: 0,
    }),
  ),
);
const { folder, newFolder, opened } = servers;

async function as(
  user: string,
): Promise<{ readonly connection: NatsConnection; readonly refusals: string[] }> {
  const connection = await connectNats(
    { url: servers.nats.url, user, password: `of-the-${user}` },
    { name: user, inboxPrefix: subjects.inbox(user), keepTrying: false },
  );
  opened(connection);
  const refusals: string[] = [];
  void (async () => {
    for await (const status of connection.status())
      if (status.type === 'error') refusals.push(status.error.message);
  })();
  return { connection, refusals };
}

describe('a hub', () => {
  test("writes its own and not another's; what it may not write reaches nobody", async () => {
    const school = await as('school');
    const heard: string[] = [];
    school.connection.subscribe(subjects.everyLive('test'), {
      callback: (_error, message) => void heard.push(message.subject),
    });
    await school.connection.flush();
    const quay = await as('quay');
    quay.connection.publish(subjects.live('test', basin, 'text'), 'as another');
    quay.connection.publish(subjects.kept('test', basin, 'segment'), 'as another');
    quay.connection.publish('$JS.API.STREAM.DELETE.slackwater-test', '');
    quay.connection.publish(subjects.to('test', basin, 'do'), 'acknowledge');
    quay.connection.publish(subjects.live('test', own, 'text'), 'as itself');
    await quay.connection.flush();
    await expect.poll(() => quay.refusals.length).toBe(4);
    for (const refusal of quay.refusals) expect(refusal).toMatch(/Permissions Violation for Publish/i);
    await expect.poll(() => heard).toEqual([subjects.live('test', own, 'text')]);
  });

  test("hears neither another's room nor what another is asked", async () => {
    const quay = await as('quay');
    for (const subject of [
      subjects.everyLive('test'),
      'slackwater.test.to.basin.>',
      `${subjects.inbox('school')}.>`,
      '>',
    ])
      quay.connection.subscribe(subject, { callback: () => undefined });
    await quay.connection.flush();
    await expect.poll(() => quay.refusals.length).toBe(4);
    for (const refusal of quay.refusals) expect(refusal).toMatch(/Permissions Violation for Subscription/i);
  });

  test('answers what the school asks it', async () => {
    const [school, quay] = [await as('school'), await as('quay')];
    quay.connection.subscribe('slackwater.test.to.quay.>', {
      callback: (_error, message) => void message.respond('as asked'),
    });
    await quay.connection.flush();
    const answer = await school.connection.request(subjects.to('test', own, 'welcome'), '', {
      timeout: 10_000,
    });
    expect(answer.string()).toBe('as asked');
    expect(quay.refusals).toEqual([]);
  });

  test('let in by these settings sends what it recorded; the server keeps hubs apart, as it finds by trying', async () => {
    const archiveUrl = await servers.postgres.createDatabase();
    opened(
      await startTaking({
        natsUrl: servers.nats.url,
        archiveUrl,
        user: 'school',
        password: 'of-the-school',
      }),
    );
    const sending = await sendAs('quay', 'of-the-quay');
    await expect
      .poll(() => sending.state())
      .toMatchObject({ link: 'connected', fault: null, isCaughtUp: true });
    await expect
      .poll(() => query(archiveUrl, 'SELECT hub_id, session_id FROM sessions'))
      .toEqual([{ hub_id: 'quay', session_id: 's1' }]);
  });

  test('with a wrong password is told so, in a sentence with what to do', async () => {
    const sending = await sendAs('quay', 'of-the-basin');
    await expect
      .poll(() => sending.state()?.fault?.why)
      .toEqual({ code: 'school.notLetIn', params: { hub: 'quay' } });
  });
});

async function sendAs(hub: string, password: string, natsUrl = servers.nats.url, authorityFile?: string) {
  const store = opened(openStoreInMemory());
  writeSession(store, {
    sessionId: 's1',
    athleteId: 'ath-1',
    athleteName: 'One',
    startedWallAtMs: Date.UTC(2026, 10, 3, 10),
    title: '',
    holdsS: [60],
  });
  const dataFolder = newFolder();
  const sending = opened(
    await startSending({
      natsUrl,
      hub,
      store,
      dataFolder,
      user: hub,
      password,
      ...(authorityFile !== undefined && { authorityFile }),
    }),
  );
  return sending;
}

describe('a server that keeps nobody apart', () => {
  test.each([
    ['no rights at all', ''],
    [
      'that lets a hub hear others',
      ', permissions: { publish: { allow: ["slackwater.test.from.quay.>"] }, subscribe: { allow: [">"] } }',
    ],
    [
      'that lets a hub write as others',
      ', permissions: { publish: { allow: [">"] }, subscribe: { allow: ["slackwater.test.to.quay.>", "_INBOX.quay.>"] } }',
    ],
  ])('%s: the hub finds out and sends nothing', async (_how, permissions) => {
    const open = await startNats(
      `authorization { users: [ { user: "quay", password: "of-the-quay"${permissions} } ] }`,
    );
    const sending = await sendAs('quay', 'of-the-quay', open.url);
    await expect
      .poll(() => [sending.state()?.link, sending.state()?.fault?.why])
      .toEqual(['refused', { code: 'school.noRights', params: { school: 'test' } }]);
    expect(sending.state()?.sentSegmentCount).toBe(0);
    await open.stop();
  });

  test('and asks for no login, over a network: neither hub nor school uses it', async () => {
    // An address that the program takes for another computer's and that leads here.
    const host = '127.1';
    const certificate = certificateFor(host);
    const open = await startNats(
      `tls { cert_file: "${certificate.certificate}", key_file: "${certificate.key}" }`,
    );
    const url = `tls://${host}:${open.port}`;
    const sending = await sendAs('quay', 'x', url, certificate.certificate);
    const why = { code: 'school.noLogin', params: { host: `${host}:${open.port}` } };
    await expect.poll(() => sending.state()?.fault?.why).toEqual(why);
    const { config } = readConfig(
      [
        '--school',
        url,
        '--school-authority',
        certificate.certificate,
        '--archive',
        await servers.postgres.createDatabase(),
      ],
      {},
    );
    const data = newFolder();
    await expect(
      bootSchool({ ...config, data, port: 0, log: 'silent' }, '/nonexistent'),
    ).rejects.toMatchObject({
      said: why,
    });
    await open.stop();
  });
});

function certificateFor(host: string): { readonly certificate: string; readonly key: string } {
  const place = mkdtempSync(join(folder, 'tls-'));
  const [certificate, key] = [join(place, 'cert.pem'), join(place, 'key.pem')];
  execFileSync('openssl', [
    ...['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2'],
    ...[
      '-subj',
      `/CN=${host}`,
      '-addext',
      `subjectAltName=DNS:${host},DNS:localhost`,
      '-keyout',
      key,
      '-out',
      certificate,
    ],
  ]);
  // The server runs as another user.
  for (const path of [folder, place, certificate, key]) chmodSync(path, 0o755);
  return { certificate, key };
}

describe('slackwater school config', () => {
  const said = (argv: readonly string[]) => {
    const out: string[] = [];
    const io = {
      env: {},
      stdout: { write: (text: string) => void out.push(text) },
      stderr: { write: (text: string) => void out.push(text) },
    } as unknown as CommandIo;
    return runSchool(['config', ...argv], io).then(() => out.join(''));
  };
  const settingsIn = (path: string): Record<string, string> => JSON.parse(readFileSync(path, 'utf8'));

  test('writes what a server, a school and its hubs start with, private; more hubs later, and one less', async () => {
    const to = join(mkdtempSync(join(folder, 'config-')), 'school');
    const base = ['--to', to, '--school', 'nats://localhost:4222', '--school-name', 'test'];
    const told = await said([...base, '--hubs', 'quay,basin']);
    for (const name of ['nats-server.conf', 'school.json', 'hub-quay.json', 'hub-basin.json', 'users.json']) {
      expect(told).toContain(name);
      expect((statSync(join(to, name)).mode & 0o777).toString(8)).toBe('600');
    }
    expect((statSync(to).mode & 0o777).toString(8)).toBe('700');
    const quay = settingsIn(join(to, 'hub-quay.json'));
    // What it writes is what a hub and a school read.
    expect(readConfig(['--config', join(to, 'hub-quay.json')], {}).config).toMatchObject({
      school: 'nats://localhost:4222',
      'school-name': 'test',
      'school-hub': 'quay',
      'school-user': 'quay',
    });
    const school = readConfig(['--config', join(to, 'school.json')], {}).config;
    expect(await said([...base, '--hubs', 'deck', '--without', 'basin'])).toMatch(
      /"basin" is let in no more/,
    );
    expect(settingsIn(join(to, 'hub-quay.json'))).toEqual(quay);
    expect(existsSync(join(to, 'hub-basin.json'))).toBe(false);
    const server = await startNats(settingsOf(readFileSync(join(to, 'nats-server.conf'), 'utf8')));
    const archiveUrl = await servers.postgres.createDatabase();
    const taking = await startTaking({
      natsUrl: server.url,
      archiveUrl,
      user: school['school-user'] ?? '',
      password: school['school-password'] ?? '',
    });
    for (const hub of ['quay', 'deck']) {
      const { 'school-password': password = '' } = settingsIn(join(to, `hub-${hub}.json`));
      const sending = await sendAs(hub, password, server.url);
      await expect.poll(() => sending.state()).toMatchObject({ link: 'connected', isCaughtUp: true });
    }
    await taking.close();
    await server.stop();
  });

  test('refuses what would shut hubs out or let readings be read, before it writes anything', async () => {
    const to = mkdtempSync(join(folder, 'config-'));
    const base = ['--to', to, '--school', 'nats://localhost:4222'];
    for (const [argv, code] of [
      [['--to', to, '--school', 'tls://school.example:4222', '--hubs', 'quay'], 'school.needsCertificate'],
      [['--to', to, '--school', 'nats://school.example:4222', '--hubs', 'quay'], 'school.needsTls'],
      [[...base, '--hubs', 'school'], 'school.badName'],
      [[...base, '--hubs', 'Quay hall'], 'school.badName'],
      [[...base, '--without', 'quay'], 'school.noSuchHub'],
    ] as const)
      await expect(said(argv), argv.join(' ')).rejects.toMatchObject({ said: { code } });
    expect(readdirSync(to)).toEqual([]);
    writeFileSync(join(to, 'users.json'), '{"owner"');
    await expect(said([...base, '--hubs', 'quay'])).rejects.toMatchObject({
      said: { code: 'school.badUsers' },
    });
    expect(readdirSync(to)).toEqual(['users.json']);
  });
});

test('readings reach no database of another computer in clear or without proof', async () => {
  for (const url of [
    'postgres://school@localhost/archive',
    'postgres://school@127.0.0.1:5432/archive',
    'postgres://school@[::1]/archive',
    'postgres:///archive?host=/var/run/postgresql',
    'postgres:///archive',
    'postgres://school@base.example/archive?sslmode=verify-full&sslrootcert=/etc/school.pem',
  ])
    expect(() => checkArchiveAddress(url, {}), url).not.toThrow();
  for (const url of [
    'postgres://school@base.example/archive',
    'postgres://school@192.168.1.20/archive?sslmode=require',
    'postgres://school@base.example/archive?sslmode=verify-ca',
    'postgres://school@localhost/archive?host=base.example',
    'postgres://school@base.example/archive?sslmode=verify-full&sslmode=disable',
  ])
    expect(() => checkArchiveAddress(url, {}), url).toThrow(/sslmode=verify-full/);
  expect(() => checkArchiveAddress('postgres:///archive', { PGHOST: 'base.example' })).toThrow();
  await expect(openArchive({ url: 'postgres://school@base.example/archive' })).rejects.toMatchObject({
    said: { code: 'school.openDatabase', params: { host: 'base.example' } },
  });
});

test('readings cross no network in clear', () => {
  for (const url of [
    'nats://localhost:4222',
    'nats://127.0.0.1',
    'nats://[::1]:4222',
    'tls://school.example:4222',
  ])
    expect(() => checkAccess({ url })).not.toThrow();
  for (const url of [
    'nats://school.example:4222',
    'nats://127.0.0.1,nats://192.168.1.20',
    'http://localhost',
    'x',
  ])
    expect(() => checkAccess({ url })).toThrow(/tls:\/\//);
});
