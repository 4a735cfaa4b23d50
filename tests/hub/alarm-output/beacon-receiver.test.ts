// The example receiver of beacons, as a process of its own: it tells well, alarms, silence and an end that is meant, and takes
// nothing that is not signed.

import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { systemClock } from '../../../hub/base/system-clock.ts';
import { createWebhook, signatureOf } from '../../../hub/outputs/webhook.ts';

const script = new URL('../../../hub/outputs/beacon-receiver.mjs', import.meta.url).pathname;
const secret = 'a secret of the test';
let folder = '';
let receiver: ChildProcess;
let lines: string[] = [];
let url = '';

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-beacon-'));
  writeFileSync(join(folder, 'secret'), `${secret}\n`);
  lines = [];
  receiver = spawn(
    process.execPath,
    [
      script,
      '--port',
      '0',
      '--host',
      '127.0.0.1',
      '--secret-file',
      join(folder, 'secret'),
      '--silent-after',
      '1.5',
    ],
    { stdio: ['ignore', 'pipe', 'pipe'] },
  );
  const take = (chunk: Buffer): void => {
    lines.push(...chunk.toString('utf8').trim().split('\n'));
  };
  receiver.stdout?.on('data', take);
  receiver.stderr?.on('data', take);
  await expect
    .poll(() => lines.find((line) => line.startsWith('listening')), { timeout: 10_000 })
    .toBeDefined();
  url = `http://127.0.0.1:${lines[0]!.split(' ').at(-1)}/`;
});
afterEach(() => {
  receiver.kill();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

const told = () => lines.flatMap((line) => (/^\d{4}-/.test(line) ? line.split(' ').slice(1).join(' ') : []));

test('the hub’s own webhook: well, an alarm and its end, silence when it dies, an end when it is stopped', async () => {
  const open = () => createWebhook({ url, clock: systemClock, secret, beaconMs: 300, isWell: () => true });
  const hook = open();
  await expect.poll(told, { timeout: 10_000 }).toEqual(['well']);
  hook.sound('high');
  await expect.poll(told, { timeout: 10_000 }).toEqual(['well', 'high']);
  hook.sound(null);
  await expect.poll(told, { timeout: 10_000 }).toEqual(['well', 'high', 'none']);
  hook.close();
  await expect.poll(told, { timeout: 10_000 }).toEqual(['well', 'high', 'none', 'ended']);
  // A hub that was killed says nothing more: one beacon, and then none.
  const time = String(Date.now() + 1_000);
  const body = JSON.stringify({ alarm: 'none', beacon: true, well: true, nextWithinMs: 300, sequence: 1 });
  const signed = { 'slackwater-time': time, 'slackwater-signature': signatureOf(secret, time, body) };
  expect((await fetch(url, { method: 'POST', body, headers: signed })).status).toBe(204);
  await expect.poll(told, { timeout: 10_000 }).toEqual(['well', 'high', 'none', 'ended', 'well', 'silent']);
}, 30_000);

test('what is not signed, is old, or is a copy is refused', async () => {
  const post = (body: string, time: string, signature: string) =>
    fetch(url, {
      method: 'POST',
      body,
      headers: { 'slackwater-time': time, 'slackwater-signature': signature },
    }).then(({ status }) => status);
  const body = JSON.stringify({ alarm: 'high', sequence: 5 });
  const now = String(Date.now());
  expect(await post(body, now, signatureOf('another secret here', now, body))).toBe(403);
  expect(await post(body, now, '')).toBe(403);
  const old = String(Date.now() - 3_600_000);
  expect(await post(body, old, signatureOf(secret, old, body))).toBe(403);
  const good = signatureOf(secret, now, body);
  expect(await post(body, now, good)).toBe(204);
  expect(await post(body, now, good)).toBe(403);
  expect(await post(body.replace('high', 'none'), now, good)).toBe(403);
  expect(told()).toEqual(['high']);
});
