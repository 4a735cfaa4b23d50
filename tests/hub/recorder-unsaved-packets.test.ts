// Packets in a file in memory until they are written: read back whole or to the last whole one, none twice, none of anybody
// else's; and a process that is killed, for real, loses none that it had taken in.

import {
  chmodSync,
  existsSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { systemClock } from '../../hub/base/system-clock.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { openThreadedStore } from '../../hub/recorder/thread/threaded-store.ts';
import {
  afterStored,
  readUnsaved,
  UnsavedPackets,
  unsavedPathOf,
} from '../../hub/recorder/unsaved-packets.ts';
import { wallMs } from '../../shared/units.ts';
import { anyPackets, samePackets } from '../contract/packet-cases.ts';
import { bundleModule } from '../support/bundled-module.ts';
import { bundleRecorder } from '../support/bundled-recorder.ts';
import { numberedPacket } from './recorder-child.ts';
import { runAndKill } from './recorder-killing.ts';

const folder = mkdtempSync(join(tmpdir(), 'slackwater-unsaved-'));
afterAll(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));
const path = join(folder, 'one.unsaved');

function opened(): UnsavedPackets {
  const unsaved = UnsavedPackets.open(path, (message) => {
    throw new Error(message);
  });
  if (unsaved === null) throw new Error('not opened');
  return unsaved;
}

test('what is added is read back by session and in order; cut short anywhere, up to the last whole packet', () => {
  fc.assert(
    fc.property(anyPackets, anyPackets, fc.double({ min: 0, max: 1, noNaN: true }), (first, second, cut) => {
      const unsaved = opened();
      for (let i = 0; i < Math.max(first.length, second.length); i++) {
        if (i < first.length) unsaved.add('first', first[i]!);
        if (i < second.length) unsaved.add('second', second[i]!);
      }
      const whole = readUnsaved(path);
      expect(samePackets(whole.get('first') ?? [], first)).toBe(true);
      expect(samePackets(whole.get('second') ?? [], second)).toBe(true);
      truncateSync(path, Math.floor(cut * readFileSync(path).length));
      const left = readUnsaved(path);
      for (const [name, all] of [['first', first] as const, ['second', second] as const]) {
        const read = left.get(name) ?? [];
        expect(samePackets(read, all.slice(0, read.length))).toBe(true);
      }
      unsaved.close(true);
      expect(existsSync(path)).toBe(false);
    }),
    { numRuns: 60 },
  );
});

test('bytes of any kind are read as far as they are packets, and never throw', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => {
      writeFileSync(path, bytes, { mode: 0o600 });
      for (const packets of readUnsaved(path).values()) expect(packets.length).toBeGreaterThan(0);
    }),
  );
  const unsaved = opened();
  unsaved.add('s', numberedPacket(1));
  unsaved.add('s', numberedPacket(2));
  const bytes = readFileSync(path);
  bytes[bytes.length - 1]! ^= 1;
  writeFileSync(path, bytes);
  expect(readUnsaved(path).get('s')).toHaveLength(1);
  unsaved.close(true);
});

test('those that are stored are not stored again, wherever the writing of them ended', () => {
  fc.assert(
    fc.property(fc.nat({ max: 40 }), fc.nat({ max: 40 }), fc.nat({ max: 40 }), (a, b, c) => {
      const [from, to, count] = [a, b, c].sort((one, other) => one - other) as [number, number, number];
      const all = Array.from({ length: count }, (_, n) => numberedPacket(n));
      const left = afterStored(all.slice(from), all.slice(0, to));
      expect(samePackets(left, all.slice(to))).toBe(true);
    }),
  );
  // The same packet twice in the same moment, of which one was written, or both.
  const twice = [numberedPacket(7), numberedPacket(7)];
  expect(afterStored(twice, [numberedPacket(6), numberedPacket(7)])).toHaveLength(1);
  expect(afterStored(twice, [numberedPacket(6), ...twice])).toHaveLength(0);
});

test('a file that others could read or have put there is neither read nor written', () => {
  const warnings: string[] = [];
  const open = () => UnsavedPackets.open(path, (message) => warnings.push(message));
  const unsaved = opened();
  unsaved.add('s', numberedPacket(1));
  unsaved.close(false);
  chmodSync(path, 0o644);
  expect(readUnsaved(path).size).toBe(0);
  expect(open()).toBeNull();
  chmodSync(path, 0o600);
  expect(readUnsaved(path).size).toBe(1);
  rmSync(path);
  symlinkSync(join(folder, 'elsewhere'), path);
  expect(open()).toBeNull();
  expect(existsSync(join(folder, 'elsewhere'))).toBe(false);
  rmSync(path);
  expect(warnings).toHaveLength(2);
});

test('only a folder that is in memory will do, and each data folder has a file of its own', () => {
  expect(unsavedPathOf(folder, [undefined, '/proc', '/not/there'])).toBeNull();
  const [one, other] = [unsavedPathOf(folder), unsavedPathOf(tmpdir())];
  if (one !== null) expect(one).not.toBe(other);
});

const inMemory = unsavedPathOf(folder);
let entry = '';
let child = '';
beforeAll(async () => {
  entry = await bundleRecorder();
  child = await bundleModule('tests/hub/unsaved-child.ts', 'unsaved-child.mjs');
}, 60_000);

test.skipIf(inMemory === null)(
  'a process killed at any moment loses no packet that it had taken in, and none is there twice',
  async () => {
    for (const [commitEach, beforeKill] of [
      [1_000_000, 300],
      [1, 200],
      [7, 900],
      [40, 2_500],
    ] as const) {
      const directory = mkdtempSync(join(folder, 'killed-'));
      const takenIn = await runAndKill([child, directory, entry, String(commitEach)], beforeKill);
      expect(takenIn).toBeGreaterThanOrEqual(beforeKill);
      const store = await openThreadedStore({
        directory,
        entry,
        clock: systemClock,
        warn: () => undefined,
      });
      expect(store.interruptedSessionIds).toEqual(['killed']);
      const packets = [];
      for await (const packet of store.readPackets('killed')) packets.push(packet);
      // It may have taken in one more before it said so.
      expect(packets.length - takenIn).toBeOneOf([0, 1]);
      expect(
        samePackets(
          packets,
          packets.map((_, n) => numberedPacket(n)),
        ),
      ).toBe(true);
      const stored = await store.readSession('killed');
      expect(stored?.damage).toEqual([]);
      expect(stored?.session.endedAtMs).toBe(packets.at(-1)?.atMs);
      await store.close();
      expect(existsSync(unsavedPathOf(directory)!)).toBe(false);
    }
  },
  60_000,
);

test('without such a file the packets not committed are lost, and the session is as it was committed', () => {
  const directory = mkdtempSync(join(folder, 'plain-'));
  const store = openSqliteStore({ directory });
  store.startSession({
    sessionId: 'plain',
    startedWallAtMs: wallMs(1_790_000_000_000),
    simulated: true,
    source: 'simulated',
    title: '',
    athletes: [],
  });
  store.appendPacket('plain', numberedPacket(0));
  store.commit('process');
  const unsavedOf = () => [numberedPacket(0), numberedPacket(1)];
  // As a kill leaves it: closed underneath.
  const [copy, other] = ['copy-', 'other-'].map((name) => {
    const place = mkdtempSync(join(folder, name));
    for (const ending of ['', '-wal']) {
      const file = `recordings.sqlite${ending}`;
      writeFileSync(join(place, file), readFileSync(join(directory, file)), { mode: 0o600 });
    }
    return place;
  }) as [string, string];
  store.close();
  const without = openSqliteStore({ directory: copy });
  expect([...without.readPackets('plain')]).toHaveLength(1);
  without.close();
  const withThem = openSqliteStore({ directory: other, unsavedOf });
  expect(samePackets([...withThem.readPackets('plain')], unsavedOf())).toBe(true);
  withThem.close();
});
