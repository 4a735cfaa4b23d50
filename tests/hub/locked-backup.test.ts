// Locked backups: what is locked comes back to the byte, by the format told in the README with nothing of ours; anything changed,
// cut, moved or locked otherwise is refused. By the clock, the newest so many stay and nothing else is touched.

import { createDecipheriv, scryptSync } from 'node:crypto';
import {
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import type { CommandIo } from '../../hub/base/command-io.ts';
import { HubError } from '../../hub/base/hub-error.ts';
import { runBackup, runRestore } from '../../hub/commands/backup.ts';
import { isLockedFile, lockFile, unlockFile } from '../../hub/recorder/backup/locked-file.ts';
import { ScheduledBackups } from '../../hub/recorder/backup/scheduled-backups.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { fillFixture } from '../contract/fixture-recording.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { testLog } from '../support/serve-test-hub.ts';

// Each lock and unlock derives a key on purpose slowly.
vi.setConfig({ testTimeout: 120_000 });

const passphrase = 'under the ice, höher';
let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-locked-test-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));
const at = (name: string): string => join(folder, name);
const refused = (work: Promise<unknown>): Promise<void> =>
  expect(work).rejects.toSatisfy((error) => error instanceof HubError && error.code === 'input.malformed');

function someFile(name: string, bytes: number): Buffer {
  const content = Buffer.from(
    Uint8Array.from({ length: bytes }, (_, index) => (index * 31 + (index >> 8)) % 256),
  );
  writeFileSync(at(name), content);
  return content;
}

describe('a locked file', () => {
  // Around the borders of pieces, where a last piece is easily taken for one in the middle.
  test.each([0, 1, 65_535, 65_536, 65_537, 3 * 65_536, 200_000])('of %d bytes comes back', async (bytes) => {
    const content = someFile('plain', bytes);
    await lockFile(at('plain'), at('locked'), passphrase);
    expect(await isLockedFile(at('locked'))).toBe(true);
    expect(statSync(at('locked')).mode & 0o777).toBe(0o600);
    await unlockFile(at('locked'), at('back'), passphrase);
    expect(readFileSync(at('back')).equals(content)).toBe(true);
  });

  test('opens by the format as it is told, without this program', async () => {
    const content = someFile('plain', 150_000);
    await lockFile(at('plain'), at('locked'), passphrase);
    const locked = readFileSync(at('locked'));
    const head = locked.subarray(0, 96);
    const salt = Buffer.from(/salt=([0-9a-f]{32})/.exec(head.toString('latin1'))![1]!, 'hex');
    const key = scryptSync(passphrase.normalize('NFC'), salt, 32, {
      N: 131_072,
      r: 8,
      p: 1,
      maxmem: 2 ** 28,
    });
    const pieces: Buffer[] = [];
    for (let from = 96, number = 0; from < locked.length; from += 65_552, number += 1) {
      const piece = locked.subarray(from, Math.min(from + 65_552, locked.length));
      const nonce = Buffer.alloc(12);
      nonce.writeUInt32BE(number, 7);
      nonce[11] = from + 65_552 >= locked.length ? 1 : 0;
      const decipher = createDecipheriv('aes-256-gcm', key, nonce);
      decipher.setAAD(head);
      decipher.setAuthTag(piece.subarray(-16));
      pieces.push(decipher.update(piece.subarray(0, -16)), decipher.final());
    }
    expect(Buffer.concat(pieces).equals(content)).toBe(true);
  });

  test('with another passphrase, changed, cut off or put together otherwise is refused', async () => {
    someFile('plain', 150_000);
    await lockFile(at('plain'), at('locked'), passphrase);
    const locked = readFileSync(at('locked'));
    const tried = async (name: string, bytes: Buffer, words = passphrase): Promise<void> => {
      writeFileSync(at(name), bytes);
      await refused(unlockFile(at(name), at(`${name}.back`), words));
    };
    await tried('wrong', locked, `${passphrase}.`);
    const changed = Buffer.from(locked);
    changed[70_000]! ^= 1;
    await tried('changed', changed);
    const salted = Buffer.from(locked);
    salted.write('0'.repeat(8), 43);
    await tried('salted', salted);
    await tried('cut', locked.subarray(0, 96 + 65_552));
    await tried('cut inside', locked.subarray(0, locked.length - 1));
    await tried('empty', locked.subarray(0, 96));
    const first = locked.subarray(96, 96 + 65_552);
    const second = locked.subarray(96 + 65_552, 96 + 2 * 65_552);
    const rest = locked.subarray(96 + 2 * 65_552);
    await tried('swapped', Buffer.concat([locked.subarray(0, 96), second, first, rest]));
    await tried('left out', Buffer.concat([locked.subarray(0, 96), first, rest]));
    await refused(unlockFile(at('plain'), at('plain.back'), passphrase));
  });
});

describe('by the clock', () => {
  const hourMs = 3_600_000;
  function begin(recording = false) {
    const store = openSqliteStore({ directory: at('data') });
    fillFixture(store);
    const clock = createFakeClock(1_000, Date.UTC(2031, 4, 17, 9, 0, 0));
    const state = { recording };
    const errors: string[] = [];
    const backups = new ScheduledBackups({
      schedule: { folder, everyHours: 24, keep: 2, passphrase },
      store,
      clock,
      log: { ...testLog, error: (message) => errors.push(message) },
      isRecording: () => state.recording,
    });
    /** The disk's clock is the machine's: a file made now is as old as the test's clock says. */
    const stamp = () => {
      for (const { name } of backups.kept) {
        const [, day, time] = /-(\d{8})-(\d{4})/.exec(name)!;
        const iso = `${day!.replace(/(....)(..)(..)/, '$1-$2-$3')}T${time!.replace(/(..)(..)/, '$1:$2')}:00Z`;
        utimesSync(join(folder, name), new Date(iso), new Date(iso));
      }
    };
    const names = () => backups.kept.map(({ name }) => name);
    return { store, clock, state, backups, errors, stamp, names };
  }

  test('the first at once, the next a day later, two stay, and other files are left alone', async () => {
    const { store, clock, backups, stamp, names } = begin();
    writeFileSync(at('holiday.jpg'), 'x');
    writeFileSync(at('slackwater-20200101-0000.backup'), 'x');
    for (let day = 0; day < 3; day += 1) {
      await backups.lookNow();
      stamp();
      await backups.lookNow();
      clock.jump(24 * hourMs);
    }
    expect(names()).toEqual([
      'slackwater-20310519-0900.backup.locked',
      'slackwater-20310518-0900.backup.locked',
    ]);
    expect(readdirSync(folder).toSorted()).toEqual([
      'data',
      'holiday.jpg',
      'slackwater-20200101-0000.backup',
      'slackwater-20310518-0900.backup.locked',
      'slackwater-20310519-0900.backup.locked',
    ]);
    expect(readFileSync(join(folder, names()[0]!)).includes('Ana')).toBe(false);
    expect(backups.problem).toBeNull();
    store.close();
  });

  test('waits for the end of a session, but not for ever', async () => {
    const { store, clock, state, backups, stamp, names } = begin(true);
    await backups.lookNow();
    expect(names()).toEqual([]);
    state.recording = false;
    await backups.lookNow();
    stamp();
    state.recording = true;
    clock.jump(30 * hourMs);
    await backups.lookNow();
    expect(names()).toHaveLength(1);
    clock.jump(20 * hourMs);
    await backups.lookNow();
    expect(names()).toHaveLength(2);
    store.close();
  });

  test('a folder that is not there is said, and nothing is left behind', async () => {
    const { store, backups, errors } = begin();
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
    await backups.makeNow();
    expect(backups.problem).not.toBeNull();
    expect(errors).toEqual(['backup failed']);
    expect(existsSync(folder)).toBe(false);
    store.close();
  });

  test('the drill: the newest is put back by the command line, and holds everything', async () => {
    const { store, backups, names } = begin();
    const before = JSON.stringify([store.listAthletes(), store.readSession('whole')]);
    await backups.makeNow();
    store.close();
    const io = (env: NodeJS.ProcessEnv): CommandIo => ({
      stdout: { write: () => true } as never,
      stderr: { write: () => true } as never,
      env,
    });
    const file = join(folder, names()[0]!);
    const args = [file, '--data', at('elsewhere')];
    await expect(runRestore(args, io({}))).rejects.toMatchObject({ code: 'config.badValue' });
    await refused(runRestore(args, io({ SLACKWATER_BACKUP_PASSPHRASE: 'something else entirely' })));
    expect(await runRestore(args, io({ SLACKWATER_BACKUP_PASSPHRASE: passphrase }))).toBe(0);
    const restored = openSqliteStore({ directory: at('elsewhere') });
    expect(JSON.stringify([restored.listAthletes(), restored.readSession('whole')])).toBe(before);
    restored.close();
    expect(readdirSync(folder).filter((name) => name.startsWith('.'))).toEqual([]);
    expect(await runBackup([at('again.backup'), '--data', at('elsewhere')], io({}))).toBe(0);
  });
});
