// Everything that can be wrong with a data folder: one clear error, nothing changed, nothing lost in silence.

import { createHash } from 'node:crypto';
import {
  chmodSync,
  chownSync,
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { HubError } from '../../hub/base/hub-error.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { monotonicMs } from '../../shared/units.ts';
import { alarm, ana, ben, hold, mark, packet, settings, startSession } from '../contract/store-contract.ts';
import { inWords } from '../support/in-words.ts';

let root = '';
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), 'slackwater-faults-'));
});
afterEach(() => {
  rmSync(root, { recursive: true, force: true, maxRetries: 5 });
});

const databaseIn = (directory: string): string => join(directory, 'recordings.sqlite');

function fault(action: () => unknown): HubError {
  try {
    action();
  } catch (error) {
    expect(error).toBeInstanceOf(HubError);
    return error as HubError;
  }
  throw new Error('nothing was thrown');
}

/** What lies in a folder: names with a hash of each file's bytes. An empty log and the index of a log hold no data. */
function contentsOf(directory: string): Record<string, string> {
  return Object.fromEntries(
    readdirSync(directory)
      .filter((name) => !name.endsWith('-shm') && statSync(join(directory, name)).size > 0)
      .map((name) => [
        name,
        createHash('sha256')
          .update(readFileSync(join(directory, name)))
          .digest('hex'),
      ]),
  );
}

/** One ended session sealed into chunks, and one being recorded. */
function fill(store: Store): void {
  store.saveAthlete(ana);
  store.saveAthlete(ben);
  store.assignSensor('oxi-ana', 'ana');
  startSession(store, 'ended');
  for (let i = 0; i < 900; i++) {
    store.appendPacket('ended', packet(i % 3 ? 'oxi-ana' : 'oxi-ben', 250 * i, i & 255, (i * i) & 255, 7, 9));
    if (i % 40 === 39) store.commit();
  }
  for (const who of ['ana', 'ben']) {
    store.saveMark('ended', mark(`m-${who}`, who, 5_000));
    store.saveHold('ended', hold('h1', who, 6_000));
    store.saveAlarm('ended', alarm('a1', who, 7_000));
    store.saveSettingsChange('ended', who, monotonicMs(8_000), settings);
  }
  store.endSession('ended', monotonicMs(240_000));
  startSession(store, 'running');
  for (let i = 0; i < 120; i++) {
    store.appendPacket('running', packet('oxi-ana', 100 * i, i, 1, 2, 3));
    if (i % 8 === 7) store.commit();
  }
}

describe('the folder', () => {
  test('is made, with its files, for its user alone', () => {
    const before = process.umask(0);
    try {
      const directory = join(root, 'deep', 'data');
      const store = openSqliteStore({ directory });
      startSession(store, 's1');
      expect(statSync(directory).mode & 0o777).toBe(0o700);
      for (const name of readdirSync(directory))
        expect([name, statSync(join(directory, name)).mode & 0o777]).toEqual([name, 0o600]);
      store.close();
      expect(Object.keys(contentsOf(directory))).toEqual(['recordings.sqlite']);
    } finally {
      process.umask(before);
    }
  });

  test('open to others but ours alone is made private, and says so', () => {
    openSqliteStore({ directory: root }).close();
    chmodSync(root, 0o755);
    chmodSync(databaseIn(root), 0o644);
    const store = openSqliteStore({ directory: root });
    expect(store.notices).toHaveLength(2);
    expect(inWords(store.notices[0])).toContain('now private to you');
    store.close();
    expect(statSync(root).mode & 0o777).toBe(0o700);
    expect(statSync(databaseIn(root)).mode & 0o777).toBe(0o600);
  });

  test('open to others and with other things in it is refused and left as it is', () => {
    writeFileSync(join(root, 'letter.txt'), 'Dear reader');
    chmodSync(root, 0o755);
    const error = fault(() => openSqliteStore({ directory: root }));
    expect(error.code).toBe('data.unwritable');
    expect(error.message).toContain('--data FOLDER');
    expect(statSync(root).mode & 0o777).toBe(0o755);
    expect(readdirSync(root)).toEqual(['letter.txt']);
  });

  test('that is a file, or inside one, is refused', () => {
    const path = join(root, 'file');
    writeFileSync(path, 'something');
    for (const directory of [path, join(path, 'data')]) {
      const error = fault(() => openSqliteStore({ directory }));
      expect([error.code, error.cause instanceof Error]).toEqual(['data.unwritable', true]);
      expect(error.message).toContain(directory);
    }
    expect(readFileSync(path, 'utf8')).toBe('something');
  });

  test.runIf(process.getuid !== undefined)('that may not be written to is refused', () => {
    const locked = join(root, 'locked');
    const full = join(root, 'full');
    openSqliteStore({ directory: full }).close();
    mkdirSync(locked, { mode: 0o500 });
    chmodSync(full, 0o500);
    chmodSync(databaseIn(full), 0o400);
    // Nothing is read-only to root, so root becomes someone else for a moment.
    const isRoot = process.getuid?.() === 0;
    const nobody = 65_534;
    if (isRoot) {
      for (const path of [root, locked, full, databaseIn(full)]) chownSync(path, nobody, nobody);
      process.seteuid?.(nobody);
    }
    try {
      for (const directory of [locked, full, join(locked, 'data')]) {
        const error = fault(() => openSqliteStore({ directory }));
        expect([directory, error.code]).toEqual([directory, 'data.unwritable']);
        expect(error.message).toContain('Give your user the right to');
      }
    } finally {
      if (isRoot) process.seteuid?.(0);
      chmodSync(full, 0o700);
      chmodSync(locked, 0o700);
    }
  });
});

describe('the file', () => {
  test('is one hub’s at a time, until it is closed', () => {
    const first = openSqliteStore({ directory: root });
    startSession(first, 's1');
    const error = fault(() => openSqliteStore({ directory: root, lockWaitMs: 1 }));
    expect(error.code).toBe('data.locked');
    expect(error.message).toContain('Another hub');
    first.saveMark('s1', mark('m1', 'ana', 1));
    first.close();
    const second = openSqliteStore({ directory: root, lockWaitMs: 1 });
    expect(second.readSession('s1')?.marks).toHaveLength(1);
    second.close();
  });

  test.each([
    [
      'something else',
      (path: string) => writeFileSync(path, 'not a database at all, '.repeat(50)),
      'data.notOurs',
    ],
    ['empty', (path: string) => writeFileSync(path, ''), 'data.corrupt'],
    ['shorter than a header', (path: string) => writeFileSync(path, 'SQLite format 3\0'), 'data.notOurs'],
    [
      'a database of another program',
      (path: string) => new SqliteDatabase(path).exec('CREATE TABLE notes (text TEXT)').close(),
      'data.notOurs',
    ],
    ['a folder', (path: string) => mkdirSync(path), 'data.unwritable'],
    [
      'of a newer version',
      (path: string) => {
        openSqliteStore({ directory: join(path, '..') }).close();
        const database = new SqliteDatabase(path);
        database.pragma('user_version = 99');
        database.close();
      },
      'data.newerVersion',
    ],
    [
      'ours with a table missing',
      (path: string) => {
        openSqliteStore({ directory: join(path, '..') }).close();
        new SqliteDatabase(path).exec('DROP TABLE chunks').close();
      },
      'data.corrupt',
    ],
    ['gone, but not its log', (path: string) => writeFileSync(`${path}-wal`, 'left over'), 'data.corrupt'],
  ])('%s is refused and left as it is', (_, make, code) => {
    make(databaseIn(root));
    const isFolder = existsSync(databaseIn(root)) && statSync(databaseIn(root)).isDirectory();
    const before = isFolder ? {} : contentsOf(root);
    chmodSync(root, 0o700);
    const error = fault(() => openSqliteStore({ directory: root }));
    expect(error.code).toBe(code);
    expect(error.message).toContain(databaseIn(root));
    expect(error.message).toMatch(/^[^\n]*\.$/);
    if (!isFolder) expect(contentsOf(root)).toEqual(before);
  });

  test('that can grow no more: what is committed stays, what is buffered waits for room', () => {
    const store = openSqliteStore({ directory: root, sizeLimitBytes: 200_000, sealAtBytes: 2 ** 24 });
    startSession(store, 'old');
    for (let i = 0; i < 90; i++) store.appendPacket('old', packet('oxi-ana', i, ...noise(i, 400)));
    store.endSession('old', monotonicMs(60));
    startSession(store, 's1');
    let appended = 0;
    let committed = 0;
    const error = fault(() => {
      for (; ; committed = appended) {
        for (let i = 0; i < 20; i++) {
          store.appendPacket('s1', packet('oxi-ana', appended, ...noise(appended, 400)));
          appended++;
        }
        store.commit();
      }
    });
    expect(error.code).toBe('data.full');
    expect(error.message).toContain('free some space');
    expect(fault(() => store.saveMark('s1', mark('m1', 'ana', 1))).code).toBe('data.full');
    expect([...store.readPackets('s1')]).toHaveLength(committed);
    expect(committed).toBeGreaterThan(0);

    // Room again: what was buffered goes in with the very deletion that made it, in order.
    store.deleteSession('old');
    expect([...store.readPackets('s1')].map((each) => each.atMs)).toEqual(
      Array.from({ length: appended }, (_, n) => n),
    );
    store.close();
    const again = openSqliteStore({ directory: root });
    expect(again.interruptedSessionIds).toEqual(['s1']);
    expect([...again.readPackets('s1')]).toHaveLength(appended);
    again.close();
  });

  test('holds no trace of an erased athlete or a deleted session', () => {
    const store = openSqliteStore({ directory: root, sealAtBytes: 3_000 });
    const secret = { ...ana, athleteId: 'secret-id', name: 'Zerubbabel Quillfeather' };
    store.saveAthlete(secret);
    startSession(store, 'mine', [secret]);
    startSession(store, 'shared', [secret, ben]);
    const bytes = [...Buffer.from('telltale-bytes-of-theirs')];
    for (let i = 0; i < 200; i++) {
      store.appendPacket('mine', packet('oxi-secret-id', i, ...bytes));
      store.appendPacket('shared', packet('oxi-secret-id', i, ...bytes));
      store.appendPacket('shared', packet('oxi-ben', i, 1, 2, 3));
      if (i % 9 === 0) store.commit();
    }
    const note = mark('m1', 'secret-id', 5);
    store.saveMark('shared', { ...note, mark: { ...note.mark, text: 'a note of Quillfeather' } });
    store.endSession('mine', monotonicMs(200));
    store.endSession('shared', monotonicMs(200));
    const traces = ['Quillfeather', 'secret-id', 'telltale'];
    const found = (): string[] => {
      const all = readdirSync(root).map((name) => readFileSync(join(root, name), 'latin1'));
      return traces.filter((trace) => all.some((text) => text.includes(trace)));
    };
    expect(found()).toEqual(traces);
    store.eraseAthlete('secret-id');
    expect(found()).toEqual([]);
    expect([...store.readPackets('shared')]).toHaveLength(200);
    store.close();
    expect(found()).toEqual([]);
  });
});

describe('damage', () => {
  type Image = Record<string, Buffer>;

  /** The files as a crash would leave them: with a log that holds part of the data, or (`closed`) without. */
  function imageOf(closed: boolean): Image {
    const directory = mkdtempSync(join(root, 'image-'));
    const store = openSqliteStore({ directory, sealAtBytes: 6_000 });
    fill(store);
    if (closed) store.close();
    const image: Image = {};
    for (const name of Object.keys(contentsOf(directory))) image[name] = readFileSync(join(directory, name));
    store.close();
    return image;
  }

  function unpack(image: Image): string {
    const directory = mkdtempSync(join(root, 'damaged-'));
    for (const [name, bytes] of Object.entries(image))
      writeFileSync(join(directory, name), bytes, { mode: 0o600 });
    return directory;
  }

  /** All there is to read, one line each; what cannot be read, as complaints. */
  function readAll(store: Store): { lines: Set<string>; complaints: string[] } {
    const lines = new Set<string>();
    const complaints = store.notices.map((notice) => inWords(notice));
    const attempt = (work: () => void): void => {
      try {
        work();
      } catch (error) {
        if (!(error instanceof HubError)) throw error;
        complaints.push(error.message);
      }
    };
    attempt(() => {
      lines.add(JSON.stringify(store.listAthletes()));
      lines.add(JSON.stringify([...store.sensorAssignments()]));
      lines.add(
        JSON.stringify(
          store.listSessions().map((summary) => [summary.session.sessionId, summary.athleteNames]),
        ),
      );
    });
    for (const sessionId of ['ended', 'running']) {
      attempt(() => {
        const stored = store.readSession(sessionId);
        if (stored === undefined) return;
        const { session, durationMs: _, damage, profiles: __, alive: ___, madeBy: ____, ...lists } = stored;
        complaints.push(...damage.map((each) => inWords(each)));
        lines.add(JSON.stringify([sessionId, session.title, session.athleteIds]));
        for (const [name, list] of Object.entries(lists))
          for (const entry of list) lines.add(JSON.stringify([sessionId, name, entry]));
      });
      attempt(() => {
        let n = 0;
        for (const each of store.readPackets(sessionId, { skipDamaged: true }))
          lines.add(
            JSON.stringify([sessionId, n++, each.sensorId, [...each.bytes], each.atMs, each.wallAtMs]),
          );
      });
    }
    return { lines, complaints };
  }

  for (const [name, closed, options] of [
    ['was closed', true, {}],
    ['was closed, in a file too large to check whole', true, { wholeCheckBytes: 0 }],
    ['crashed', false, {}],
  ] as const)
    test(`anywhere in the files of a hub that ${name} is told, never passed over, never made worse`, () => {
      const image = imageOf(closed);
      expect(Object.keys(image).length).toBe(closed ? 1 : 2);
      const untouched = openSqliteStore({ directory: unpack(image) });
      const { lines: expected, complaints } = readAll(untouched);
      untouched.close();
      expect(complaints).toEqual([]);
      expect(expected.size).toBeGreaterThan(1_000);

      let seed = closed ? 77 : 78;
      const random = (below: number): number => {
        seed = (Math.imul(seed, 1_664_525) + 1_013_904_223) >>> 0;
        return Math.floor((seed / 2 ** 32) * below);
      };
      const outcomes = { refused: 0, told: 0, whole: 0, lastCommitOnly: 0, logCutShort: 0 };
      for (let round = 0; round < 30; round++) {
        const hurt: Image = Object.fromEntries(
          Object.entries(image).map(([name, bytes]) => [name, Buffer.from(bytes)]),
        );
        const names = Object.keys(hurt);
        const name = names[random(names.length)]!;
        const bytes = hurt[name]!;
        const cut = random(4) === 0;
        if (cut) hurt[name] = bytes.subarray(0, random(bytes.length));
        else
          for (let flips = 1 + random(3); flips > 0; flips--) bytes[random(bytes.length)]! ^= 1 << random(8);
        const directory = unpack(hurt);
        const before = contentsOf(directory);
        let store: Store;
        try {
          store = openSqliteStore({ directory, ...options });
        } catch (error) {
          expect(error).toBeInstanceOf(HubError);
          expect((error as HubError).code).toMatch(/^data\./);
          expect(contentsOf(directory)).toEqual(before);
          outcomes.refused++;
          continue;
        }
        const { lines, complaints } = readAll(store);
        store.close();
        const missing = [...expected].filter((line) => !lines.has(line));
        if (complaints.length > 0) outcomes.told++;
        else if (missing.length === 0) outcomes.whole++;
        else if (cut && name.endsWith('-wal')) {
          // A log that was cut short is the log of an earlier moment, and nothing in it says otherwise.
          const packets = [...lines].filter((line) => /^\["(running|ended)",\d/.test(line));
          expect(packets.filter((line) => !expected.has(line))).toEqual([]);
          outcomes.logCutShort++;
        } else {
          // A damaged last commit looks like one that a power cut tore: it alone may go, and only from the log.
          expect([
            name,
            missing.length <= 8,
            missing.every((line) => line.startsWith('["running",1')),
          ]).toEqual(['recordings.sqlite-wal', true, true]);
          outcomes.lastCommitOnly++;
        }
        if (complaints.length === 0 && missing.length === 0) expect(lines).toEqual(expected);
      }
      expect(outcomes.refused + outcomes.told).toBeGreaterThan(5);
    }, 30_000);

  test('of a log before its last commit: opens, says so, and keeps a copy of the log', () => {
    const image = imageOf(false);
    const log = image['recordings.sqlite-wal']!;
    log[Math.floor(log.length / 2)]! ^= 1;
    const directory = unpack(image);
    const store = openSqliteStore({ directory });
    expect(inWords(...store.notices)).toContain('recordings.sqlite-wal.damaged');
    expect(readFileSync(`${databaseIn(directory)}-wal.damaged`).equals(log)).toBe(true);
    store.close();
  });

  test('of an index that leads back to the same chunk: reading ends, and says what is missing', () => {
    const directory = join(root, 'data');
    const store = openSqliteStore({ directory, sealAtBytes: 6_000 });
    fill(store);
    store.close();
    const database = new SqliteDatabase(databaseIn(directory), { readonly: true });
    const index = 'sqlite_autoindex_chunks_1';
    const page = database.prepare('SELECT pageno FROM dbstat WHERE name = ?').pluck().get(index) as number;
    const pageBytes = database.pragma('page_size', { simple: true }) as number;
    const place = (chunk: number): number =>
      database.prepare('SELECT first_packet FROM chunks WHERE chunk_no = ?').pluck().get(chunk) as number;
    const [third, fourth] = [place(3), place(4)];
    database.close();
    const bytes = readFileSync(databaseIn(directory));
    // An index entry: header of 4 bytes, session number 1 (type 9), 16-bit place, 8-bit row number.
    const entry = (first: number, row: number): Buffer =>
      Buffer.from([4, 9, 2, 1, first >> 8, first & 255, row]);
    const at = bytes.indexOf(entry(fourth, 4), (page - 1) * pageBytes);
    expect(at).toBeLessThan(page * pageBytes);
    expect(at).toBeGreaterThan(0);
    entry(third - 1, 4).copy(bytes, at);
    writeFileSync(databaseIn(directory), bytes);
    expect(fault(() => openSqliteStore({ directory })).code).toBe('data.corrupt');
    const unchecked = openSqliteStore({ directory, wholeCheckBytes: 0 });
    expect(unchecked.readSession('ended')?.damage.length).toBeGreaterThan(0);
    const read = [...unchecked.readPackets('ended', { skipDamaged: true })];
    expect(read.length).toBeGreaterThan(0);
    expect(read.length).toBeLessThan(900);
    unchecked.close();
  });

  test('of a chunk: the rest of the recording can be read, and what cannot is named', () => {
    const directory = join(root, 'data');
    const store = openSqliteStore({ directory, sealAtBytes: 6_000 });
    fill(store);
    store.close();
    const copy = join(root, 'copy.sqlite');
    copyFileSync(databaseIn(directory), copy);
    const database = new SqliteDatabase(databaseIn(directory));
    database.exec(
      `UPDATE chunks SET body = CAST(substr(body, 1, 60) || x'00ff' || substr(body, 63) AS BLOB) WHERE chunk_no = 2`,
    );
    database.exec(`UPDATE entries SET body = replace(body, 'm-ana', 'm-bna') WHERE kind = 'mark'`);
    database.close();
    const again = openSqliteStore({ directory });
    const stored = again.readSession('ended');
    expect(stored?.damage).toHaveLength(2);
    expect(stored?.marks).toEqual([mark('m-ben', 'ben', 5_000)]);
    expect(fault(() => [...again.readPackets('ended')]).code).toBe('data.corrupt');
    const read = [...again.readPackets('ended', { skipDamaged: true })];
    expect(read.length).toBeGreaterThan(500);
    expect(read.length).toBeLessThan(900);
    expect(read.at(-1)?.atMs).toBe(250 * 899);
    again.close();
  });
});

function noise(seed: number, count: number): number[] {
  let state = seed + 1;
  return Array.from({ length: count }, () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state >>> 24;
  });
}
