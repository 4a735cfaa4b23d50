// Kills a recording process at random moments, for real, and looks at what it left.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import SqliteDatabase from 'better-sqlite3';
import { beforeAll, expect, test } from 'vitest';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { samePackets } from '../contract/packet-cases.ts';
import { numberedPacket } from './recorder-child.ts';
import { bundleChild, recordAndKill } from './recorder-killing.ts';

const roundsEach = 10;
let seed = 20_260_716;
const random = (): number => {
  seed = (Math.imul(seed, 1_664_525) + 1_013_904_223) >>> 0;
  return seed / 2 ** 32;
};

let child = '';
beforeAll(async () => {
  child = await bundleChild();
}, 60_000);

for (const durability of ['disk', 'process'] as const)
  test(`after kill -9 every packet committed to ${durability} is there, and the session is marked interrupted`, async () => {
    const rounds = Array.from({ length: roundsEach }, () => ({
      commitsBeforeKill: 1 + Math.floor(150 * random()),
      sealAtBytes: random() < 0.5 ? 700 : 9_000,
    }));
    let wholeCount = 0;
    const playRound = async (round: (typeof rounds)[number]): Promise<void> => {
      const directory = mkdtempSync(join(tmpdir(), 'slackwater-crash-'));
      try {
        const committed = await recordAndKill(child, { directory, durability, ...round });
        expect(committed).toBeGreaterThan(0);
        const store = openSqliteStore({ directory });
        expect(store.interruptedSessionIds).toEqual(['killed']);
        const packets = [...store.readPackets('killed')];
        // A commit may have ended just before its line was written: more than reported is right, less is not.
        expect(packets.length).toBeGreaterThanOrEqual(committed);
        expect(
          samePackets(
            packets,
            packets.map((_, n) => numberedPacket(n)),
          ),
        ).toBe(true);
        const session = store.readSession('killed');
        expect(session?.session.status).toBe('interrupted');
        expect(session?.session.endedAtMs).toBe(packets.at(-1)?.atMs);
        expect(session?.damage).toEqual([]);
        expect(store.notices).toEqual([]);
        store.close();
        const database = new SqliteDatabase(join(directory, 'recordings.sqlite'), { readonly: true });
        expect(database.pragma('integrity_check', { simple: true })).toBe('ok');
        database.close();
        wholeCount++;
      } finally {
        rmSync(directory, { recursive: true, force: true, maxRetries: 5 });
      }
    };
    // Two at a time: most of a round is a process starting.
    const waiting = [...rounds];
    const asker = async (): Promise<void> => {
      for (let round = waiting.pop(); round !== undefined; round = waiting.pop()) await playRound(round);
    };
    await Promise.all([asker(), asker()]);
    expect(wholeCount).toBe(roundsEach);
  }, 60_000);
