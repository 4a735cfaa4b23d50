// Salvage: each page of a small archive lost in turn, and what is rescued; the fresh archive that a hub begins meanwhile.

import { createHash } from 'node:crypto';
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import { systemClock } from '../../hub/base/system-clock.ts';
import { openOrPutAside } from '../../hub/recorder/salvage/put-aside.ts';
import { salvage } from '../../hub/recorder/salvage/salvage.ts';
import { openSqliteStore, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { monotonicMs } from '../../shared/units.ts';
import { sayInEnglish } from '../../shared/words/say.ts';
import { samePackets } from '../contract/packet-cases.ts';
import { alarm, ana, ben, hold, mark, packet, settings, startSession } from '../contract/store-contract.ts';
import { runCommand } from '../support/hub-process.ts';

const pageBytes = 4_096;
const sessionIds = ['first', 'second', 'third'];
let root = '';
let whole = '';
let packets: ReadonlyMap<string, readonly StoredPacket[]> = new Map();

const databaseIn = (directory: string): string => join(directory, 'recordings.sqlite');
const hashOf = (path: string): string => createHash('sha256').update(readFileSync(path)).digest('hex');

/** Three sessions of bytes that do not compress, so that chunks spread over many pages, and the last one still running. */
function fill(store: SqliteStore): void {
  store.saveAthlete(ana);
  store.saveAthlete(ben);
  store.assignSensor('oxi-ana', 'ana');
  for (let i = 0; i < 30; i++)
    store.saveDocument({
      kind: 'plan',
      documentId: `p${i}`,
      groupId: null,
      athleteId: null,
      body: { title: 'Invented '.repeat(20) },
    });
  for (const sessionId of sessionIds) {
    startSession(store, sessionId);
    for (let i = 0; i < 1_500; i++) {
      const bytes = createHash('sha256').update(`${sessionId} ${i}`).digest();
      store.appendPacket(sessionId, packet(i % 3 ? 'oxi-ana' : 'oxi-ben', 250 * i, ...bytes));
      if (i % 40 === 39) store.commit('process');
      if (i % 100 === 0) {
        store.saveMark(sessionId, mark(`m${i}`, 'ana', 250 * i));
        store.saveHold(sessionId, hold(`h${i}`, 'ben', 250 * i));
        store.saveAlarm(sessionId, alarm(`a${i}`, 'ana', 250 * i));
      }
    }
    store.saveSettingsChange(sessionId, 'ana', monotonicMs(9_000), settings);
    store.commit();
    if (sessionId !== 'third') store.endSession(sessionId, monotonicMs(400_000));
  }
}

beforeAll(() => {
  root = mkdtempSync(join(tmpdir(), 'slackwater-salvage-'));
  whole = join(root, 'whole');
  const store = openSqliteStore({ directory: whole, sealAtBytes: 9_000 });
  fill(store);
  packets = new Map(sessionIds.map((id) => [id, [...store.readPackets(id)]]));
  store.close();
});
afterAll(() => rmSync(root, { recursive: true, force: true, maxRetries: 5 }));

/** A copy of the archive with these pages overwritten with zeros. */
function damagedCopy(name: string, pages: readonly number[]): string {
  const directory = join(root, name);
  mkdirSync(directory, { mode: 0o700 });
  const bytes = readFileSync(databaseIn(whole));
  for (const page of pages) bytes.fill(0, (page - 1) * pageBytes, page * pageBytes);
  writeFileSync(databaseIn(directory), bytes, { mode: 0o600 });
  return directory;
}

/** Packets that are there again; throws for one that never was, or stands in another place. */
function rescuedIn(directory: string): number {
  const store = openSqliteStore({ directory });
  let count = 0;
  try {
    for (const { session } of store.listSessions()) {
      const found = [...store.readPackets(session.sessionId, { skipDamaged: true })];
      const stored = store.readSession(session.sessionId)!;
      const own =
        packets.get(session.sessionId) ??
        [...packets.values()].find(
          (each) => found[0] !== undefined && each.some((one) => samePackets([one], [found[0]!])),
        );
      if (own === undefined) continue;
      const byTime = new Map(own.map((each) => [each.atMs, each]));
      expect(
        samePackets(
          found,
          found.map((each) => byTime.get(each.atMs)!),
        ),
      ).toBe(true);
      // What is known to be missing is told.
      if (stored.session.status === 'ended' && found.length < own.length)
        expect(stored.damage).not.toEqual([]);
      count += found.length;
    }
  } finally {
    store.close();
  }
  return count;
}

test('a whole archive is rescued whole', () => {
  const to = join(root, 'whole-to');
  const before = hashOf(databaseIn(whole));
  const done = salvage(databaseIn(whole), to);
  expect(done).toMatchObject({
    athleteCount: 2,
    documentCount: 30,
    sessionCount: 3,
    headlessCount: 0,
    packetCount: 4_500,
    missingPacketCount: 0,
    zeroedPageCount: 0,
    unprovenRowCount: 0,
  });
  expect(rescuedIn(to)).toBe(4_500);
  const [a, b] = [openSqliteStore({ directory: whole }), openSqliteStore({ directory: to })];
  for (const id of sessionIds) expect(b.readSession(id)).toEqual(a.readSession(id));
  expect(b.listDocuments('plan')).toEqual(a.listDocuments('plan'));
  expect([...b.sensorAssignments()]).toEqual([...a.sensorAssignments()]);
  a.close();
  b.close();
  expect(before).toBeTypeOf('string');
});

test('whichever page is lost, what stands on the others is rescued', () => {
  const pageCount = readFileSync(databaseIn(whole)).length / pageBytes;
  expect(pageCount).toBeGreaterThan(60);
  const shares: number[] = [];
  for (let page = 1; page <= pageCount; page++) {
    const from = damagedCopy(`page-${page}`, [page]);
    const to = join(root, `page-${page}-to`);
    const before = hashOf(databaseIn(from));
    salvage(databaseIn(from), to);
    expect(hashOf(databaseIn(from))).toBe(before);
    shares.push(rescuedIn(to) / 4_500);
    rmSync(from, { recursive: true });
    rmSync(to, { recursive: true });
  }
  const sorted = shares.toSorted((a, b) => a - b);
  process.stderr.write(
    `salvage: ${pageCount} pages; packets rescued at least ${(100 * sorted[0]!).toFixed(1)} %, in the middle ${(100 * sorted[Math.floor(sorted.length / 2)]!).toFixed(1)} %, all of them for ${shares.filter((share) => share === 1).length} pages\n`,
  );
  // A page carries a chunk at most, or a few that are small.
  expect(sorted[0]).toBeGreaterThan(0.85);
}, 240_000);

describe('a hub that finds its archive damaged', () => {
  test.each([
    ['in the middle', [12, 13]],
    ['at its first page', [1]],
  ] as const)('%s puts it aside and begins a fresh one with athletes, sensors and plans', (name, pages) => {
    const directory = damagedCopy(`aside ${name}`, pages);
    const before = hashOf(databaseIn(directory));
    const store = openOrPutAside({ directory }, systemClock.wallNowMs());
    const aside = readdirSync(directory).filter((each) => /damaged-\d{8}-\d{6}$/.test(each));
    expect(aside).toHaveLength(1);
    expect(hashOf(join(directory, aside[0]!))).toBe(before);
    const told = sayInEnglish(store.notices[0]!);
    expect(told).toContain(aside[0]);
    expect(told).toContain('slackwater salvage --data');
    expect(store.listSessions()).toEqual([]);
    startSession(store, 'at once');
    store.appendPacket('at once', packet('oxi-ana', 1, 1));
    store.commit();
    expect([...store.readPackets('at once')]).toHaveLength(1);
    store.close();
  });

  test('does nothing to a file that is not its own, or is in use', () => {
    const foreign = join(root, 'foreign');
    mkdirSync(foreign, { mode: 0o700 });
    writeFileSync(databaseIn(foreign), 'not a database at all, '.repeat(500));
    expect(() => openOrPutAside({ directory: foreign }, 0)).toThrow('not made by this program');
    expect(readdirSync(foreign)).toEqual(['recordings.sqlite']);
    const used = join(root, 'used');
    mkdirSync(used, { mode: 0o700 });
    copyFileSync(databaseIn(whole), databaseIn(used));
    const first = openSqliteStore({ directory: used });
    expect(() => openOrPutAside({ directory: used, lockWaitMs: 1 }, 0)).toThrow('Another hub');
    first.close();
  });
});

test('the command says what it rescued and what is lost', async () => {
  const directory = damagedCopy('command', [2, 30, 31, 32]);
  const to = join(root, 'command-to');
  const done = await runCommand(['salvage', '--data', directory, '--to', to]);
  expect([done.status, done.stderr]).toEqual([0, '']);
  expect(done.stdout).toMatch(/recordings with \d+ packets/);
  expect(done.stdout).toMatch(/Lost|Nothing is known/);
  expect(rescuedIn(to)).toBeGreaterThan(3_000);
  expect((await runCommand(['salvage', '--data', directory, '--to', to])).status).toBe(2);
  expect((await runCommand(['salvage', '--data', directory])).status).toBe(2);
  expect(
    (await runCommand(['salvage', '--data', join(root, 'nothing'), '--to', join(root, 'x')])).status,
  ).toBe(2);
});
