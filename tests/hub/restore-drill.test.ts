// The restore drill on the real program: a backup is made over its HTTP, things go wrong, the file is offered, looked at and
// taken; the hub stops for it, starts again by itself, holds everything again, and what was there lies aside.

import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { writeBackupFile } from '../../hub/recorder/backup/backup-file.ts';
import { lockFile } from '../../hub/recorder/backup/locked-file.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import {
  backupsBodySchema,
  type LookedBody,
  lookedBodySchema,
  offeredBodySchema,
} from '../../shared/backups.ts';
import { athletesBodySchema, sessionsBodySchema } from '../../shared/http.ts';
import { fillFixture } from '../contract/fixture-recording.ts';
import { type HubProcess, startHub } from '../support/hub-process.ts';
import { fetchAsOwn } from '../support/own-person.ts';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 60_000 });

const passphrase = 'a long enough secret';
let folder: string;
let hub: HubProcess;
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-drill-'));
  const store = openSqliteStore({ directory: at('data') });
  fillFixture(store);
  store.close();
  hub = await startHub([
    'start',
    ...['--data', at('data'), '--port', '0', '--adapter', 'tcp:127.0.0.1:1'],
    ...['--backup-folder', folder, '--backup-passphrase', passphrase],
  ]);
});
afterEach(async () => {
  await hub.stop();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});
const at = (name: string): string => join(folder, name);
const ask = (method: string, path: string, body?: BodyInit, type = 'application/json') =>
  fetchAsOwn(`${hub.url.replace(/\/$/, '')}${path}`, {
    method,
    ...(body !== undefined && { headers: { 'content-type': type }, body }),
  });
const sessionIds = async (): Promise<string[]> =>
  sessionsBodySchema
    .parse(await (await ask('GET', '/api/sessions')).json())
    .sessions.map(({ session }) => session.sessionId);

async function offer(bytes: ArrayBuffer): Promise<{ restoreId: string; locked: boolean }> {
  const answer = await ask('POST', '/api/restore', bytes, 'application/octet-stream');
  expect(answer.status).toBe(201);
  return offeredBodySchema.parse(await answer.json());
}
async function look(restoreId: string, secret: string | null): Promise<LookedBody> {
  const answer = await ask('POST', `/api/restore/${restoreId}/look`, JSON.stringify({ passphrase: secret }));
  expect(answer.status).toBe(200);
  return lookedBodySchema.parse(await answer.json());
}

test('a backup made over HTTP comes back after everything was erased', async () => {
  const before = await sessionIds();
  expect(before).toContain('whole');
  const { backupId } = (await (await ask('POST', '/api/backup', '{}')).json()) as { backupId: string };
  const file = await (await ask('GET', `/api/backup/${backupId}`)).arrayBuffer();

  for (const athleteId of ['ana', 'ben'])
    expect((await ask('DELETE', `/api/athletes/${athleteId}?recordings=all`)).status).toBe(204);
  expect(await sessionIds()).toEqual([]);

  const offered = await offer(file);
  expect(offered.locked).toBe(false);
  // Not looked at: it is not taken.
  expect((await ask('POST', `/api/restore/${offered.restoreId}/begin`, '{}')).status).toBe(404);
  expect(await look(offered.restoreId, null)).toMatchObject({
    sessionCount: before.length,
    athleteCount: 2,
    present: { sessionCount: 0, athleteCount: 0 },
  });
  expect((await ask('POST', `/api/restore/${offered.restoreId}/begin`, '{}')).status).toBe(202);
  await expect
    .poll(() => /A backup was restored: (\d+) recordings/.exec(hub.output())?.[1], { timeout: 60_000 })
    .toBe(String(before.length));
});

test('a locked one too; a wrong passphrase, a cut file and any other file change nothing', async () => {
  const before = await sessionIds();
  const store = openSqliteStore({ directory: at('other') });
  fillFixture(store);
  store.titleSession('whole', 'From the backup');
  await writeBackupFile(store, at('plain'));
  store.close();
  await lockFile(at('plain'), at('locked'), passphrase);
  const locked = readFileSync(at('locked'));

  const refusal = async (bytes: Buffer, secret: string | null) => {
    const { restoreId } = await offer(new Uint8Array(bytes).buffer);
    const answer = await ask(
      'POST',
      `/api/restore/${restoreId}/look`,
      JSON.stringify({ passphrase: secret }),
    );
    expect(answer.status).toBe(400);
    expect((await ask('POST', `/api/restore/${restoreId}/begin`, '{}')).status).toBe(404);
    return ((await answer.json()) as { message: string }).message;
  };
  expect(await refusal(locked, 'another secret')).toContain('could not be unlocked');
  expect(await refusal(locked, null)).toContain('could not be unlocked');
  expect(await refusal(locked.subarray(0, locked.length - 20), passphrase)).toContain(
    'could not be unlocked',
  );
  expect(await refusal(readFileSync(at('plain')).subarray(0, 5_000), null)).toContain('cut off');
  expect(await refusal(Buffer.from('not a backup at all'), null)).toContain('not a backup');
  expect(await sessionIds()).toEqual(before);

  const { restoreId } = await offer(new Uint8Array(locked).buffer);
  await look(restoreId, passphrase);
  expect((await ask('POST', `/api/restore/${restoreId}/begin`, '{}')).status).toBe(202);
  await expect.poll(() => hub.output(), { timeout: 60_000 }).toContain('A backup was restored');
  await hub.stop();
  const restored = openSqliteStore({ directory: at('data') });
  expect(restored.readSession('whole')?.session.title).toBe('From the backup');
  restored.close();
  const aside = readdirSync(at('data')).filter((name) => /\.before-[\d-]+$/.test(name));
  expect(aside).toHaveLength(1);
  expect(existsSync(at('data/restore-offered')) && readdirSync(at('data/restore-offered')).length > 0).toBe(
    false,
  );
});

test('backups by the clock are made at the start and told with their age', async () => {
  const told = async () => backupsBodySchema.parse(await (await ask('GET', '/api/backups')).json());
  await expect.poll(async () => (await told()).scheduled?.kept.length, { timeout: 60_000 }).toBe(1);
  expect(await told()).toMatchObject({
    mayRestore: true,
    scheduled: { folder, everyHours: 24, keep: 14, problem: null },
  });
  const { athletes } = athletesBodySchema.parse(await (await ask('GET', '/api/athletes')).json());
  expect(athletes).toHaveLength(2);
});
