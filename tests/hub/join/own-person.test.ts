// The hub's own person and nobody else on the same machine is a coach: key, links, tokens, and what is asked without them.

import { chmodSync, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { keepOwnKey } from '../../../hub/devices/own-person/own-key.ts';
import { createOwnPerson } from '../../../hub/devices/own-person/own-person.ts';
import { isOtherUser, userOfPeer } from '../../../hub/devices/own-person/peer-user.ts';
import { closeCodes } from '../../../shared/error-codes.ts';
import { ownCodeOf } from '../../../web/app/own-person.ts';
import { createFakeClock } from '../../support/fake-clock.ts';
import { testOwnKey } from '../../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../../support/serve-test-hub.ts';
import { hello, openTestPage } from '../../support/test-page.ts';

const hourMs = 3_600_000;

describe('the key', () => {
  let folder: string;
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), 'slackwater-own-'));
  });
  afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));
  const path = () => join(folder, 'own-person.key');

  test('is made once, and only its person can read it', () => {
    const key = keepOwnKey(folder);
    expect(key).toHaveLength(32);
    expect(keepOwnKey(folder)).toEqual(key);
    expect(statSync(path()).mode & 0o777).toBe(0o600);
    expect(readFileSync(path(), 'utf8')).not.toContain(key.toString('hex'));
  });

  test('is made anew where others could have read it', () => {
    const key = keepOwnKey(folder);
    chmodSync(path(), 0o644);
    expect(keepOwnKey(folder)).not.toEqual(key);
    expect(statSync(path()).mode & 0o777).toBe(0o600);
  });

  test('a folder that takes no file is said', () => {
    expect(() => keepOwnKey('/dev/null/x')).toThrow(expect.objectContaining({ code: 'data.unwritable' }));
  });
});

describe('links and tokens', () => {
  const clock = createFakeClock();
  const person = createOwnPerson(testOwnKey, clock);

  test('a printed link lets browsers in for twelve hours, the opener’s one browser for two minutes', () => {
    const link = person.linkCode();
    const opener = person.openerCode();
    expect(person.isToken(person.enter(link) ?? '')).toBe(true);
    expect(person.isToken(person.enter(link) ?? '')).toBe(true);
    expect(person.isToken(person.enter(opener) ?? '')).toBe(true);
    expect(person.enter(opener)).toBeUndefined();
    // Another user of the machine read it off the list of processes; a printed link they can't have read.
    expect(person.enter(person.openerCode(), () => true)).toBeUndefined();
    expect(person.enter(link, () => true)).toBeDefined();
    const late = person.openerCode();
    clock.advance(2 * 60_000);
    expect(person.enter(late)).toBeUndefined();
    clock.advance(12 * hourMs);
    expect(person.enter(link)).toBeUndefined();
  });

  test('a token ends after thirty days, outlasts a restart, and is worth nothing to another hub', () => {
    const token = person.enter(person.linkCode()) ?? '';
    expect(createOwnPerson(testOwnKey, clock).isToken(token)).toBe(true);
    expect(createOwnPerson(Buffer.alloc(32, 8), clock).isToken(token)).toBe(false);
    clock.advance(30 * 24 * hourMs);
    expect(person.isToken(token)).toBe(false);
  });

  test('what is sealed for one purpose serves no other, and nothing changed passes', () => {
    const link = person.linkCode();
    const token = person.enter(link) ?? '';
    expect(person.isToken(link)).toBe(false);
    expect(person.enter(token)).toBeUndefined();
    const [ends = '', nonce, mac] = link.split('.');
    const later = (Number.parseInt(ends, 36) + 1).toString(36);
    for (const forged of [
      '',
      '.',
      '..',
      `${later}.${nonce}.${mac}`,
      `${link}.x`,
      `${link}x`,
      link.slice(0, -1),
    ])
      expect(person.enter(forged), forged).toBeUndefined();
  });
});

describe('whose connection', () => {
  const table = `  sl  local_address rem_address   st tx_queue rx_queue tr tm->when retrnsmt   uid  timeout inode
   0: 0100007F:1CF2 00000000:0000 0A 00000000:00000000 00:00000000 00000000  1000        0 1 1 0 100 0 0 10 0
   1: 0100007F:1CF2 0100007F:C350 01 00000000:00000000 00:00000000 00000000  1000        0 2 1 0 20 4 30 10 -1
   2: 0100007F:C350 0100007F:1CF2 01 00000000:00000000 00:00000000 00000000  1001        0 3 1 0 20 4 30 10 -1`;
  test('is read from the kernel’s table, and only another ordinary user is refused', () => {
    expect(userOfPeer(0xc350, 0x1cf2, [table])).toBe(1001);
    expect(userOfPeer(0xc351, 0x1cf2, [table])).toBeUndefined();
    expect([isOtherUser(1001, 1000), isOtherUser(1000, 1000), isOtherUser(0, 1000)]).toEqual([
      true,
      false,
      false,
    ]);
    expect(isOtherUser(undefined, 1000)).toBe(false);
  });
});

describe('at the hub', () => {
  let served: ServedTestHub;
  beforeEach(async () => {
    served = await serveTestHub();
  });
  afterEach(() => served.close());
  const enter = (code: string, headers: Record<string, string> = {}) =>
    served.server.app.inject({
      method: 'POST',
      url: '/api/own-person',
      headers: { host: 'localhost', ...headers },
      payload: { code },
    });

  test('whoever else uses the machine reads nothing and opens no page', async () => {
    const asked = await served.server.app.inject({
      method: 'GET',
      url: '/api/athletes',
      headers: { host: 'localhost' },
    });
    expect([asked.statusCode, asked.json().code]).toEqual([401, 'notJoined']);
    const page = openTestPage(served.url, { cookie: 'none=1' });
    page.send(hello);
    expect(await page.closed).toBe(closeCodes.notAllowed);
    expect(page.received).toEqual([]);
  });

  test('the code of a link gives a cookie that scripts and other sites never see, and that opens everything', async () => {
    const answer = await enter(createOwnPerson(testOwnKey, served.clock).linkCode());
    expect(answer.statusCode).toBe(204);
    const [cookie = '', ...attributes] = String(answer.headers['set-cookie']).split('; ');
    for (const part of ['HttpOnly', 'SameSite=Strict', 'Path=/', 'Max-Age=2592000'])
      expect(attributes).toContain(part);
    const asked = await served.server.app.inject({
      method: 'GET',
      url: '/api/access',
      headers: { host: 'localhost', cookie },
    });
    expect(asked.json()).toMatchObject({ role: 'coach', deviceId: null });
    const page = openTestPage(served.url, { cookie });
    page.send(hello);
    expect((await page.until('welcome')).role).toBe('coach');
    page.close();
  });

  test('wrong codes, other sites and the network are refused, and the cookie is worth nothing from the network', async () => {
    const code = createOwnPerson(testOwnKey, served.clock).linkCode();
    expect((await enter('no')).json()).toMatchObject({ code: 'codeRefused' });
    expect((await enter(code, { origin: 'http://127.0.0.1:9' })).statusCode).toBe(403);
    const network = { remoteAddress: '192.0.2.9', headers: { host: '192.0.2.1' } };
    const entered = await served.server.app.inject({
      method: 'POST',
      url: '/api/own-person',
      payload: { code },
      ...network,
    });
    expect(entered.statusCode).toBe(403);
    const cookie = String((await enter(code)).headers['set-cookie']).split('; ')[0] ?? '';
    const asked = await served.server.app.inject({
      method: 'GET',
      url: '/api/access',
      ...network,
      headers: { ...network.headers, cookie },
    });
    expect(asked.statusCode).toBe(401);
  });
});

test('the page takes the code out of an address or a pasted link', () => {
  expect(ownCodeOf('#own=abc.d_e.f-g')).toBe('abc.d_e.f-g');
  expect(ownCodeOf('  http://127.0.0.1:7410/#own=abc.d.e \n')).toBe('abc.d.e');
  expect([ownCodeOf('#4F7K-9QTX'), ownCodeOf('#own='), ownCodeOf('')]).toEqual([
    undefined,
    undefined,
    undefined,
  ]);
});
