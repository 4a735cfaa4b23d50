// What other sites, old ciphers, caches and what is left behind could give away: refused, or not there.

import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type ConnectionOptions, connect } from 'node:tls';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openSqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import type { Role } from '../../../shared/schema-parts.ts';
import { ownHeaders } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';
import { createTestDevice, type TestDevice } from '../../support/test-device.ts';
import { hello } from '../../support/test-page.ts';

let directory: string;
let served: ServedTestHub;
beforeEach(async () => {
  directory = mkdtempSync(join(tmpdir(), 'slackwater-sites-'));
  mkdirSync(join(directory, 'data'));
  served = await serveTestHub({
    lanIn: directory,
    store: openSqliteStore({ directory: join(directory, 'data') }),
  });
});
afterEach(async () => {
  await served.close();
  rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
});

const own = (method: 'GET' | 'POST' | 'DELETE', url: string, headers: Record<string, string> = {}) =>
  served.server.app.inject({ method, url, headers: { ...ownHeaders, ...headers } });
const leftovers = () =>
  readdirSync(tmpdir()).filter((name) => name.startsWith(`slackwater-backup-${process.pid}-`));

async function joinAs(
  role: Role,
  athleteId: string | null,
  device: TestDevice = createTestDevice(served.lanUrl),
) {
  const made = served.devices.makeCode(role, athleteId);
  if (!made.ok) throw new Error('refused');
  expect((await device.join(made.value.code, `${role} of ${athleteId}`)).status).toBe(200);
  return device;
}

describe('another site', () => {
  test.each([
    ['another site', { 'sec-fetch-site': 'cross-site' }],
    ['another port of this machine', { 'sec-fetch-site': 'same-site' }],
    ['a page that names itself', { origin: 'http://localhost:9' }],
  ])('%s can neither read nor begin anything, even with the cookie', async (_name, headers) => {
    for (const [method, url] of [
      ['GET', '/api/athletes'],
      ['GET', '/api/sessions/none/csv'],
      ['POST', '/api/backup'],
      ['GET', '/api/backup/none'],
    ] as const) {
      const answer = await own(method, url, headers);
      expect([url, answer.statusCode, answer.json().said.code]).toEqual([url, 403, 'refusal.otherSite']);
    }
    expect(leftovers()).toEqual([]);
  });

  test.each(['same-origin', 'none'])(
    'the hub’s own page and a typed address are let in: %s',
    async (site) => {
      expect((await own('GET', '/api/athletes', { 'sec-fetch-site': site })).statusCode).toBe(200);
    },
  );

  test('a GET makes no backup', async () => {
    expect((await own('GET', '/api/backup')).statusCode).toBe(404);
  });
});

describe('a backup', () => {
  const make = async () => (await own('POST', '/api/backup')).json().backupId as string;

  test('is fetched once, and nothing of it stays in the temporary folder', async () => {
    const backupId = await make();
    expect(leftovers()).toHaveLength(1);
    const answer = await own('GET', `/api/backup/${backupId}`);
    expect([answer.statusCode, answer.rawPayload.subarray(0, 17).toString()]).toEqual([
      200,
      'SLACKWATER-BACKUP',
    ]);
    // The file is closed just after the last byte has gone.
    while (leftovers().length > 0) await new Promise((resolve) => setImmediate(resolve));
    expect((await own('GET', `/api/backup/${backupId}`)).statusCode).toBe(404);
  });

  test('that nobody fetches goes after a minute, with the next one, and with the hub', async () => {
    await make();
    served.clock.advance(60_000);
    expect(leftovers()).toEqual([]);
    const first = await make();
    await make();
    expect(leftovers()).toHaveLength(1);
    expect((await own('GET', `/api/backup/${first}`)).statusCode).toBe(404);
    await served.server.close();
    expect(leftovers()).toEqual([]);
  });
});

test('nothing personal is kept by a browser or on the way', async () => {
  for (const url of ['/api/athletes', '/api/sessions', '/api/devices', '/api/access', '/api/sessions/none'])
    expect([url, (await own('GET', url)).headers['cache-control']]).toEqual([url, 'no-store']);
  const refused = await served.server.app.inject({
    method: 'GET',
    url: '/api/athletes',
    headers: { host: 'localhost' },
  });
  expect([refused.statusCode, refused.headers['cache-control']]).toEqual([401, 'no-store']);
});

describe('TLS', () => {
  const shake = (options: ConnectionOptions) =>
    new Promise<string>((resolve) => {
      const socket = connect({
        port: Number(new URL(served.lanUrl).port),
        host: '127.0.0.1',
        rejectUnauthorized: false,
        ...options,
      });
      socket.once('secureConnect', () => {
        resolve(`${socket.getProtocol()} ${socket.getCipher().name}`);
        socket.destroy();
      });
      socket.once('error', () => resolve('refused'));
    });

  test('is 1.3, or 1.2 with forward secrecy and authenticated encryption', async () => {
    expect(await shake({})).toMatch(/^TLSv1\.3 TLS_/);
    expect(await shake({ maxVersion: 'TLSv1.2' })).toMatch(/^TLSv1\.2 ECDHE-ECDSA-(AES|CHACHA)/);
  });

  test.each<[string, ConnectionOptions]>([
    ['1.1', { minVersion: 'TLSv1', maxVersion: 'TLSv1.1', ciphers: 'DEFAULT@SECLEVEL=0' }],
    ['CBC', { maxVersion: 'TLSv1.2', ciphers: 'ECDHE-ECDSA-AES128-SHA256:ECDHE-ECDSA-AES128-SHA' }],
    ['no forward secrecy', { maxVersion: 'TLSv1.2', ciphers: 'AES128-GCM-SHA256' }],
  ])('%s is refused', async (_name, options) => {
    expect(await shake(options)).toBe('refused');
  });
});

describe('devices', () => {
  const deviceFile = () => readFileSync(join(directory, 'devices.json'), 'utf8');

  test('that join again are there once, and the earlier token is worth nothing', async () => {
    const device = await joinAs('onlooker', null);
    const earlier = device.cookie;
    const page = device.openPage();
    page.send(hello);
    await page.until('welcome');
    await joinAs('coach', null, device);
    expect(served.devices.devices().map(({ role }) => role)).toEqual(['coach']);
    served.clock.advance(2_000);
    await page.closed;
    const again = createTestDevice(served.lanUrl);
    again.cookie = earlier;
    expect((await again.ask('GET', '/api/access')).status).toBe(401);
  });

  test.each(['?recordings=all', ''])(
    'of an athlete who goes are forgotten with them, by name too %s',
    async (query) => {
      const device = await joinAs('athlete', 'mira');
      expect(served.devices.makeCode('athlete', 'mira').ok).toBe(true);
      expect(deviceFile()).toContain('athlete of mira');
      expect((await own('DELETE', `/api/athletes/mira${query}`)).statusCode).toBe(query === '' ? 200 : 204);
      expect(deviceFile()).not.toContain('mira');
      expect(served.devices.openCodes()).toEqual([]);
      expect((await device.ask('GET', '/api/access')).status).toBe(401);
    },
  );
});
