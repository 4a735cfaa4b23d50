// The broker as an output, against mosquitto itself: retained state, the broker's word for a hub that is gone, recovery.

import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect as connectTcp, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt, { type MqttClient } from 'mqtt';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { systemClock } from '../../../hub/base/system-clock.ts';
import type { AlarmNews, AlarmOutput } from '../../../hub/outputs/alarm-output.ts';
import { createMqttOutput, type MqttOutputOptions } from '../../../hub/outputs/mqtt/mqtt-output.ts';
import { said } from '../../../shared/said.ts';
import type { WallMs } from '../../../shared/units.ts';
import { inWords } from '../../support/in-words.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

let folder = '';
let port = 0;
let broker: ChildProcess | undefined;
let output: AlarmOutput | undefined;
let watcher: MqttClient | undefined;

const freePort = () =>
  new Promise<number>((resolve) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port: free } = server.address() as { port: number };
      server.close(() => resolve(free));
    });
  });

/** Debian's mosquitto; with a password where one is given. */
async function startBroker(): Promise<void> {
  const config = join(folder, 'broker.conf');
  writeFileSync(config, `listener ${port} 127.0.0.1\nallow_anonymous true\npersistence false\n`);
  broker = spawn('/usr/sbin/mosquitto', ['-c', config], { stdio: 'ignore' });
  await vi.waitFor(
    () =>
      new Promise<void>((resolve, reject) => {
        const socket = connectTcp(port, '127.0.0.1', () => {
          socket.destroy();
          resolve();
        }).on('error', reject);
      }),
    { timeout: 20_000 },
  );
}

const stopBroker = () =>
  new Promise<void>((resolve) => {
    if (broker === undefined || broker.exitCode !== null || broker.signalCode !== null) return resolve();
    broker.once('exit', () => resolve());
    broker.kill('SIGKILL');
  });

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-broker-'));
  port = await freePort();
  await startBroker();
});
afterEach(async () => {
  output?.close();
  output = undefined;
  await watcher?.endAsync(true);
  watcher = undefined;
  await stopBroker();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

function open(more: Partial<MqttOutputOptions> = {}) {
  const heard: (string | null)[] = [];
  const made = createMqttOutput({
    url: `mqtt://127.0.0.1:${port}`,
    topic: 'club/slackwater',
    version: '0.1.0',
    clock: systemClock,
    health: (fault) => heard.push(fault === null ? null : inWords(fault)),
    ...more,
  });
  output = made;
  return { made, heard };
}

/** What somebody who subscribes now hears, by topic; it goes on hearing. */
async function watch(filter = '#'): Promise<Map<string, string>> {
  const heard = new Map<string, string>();
  watcher = await mqtt.connectAsync(`mqtt://127.0.0.1:${port}`);
  watcher.on('message', (topic, payload) => heard.set(topic, payload.toString()));
  await watcher.subscribeAsync(filter, { qos: 1 });
  return heard;
}

const floorNews: AlarmNews = {
  who: 'athlete 2',
  kind: 'floorBreached',
  priority: 'high',
  value: 79,
  sinceWallMs: Date.parse('2026-01-10T18:30:00Z') as WallMs,
};

test('who comes later hears what calls, whether a session runs, and that the hub is there', async () => {
  const { made } = open();
  await vi.waitFor(async () => expect(await made.test()).toEqual({ ok: true }), { timeout: 20_000 });
  made.setInUse?.(true);
  made.sound('high', [floorNews]);
  const heard = await watch();
  await vi.waitFor(() => {
    expect(JSON.parse(heard.get('club/slackwater/alarm') ?? 'null')).toEqual({
      alarm: 'high',
      about: [
        {
          who: 'athlete 2',
          kind: 'floorBreached',
          priority: 'high',
          value: 79,
          since: '2026-01-10T18:30:00.000Z',
        },
      ],
    });
    expect(heard.get('club/slackwater/session')).toBe('running');
    expect(heard.get('club/slackwater/online')).toBe('online');
  });
  made.sound(null);
  await vi.waitFor(() =>
    expect(JSON.parse(heard.get('club/slackwater/alarm') ?? '')).toEqual({ alarm: 'none', about: [] }),
  );
});

test('a home hub that looks under its prefix finds topics that exist and states that are sent', async () => {
  const { made } = open({ discovery: 'home' });
  await vi.waitFor(async () => expect(await made.test()).toEqual({ ok: true }), { timeout: 20_000 });
  const heard = await watch();
  await vi.waitFor(() => expect(heard.get('club/slackwater/online')).toBe('online'));
  const announced = [...heard].filter(([topic]) => topic.startsWith('home/'));
  expect(announced.map(([topic]) => topic).sort()).toEqual([
    'home/binary_sensor/club_slackwater/alarm/config',
    'home/binary_sensor/club_slackwater/session/config',
  ]);
  for (const [, text] of announced) {
    const config = JSON.parse(text) as Record<string, string>;
    expect(heard.has(config['state_topic']!)).toBe(true);
    expect(heard.has(config['availability_topic']!)).toBe(true);
  }
});

test('a hub that is stopped says so', async () => {
  const { made } = open();
  await vi.waitFor(async () => expect(await made.test()).toEqual({ ok: true }), { timeout: 20_000 });
  made.setInUse?.(true);
  const heard = await watch();
  made.close();
  await vi.waitFor(() => expect(heard.get('club/slackwater/online')).toBe('offline'));
  expect(heard.get('club/slackwater/session')).toBe('none');
});

test('of a hub that is gone the broker says so by itself', async () => {
  // A process of its own, killed: no farewell can be said.
  const child = spawn(
    process.execPath,
    [
      '--import',
      'tsx',
      '--input-type=module',
      '-e',
      `const { createMqttOutput } = await import('./hub/outputs/mqtt/mqtt-output.ts');
const { systemClock } = await import('./hub/base/system-clock.ts');
createMqttOutput({ url: 'mqtt://127.0.0.1:${port}', topic: 'gone', version: '0', clock: systemClock });
setInterval(() => undefined, 1000);`,
    ],
    { cwd: new URL('../../..', import.meta.url).pathname, stdio: 'ignore' },
  );
  const heard = await watch();
  await vi.waitFor(() => expect(heard.get('gone/online')).toBe('online'), { timeout: 40_000 });
  child.kill('SIGKILL');
  await vi.waitFor(() => expect(heard.get('gone/online')).toBe('offline'), { timeout: 20_000 });
});

test('a broker that goes is an output that fails; one that comes back is told all that stands', async () => {
  const { made, heard } = open();
  await vi.waitFor(async () => expect(await made.test()).toEqual({ ok: true }), { timeout: 20_000 });
  await stopBroker();
  await vi.waitFor(async () => expect((await made.probe()).ok).toBe(false), { timeout: 20_000 });
  expect(heard.at(-1)).toContain(`127.0.0.1:${port}`);
  // Nobody hears it now.
  made.sound('high', [floorNews]);
  await startBroker();
  await vi.waitFor(() => expect(heard.at(-1)).toBeNull(), { timeout: 30_000 });
  const said = await watch();
  await vi.waitFor(
    () => expect(JSON.parse(said.get('club/slackwater/alarm') ?? '{}')).toMatchObject({ alarm: 'high' }),
    {
      timeout: 20_000,
    },
  );
});

test('without a broker, or without the package, it says why and hurts nobody', async () => {
  await stopBroker();
  const { made } = open();
  const result = await made.test();
  expect(result.ok).toBe(false);
  const absent = createMqttOutput({
    url: 'mqtt://127.0.0.1:1',
    topic: 't',
    version: '0',
    clock: systemClock,
    connect: () => Promise.reject(new Error('Cannot find package')),
  });
  expect(await absent.test()).toEqual({ ok: false, reason: said('output.noMqtt') });
  absent.sound('high');
  absent.close();
});
