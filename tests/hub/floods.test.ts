// Floods are cut off before they are parsed, slow senders before they hold a place, and one address keeps nobody else out.

import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { connect, createServer, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { WebSocket } from 'ws';
import { limitConnections } from '../../hub/server/connection-quota.ts';
import { requestLimits } from '../../hub/server/listening.ts';
import { TokenBucket } from '../../hub/server/token-bucket.ts';
import { closeCodes } from '../../shared/error-codes.ts';
import type { Role } from '../../shared/schema-parts.ts';
import { ownCookie } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { createTestDevice } from '../support/test-device.ts';
import { hello, openTestPage } from '../support/test-page.ts';

let directory: string;
let served: ServedTestHub;
beforeEach(async () => {
  directory = mkdtempSync(join(tmpdir(), 'slackwater-floods-'));
  served = await serveTestHub({ lanIn: directory });
});
afterEach(async () => {
  await served.close();
  rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
});

async function cookieFor(role: Role): Promise<string> {
  const made = served.devices.makeCode(role, null);
  if (!made.ok) throw new Error('refused');
  const joined = await served.devices.join({ code: made.value.code, deviceName: role, address: '' });
  if (!joined.ok) throw new Error('refused');
  return `__Host-slackwater=${joined.value.token}`;
}

describe('a socket', () => {
  /** An onlooker's, greeted. */
  async function openOnlooker(given?: string): Promise<WebSocket> {
    const cookie = given ?? (await cookieFor('onlooker'));
    const socket = new WebSocket(`${served.lanUrl.replace('https', 'wss')}/ws`, {
      headers: { cookie },
      rejectUnauthorized: false,
    });
    await once(socket, 'open');
    socket.send(JSON.stringify(hello));
    await once(socket, 'message');
    return socket;
  }
  /** The code by which the hub closes it. Its goodbye is not waited for longer than by the hub's clock. */
  async function codeOf(socket: WebSocket): Promise<number> {
    const closed = once(socket, 'close');
    while (served.server.sockets.pageCount > others) await new Promise((resolve) => setImmediate(resolve));
    served.clock.advance(2_000);
    return (await closed)[0] as number;
  }
  /** Pages that stay. */
  let others = 0;
  beforeEach(() => {
    others = 0;
  });

  test.each<[string, (socket: WebSocket) => void]>([
    ['small messages', (socket) => socket.send('{"type":"pageState","visible":true,"soundReady":true}')],
    ['long ones', (socket) => socket.send('x'.repeat(16_000))],
    ['pings', (socket) => socket.ping('x')],
    ['pongs', (socket) => socket.pong('x')],
    ['empty fragments', (socket) => socket.send('', { fin: false })],
    ['binary ones', (socket) => socket.send(Buffer.alloc(2_000))],
  ])('is closed for a flood of %s, and the next page of the device is kept waiting', async (_name, send) => {
    const cookie = await cookieFor('onlooker');
    const socket = await openOnlooker(cookie);
    const closed = codeOf(socket);
    let answers = 0;
    socket.on('message', () => {
      answers += 1;
    });
    for (let i = 0; i < 4_000 && socket.readyState === WebSocket.OPEN; i += 1) send(socket);
    const code = await closed;
    // Too many fragments is the socket library's own refusal (RFC 6455 s7.4.1: 1008).
    expect([closeCodes.flooding, 1008]).toContain(code);
    expect(answers).toBeLessThan(300);
    expect(served.server.sockets.pageCount).toBe(0);
    if (code !== closeCodes.flooding) return;
    const refused = new WebSocket(`${served.lanUrl.replace('https', 'wss')}/ws`, {
      headers: { cookie },
      rejectUnauthorized: false,
    });
    await expect(once(refused, 'open')).rejects.toThrow('429');
    served.clock.advance(10_000);
    (await openOnlooker(cookie)).terminate();
  });

  test('of a page that taps as fast as a person can stays open, and so do all others during a flood', async () => {
    const coach = openTestPage(served.url);
    coach.send(hello);
    await coach.until('welcome');
    others = 1;
    const flooder = await openOnlooker();
    for (let i = 0; i < 2_000; i += 1) flooder.send('{}');
    await codeOf(flooder);
    for (let i = 0; i < 30; i += 1) coach.send({ type: 'endSession', requestId: `r${i}` });
    expect((await coach.until('refused', (m) => m.requestId === 'r29')).code).toBe('noSession');
    coach.close();
  });

  test('those who have not joined cannot take up the goodbyes of everybody from one address', async () => {
    const strangers = Array.from({ length: 12 }, () => {
      const socket = new WebSocket(`${served.lanUrl.replace('https', 'wss')}/ws`, {
        rejectUnauthorized: false,
      });
      // They never answer the goodbye.
      socket.on('open', () => socket.pause());
      return new Promise<string>((resolve) => {
        socket.on('error', (error) => resolve(error.message));
        socket.on('open', () => resolve('open'));
      });
    });
    const answers = await Promise.all(strangers);
    expect(answers.filter((answer) => answer === 'open').length).toBeLessThanOrEqual(4);
    expect(answers.filter((answer) => answer.includes('401')).length).toBeGreaterThanOrEqual(8);
    for (let i = 0; i < 3; i += 1) served.clock.advance(1_000);
  });
});

describe('connections', () => {
  test('one address has its share, and another still comes in', async () => {
    let gone = 0;
    let allGone: () => void = () => undefined;
    const server = createServer((socket) => {
      socket.write('hello');
      socket.on('error', () => undefined);
      socket.once('close', () => {
        gone += 1;
        if (gone === 4) allGone();
      });
    });
    let nowMs = 0;
    limitConnections(server, { most: 100, mostOfOneAddress: 3, burst: 5, perSecond: 1 }, () => nowMs);
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    const { port } = server.address() as { port: number };
    const open: Socket[] = [];
    const tryFrom = (localAddress: string) =>
      new Promise<boolean>((resolve) => {
        const socket = connect({ port, host: '127.0.0.1', localAddress });
        open.push(socket);
        socket.once('data', () => resolve(true));
        socket.once('close', () => resolve(false));
        socket.on('error', () => undefined);
      });
    const inTurn = async (address: string, count: number) => {
      const answers: boolean[] = [];
      for (let i = 0; i < count; i += 1) answers.push(await tryFrom(address));
      return answers;
    };
    expect(await inTurn('127.0.0.2', 5)).toEqual([true, true, true, false, false]);
    expect(await inTurn('127.0.0.3', 1)).toEqual([true]);
    const closed = new Promise<void>((resolve) => {
      allGone = resolve;
    });
    for (const socket of open.splice(0)) socket.destroy();
    await closed;
    nowMs = 10_000;
    expect(await inTurn('127.0.0.2', 1)).toEqual([true]);
    for (const socket of open) socket.destroy();
    await new Promise<void>((resolve) => server.close(() => resolve()));
  });

  test('a bucket gives what it holds and fills again', () => {
    const bucket = new TokenBucket(10, 5, 0);
    expect(bucket.take(10, 0)).toBe(true);
    expect([bucket.take(1, 100), bucket.take(1, 200), bucket.isFull(1_000)]).toEqual([false, true, false]);
    expect(bucket.isFull(10_000)).toBe(true);
    // A clock that goes back takes nothing away and gives nothing.
    expect([bucket.take(10, 10_000), bucket.take(1, 5_000)]).toEqual([true, false]);
  });

  test('heads and whole requests have their time, at both doors', () => {
    expect(served.server.app.server).toMatchObject({
      headersTimeout: requestLimits.headersTimeout,
      requestTimeout: requestLimits.requestTimeout,
    });
    expect(requestLimits.headersTimeout).toBeLessThanOrEqual(10_000);
  });

  test.each([['without TLS', () => served.server.port]])(
    'a body that does not come is cut off %s',
    async (_name, port) => {
      const socket = connect({ port: port(), host: '127.0.0.1' });
      socket.on('error', () => undefined);
      const closed = once(socket, 'close');
      const heard = new Promise<void>((resolve) => served.server.app.server.once('request', () => resolve()));
      socket.write(
        `POST /api/athletes HTTP/1.1\r\nhost: localhost\r\ncookie: ${ownCookie}\r\ncontent-type: application/json\r\ncontent-length: 40\r\n\r\n{"na`,
      );
      await heard;
      await new Promise((resolve) => setImmediate(resolve));
      served.clock.advance(10_000);
      await closed;
      expect(served.hub.athletes).toHaveLength(1);
    },
  );

  const getFrom = (remoteAddress: string, url: string) =>
    served.server.app.inject({ method: 'GET', url, remoteAddress, headers: { host: '192.0.2.1' } });

  test('a browser that takes the whole page to keep it, again and again, uses up no question of its address', async () => {
    for (let i = 0; i < 4_000; i += 1) await getFrom('192.0.2.7', `/assets/file-${i % 140}.js`);
    expect((await getFrom('192.0.2.7', '/assets/one-more.js')).statusCode).toBe(429);
    expect((await getFrom('192.0.2.7', '/api/hub-certificate')).statusCode).not.toBe(429);
    expect((await getFrom('192.0.2.8', '/assets/file-1.js')).statusCode).toBe(404);
  });

  test('no other spelling of a question is counted as a file', async () => {
    for (let i = 0; i < 600; i += 1) await getFrom('192.0.2.6', '/%61pi/hub-certificate');
    const refused = await getFrom('192.0.2.6', '/api/hub-certificate');
    expect(refused.statusCode).toBe(429);
    expect(refused.json()).toMatchObject({
      code: 'tooManyRequests',
      message: expect.stringMatching(/^Too many requests at once\. Try again in \d+ s\.$/),
    });
    expect(Number(refused.headers['retry-after'])).toBeGreaterThan(0);
  });

  test('what is asked of addresses that do not exist is counted too', async () => {
    const statuses = new Set<number>();
    for (let i = 0; i < 650; i += 1)
      statuses.add(
        (
          await served.server.app.inject({
            method: 'GET',
            url: `/api/none-${i}`,
            remoteAddress: '192.0.2.9',
            headers: { host: '192.0.2.1' },
          })
        ).statusCode,
      );
    expect([...statuses]).toEqual([404, 429]);
  });
});

test('wrong codes from one address, and from hundreds, lock joining for nobody else', async () => {
  for (let i = 0; i < 300; i += 1)
    for (let tries = 0; tries < 5; tries += 1)
      await served.devices.join({ code: '0000-0000', deviceName: '', address: `2001:db8::${i}` });
  const made = served.devices.makeCode('coach', null);
  if (!made.ok) throw new Error('refused');
  expect((await createTestDevice(served.lanUrl).join(made.value.code, 'Tablet')).status).toBe(200);
});
