// Backup and restore of everything: the same data comes back, also while recording; foreign, cut and changed files are
// refused in a sentence; nothing that is there is ever overwritten; an erased athlete is in no later backup.

import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import type { CommandIo } from '../../hub/base/command-io.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { runBackup, runRestore } from '../../hub/commands/backup.ts';
import { extractBackup, writeBackupFile } from '../../hub/recorder/backup/backup-file.ts';
import { restoreBackup } from '../../hub/recorder/backup/restore-backup.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { monotonicMs } from '../../shared/units.ts';
import { fillFixture } from '../contract/fixture-recording.ts';
import { packet, startSession } from '../contract/store-contract.ts';
import { ownHeaders } from '../support/own-person.ts';
import { serveTestHub } from '../support/serve-test-hub.ts';

vi.setConfig({ testTimeout: 30_000 });

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-backup-test-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));
const at = (name: string): string => join(folder, name);

/** Everything a store holds, as text. */
function contents(store: Store): string {
  return JSON.stringify({
    athletes: store.listAthletes(),
    assignments: [...store.sensorAssignments()],
    training: store.listDocuments('training'),
    sessions: store.listSessions().map(({ session }) => [
      store.readSession(session.sessionId),
      [...store.readPackets(session.sessionId)].map(({ bytes, ...rest }) => ({
        ...rest,
        bytes: [...bytes],
      })),
    ]),
  });
}
function filled(name: string): { contents: string } {
  const store = openSqliteStore({ directory: at(name) });
  fillFixture(store);
  store.close();
  const again = openSqliteStore({ directory: at(name) });
  const text = contents(again);
  again.close();
  return { contents: text };
}
function contentsOf(name: string): string {
  const store = openSqliteStore({ directory: at(name) });
  try {
    return contents(store);
  } finally {
    store.close();
  }
}
const restore = (backup: string, name: string, replace = false) =>
  restoreBackup({
    backupPath: at(backup),
    directory: at(name),
    replace,
    wallNowMs: Date.UTC(2025, 0, 2, 3, 4, 5),
  });
async function backUp(name: string, backup: string): Promise<void> {
  const store = openSqliteStore({ directory: at(name) });
  try {
    await writeBackupFile(store, at(backup));
  } finally {
    store.close();
  }
}

describe('there and back', () => {
  test('everything comes back the same, in one private file', async () => {
    const original = filled('data');
    await backUp('data', 'one.backup');
    expect(statSync(at('one.backup')).mode & 0o077).toBe(0);
    expect(await restore('one.backup', 'new')).toEqual({
      sessionCount: 2,
      athleteCount: 2,
      movedAsideTo: null,
    });
    expect(contentsOf('new')).toBe(original.contents);
    expect(readdirSync(at('new')).filter((name) => name.includes('restoring'))).toEqual([]);
    expect(readdirSync(folder).sort()).toEqual(['data', 'new', 'one.backup']);
  });

  test('a backup in the middle of a session has everything committed, and the session goes on', async () => {
    const store = openSqliteStore({ directory: at('data') });
    startSession(store, 'running');
    for (let i = 0; i < 500; i += 1) store.appendPacket('running', packet('oxi-ana', i * 10, i & 255));
    const underWay = writeBackupFile(store, at('live.backup'));
    for (let i = 500; i < 600; i += 1) store.appendPacket('running', packet('oxi-ana', i * 10, i & 255));
    await underWay;
    store.commit();
    expect([...store.readPackets('running')]).toHaveLength(600);
    store.close();
    await restore('live.backup', 'new');
    const restored = openSqliteStore({ directory: at('new') });
    expect(restored.readSession('running')?.session.status).toBe('interrupted');
    expect([...restored.readPackets('running')].length).toBeGreaterThanOrEqual(500);
    restored.close();
  });

  test('an erased athlete is in no later backup, not a byte', async () => {
    filled('data');
    const store = openSqliteStore({ directory: at('data') });
    await writeBackupFile(store, at('before'));
    store.eraseAthlete('ana');
    await writeBackupFile(store, at('after'));
    store.close();
    expect(readFileSync(at('before')).includes('Kostić')).toBe(true);
    expect(readFileSync(at('after')).includes('Kostić')).toBe(false);
  });

  test('the page’s backup can be restored', async () => {
    const store = openSqliteStore({ directory: at('data') });
    fillFixture(store);
    const served = await serveTestHub({ store });
    try {
      const made = await served.server.app.inject({
        method: 'POST',
        url: '/api/backup',
        headers: ownHeaders,
      });
      expect(made.statusCode).toBe(201);
      const answer = await served.server.app.inject({
        method: 'GET',
        url: `/api/backup/${made.json().backupId}`,
        headers: ownHeaders,
      });
      expect(answer.statusCode).toBe(200);
      expect(answer.headers['content-disposition']).toMatch(/filename="slackwater-\d{8}-\d{4}\.backup"/);
      writeFileSync(at('page.backup'), answer.rawPayload);
    } finally {
      await served.close();
    }
    expect(await restore('page.backup', 'new')).toMatchObject({ sessionCount: 2, athleteCount: 3 });
  });
});

describe('never over anything', () => {
  test('a backup does not replace a file, a restore does not replace recordings unless told, and then keeps them', async () => {
    const original = filled('data');
    await backUp('data', 'one.backup');
    await expect(backUp('data', 'one.backup')).rejects.toThrow('is there already');
    const other = openSqliteStore({ directory: at('other') });
    startSession(other, 'precious');
    other.close();
    const before = contentsOf('other');
    await expect(restore('one.backup', 'other')).rejects.toThrow('--replace');
    expect(contentsOf('other')).toBe(before);
    const { movedAsideTo } = await restore('one.backup', 'other', true);
    expect(contentsOf('other')).toBe(original.contents);
    expect(movedAsideTo).toBe(join(at('other'), 'recordings.sqlite.before-20250102-030405'));
    expect(existsSync(movedAsideTo!)).toBe(true);
  });

  test('damaged recordings are moved aside too; those of a running hub are not touched', async () => {
    const original = filled('data');
    await backUp('data', 'one.backup');
    filled('broken');
    writeFileSync(join(at('broken'), 'recordings.sqlite'), 'not a database');
    await restore('one.backup', 'broken', true);
    expect(contentsOf('broken')).toBe(original.contents);
    const running = openSqliteStore({ directory: at('running') });
    await expect(restore('one.backup', 'running', true)).rejects.toThrow('A hub is running');
    expect(running.listSessions()).toEqual([]);
    running.close();
  });
});

test('foreign, cut, lengthened and changed files are refused in one sentence, and the data is untouched', async () => {
  const original = filled('data');
  await backUp('data', 'good');
  const good = readFileSync(at('good'));
  const flip = (index: number): Buffer => {
    const bytes = Buffer.from(good);
    bytes[index] = bytes[index]! ^ 0x20;
    return bytes;
  };
  const hostile = fc.oneof(
    fc.nat({ max: good.length - 1 }).map((length) => good.subarray(0, length)),
    fc
      .nat({ max: good.length - 1 })
      .filter((i) => i < 70 || i > 127)
      .map(flip),
    fc.uint8Array({ maxLength: 300 }).map((bytes) => Buffer.from(bytes)),
    fc.uint8Array({ minLength: 1, maxLength: 30 }).map((bytes) => Buffer.concat([good, bytes])),
    fc.constant(good.subarray(128)),
  );
  await fc.assert(
    fc.asyncProperty(hostile, async (bytes) => {
      writeFileSync(at('bad'), bytes);
      await expect(restore('bad', 'data', true)).rejects.toMatchObject({
        code: 'input.malformed',
        message: expect.stringMatching(/^[^\n]+\.$/),
      });
      await expect(extractBackup(at('bad'), at('extracted'))).rejects.toThrow();
      expect(existsSync(at('extracted'))).toBe(false);
    }),
    { numRuns: 60 },
  );
  await expect(restore('nothing', 'data', true)).rejects.toMatchObject({ code: 'input.notFound' });
  await expect(restore('data', 'data', true)).rejects.toMatchObject({ code: 'input.malformed' });
  expect(contentsOf('data')).toBe(original.contents);
  expect(readdirSync(at('data')).filter((name) => /restoring|before/.test(name))).toEqual([]);
});

test('a whole, unchanged backup of something else than recordings is refused', async () => {
  const store = {
    writeDatabaseCopy: async (path: string) => writeFileSync(path, 'SQLite format 3\0 of another program'),
  } as unknown as Store;
  await writeBackupFile(store, at('foreign'));
  await expect(restore('foreign', 'new')).rejects.toMatchObject({ code: 'input.malformed' });
  expect(existsSync(join(at('new'), 'recordings.sqlite'))).toBe(false);
});

test('the commands', async () => {
  filled('data');
  let out = '';
  const stdout = {
    write(text: string) {
      out += text;
    },
  };
  const io = { stdout, stderr: stdout, env: {} } as unknown as CommandIo;
  expect(await runBackup([at('c.backup'), '--data', at('data')], io)).toBe(0);
  expect(await runRestore([at('c.backup'), '--data', at('new')], io)).toBe(0);
  expect(await runRestore(['--replace', at('c.backup'), '--data', at('new')], io)).toBe(0);
  expect(out).toContain('2 recordings backed up');
  expect(out).toContain('2 recordings and 2 athletes restored');
  expect(out).toContain('kept in');
  await expect(runBackup([], io)).rejects.toThrow('Name one file');
  await expect(runBackup([at('d'), '--data', at('nowhere')], io)).rejects.toThrow('no recordings');
  expect(existsSync(at('nowhere'))).toBe(false);
});

test('an athlete is erased over HTTP with everything of theirs, and nobody else', async () => {
  const store = openSqliteStore({ directory: at('data') });
  fillFixture(store);
  store.endSession('left-open', monotonicMs(900));
  const served = await serveTestHub({ store });
  const erase = async (query: string) => {
    const { statusCode } = await served.server.app.inject({
      method: 'DELETE',
      url: `/api/athletes/ana${query}`,
      headers: ownHeaders,
    });
    return statusCode;
  };
  try {
    const belongings = async () => {
      const answer = await served.server.app.inject({
        method: 'GET',
        url: '/api/athletes/ana/belongings',
        headers: ownHeaders,
      });
      return { status: answer.statusCode, body: answer.json() as unknown };
    };
    const before = store.readSession('whole')!;
    const isInFiles = (): boolean =>
      readdirSync(at('data')).some((name) => readFileSync(join(at('data'), name)).includes('Ana Kosti'));
    expect(isInFiles()).toBe(true);
    expect(await belongings()).toEqual({
      status: 200,
      body: {
        ownRecordings: store.listSessions().filter(({ session }) => session.athleteIds.join() === 'ana')
          .length,
        sharedRecordings: 1,
        holds: expect.any(Number),
        marks: expect.any(Number),
        corrections: before.corrections.filter(({ athleteId }) => athleteId === 'ana').length,
        trainingEntries: store.listDocuments('training').length,
        planRuns: store.listDocuments('planRunAthlete').length,
        sensors: [...store.sensorAssignments().values()].filter((wearer) => wearer === 'ana').length,
        devices: 0,
        binned: 0,
        ledRecordings: 0,
      },
    });
    // Whoever is in a running session is not erased under the alarm's feet.
    served.hub.startSession(['ana'], '');
    expect(await erase('?recordings=all')).toBe(409);
    expect((await belongings()).status).toBe(409);
    const running = served.hub.session!.sessionId;
    served.hub.endSession();
    store.deleteSession(running);
    expect(await erase('?recordings=some')).toBe(400);
    expect(store.readSession('whole')?.session.athleteIds).toEqual(['ana', 'ben']);
    expect(await erase('?recordings=all')).toBe(204);
    expect(served.hub.athletes.map(({ athleteId }) => athleteId)).toEqual(['ben', 'mira']);
    expect(store.listSessions().map(({ session }) => [session.sessionId, session.athleteIds])).toEqual([
      ['whole', ['ben']],
    ]);
    expect(store.listDocuments('training')).toEqual([]);
    expect(await erase('?recordings=all')).toBe(404);
    expect((await belongings()).status).toBe(404);
    // Not in the file either, nor in its log.
    store.close();
    expect(isInFiles()).toBe(false);
  } finally {
    await served.close();
  }
});
