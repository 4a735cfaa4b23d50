// Who may write and hear what on a school's message server, by really trying; and what a hub with wrong words is told.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { NatsConnection } from '@nats-io/transport-node';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openStoreInMemory } from '../../../hub/recorder/sqlite-store.ts';
import { checkAccess, connectNats } from '../../../hub/school/nats/connect.ts';
import { serverConfig } from '../../../hub/school/nats/server-config.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import { startSending } from '../../support/school/sending-hub.ts';
import { type NatsServer, startNats } from '../../support/school/servers.ts';

let nats: NatsServer;
const connections: NatsConnection[] = [];
const folder = mkdtempSync(join(tmpdir(), 'slackwater-rights-'));

beforeAll(async () => {
  const whole = serverConfig({
    school: 'test',
    owner: { name: 'school', password: 'of-the-school' },
    hubs: [
      { name: 'quay', password: 'of-the-quay' },
      { name: 'basin', password: 'of-the-basin' },
    ],
    storeFolder: join(folder, 'stream'),
    storeGigabytes: 1,
    port: 0,
  });
  // Address and folder are the test's own.
  nats = await startNats(
    whole
      .split('\n')
      .filter((line) => !/^(listen|jetstream)/.test(line))
      .join('\n'),
  );
});
afterAll(async () => {
  for (const connection of connections) await connection.close();
  await nats?.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function as(
  user: string,
): Promise<{ readonly connection: NatsConnection; readonly refusals: string[] }> {
  const connection = await connectNats(
    { url: nats.url, user, password: `of-the-${user}` },
    { name: user, inboxPrefix: subjects.inbox(user), keepTrying: false },
  );
  connections.push(connection);
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
    quay.connection.publish(subjects.live('test', 'basin', 'text'), 'as another');
    quay.connection.publish(subjects.kept('test', 'basin', 'segment'), 'as another');
    quay.connection.publish('$JS.API.STREAM.DELETE.slackwater-test', '');
    quay.connection.publish(subjects.to('test', 'basin', 'do'), 'acknowledge');
    quay.connection.publish(subjects.live('test', 'quay', 'text'), 'as itself');
    await quay.connection.flush();
    await expect.poll(() => quay.refusals.length).toBe(4);
    for (const refusal of quay.refusals) expect(refusal).toMatch(/Permissions Violation for Publish/i);
    await expect.poll(() => heard).toEqual([subjects.live('test', 'quay', 'text')]);
  });

  test("hears neither another's room nor what another is asked", async () => {
    const quay = await as('quay');
    for (const subject of [
      subjects.everyLive('test'),
      subjects.everyTo('test', 'basin'),
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
    quay.connection.subscribe(subjects.everyTo('test', 'quay'), {
      callback: (_error, message) => void message.respond('as asked'),
    });
    await quay.connection.flush();
    const answer = await school.connection.request(subjects.to('test', 'quay', 'welcome'), '', {
      timeout: 10_000,
    });
    expect(answer.string()).toBe('as asked');
    expect(quay.refusals).toEqual([]);
  });

  test('with a wrong password is told so, in a sentence with what to do', async () => {
    const store = openStoreInMemory();
    const sending = await startSending({
      natsUrl: nats.url,
      hub: 'quay',
      store,
      dataFolder: folder,
      user: 'quay',
      password: 'of-the-basin',
    });
    await expect
      .poll(() => sending.state()?.fault)
      .toEqual({ code: 'school.notLetIn', params: { hub: 'quay' } });
    await sending.close();
    store.close();
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
