// The archive ends equal to the hub, whatever is killed, put back from a backup, lost or cut off: the recorder's own files and a
// real database, faults in any order.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { HubAndArchive } from '../../support/school/hub-and-archive.ts';
import { type PostgresServer, startPostgres } from '../../support/school/servers.ts';

// Each run makes a database and syncs its files: a loaded machine takes its time.
vi.setConfig({ testTimeout: 600_000, hookTimeout: 120_000 });

let postgres: PostgresServer;
beforeAll(async () => {
  postgres = await startPostgres();
});
afterAll(async () => {
  await postgres?.stop();
});

async function within(work: (world: HubAndArchive) => Promise<void>): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-equal-'));
  const world = await HubAndArchive.open(postgres, folder);
  try {
    await work(world);
  } finally {
    await world.close();
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
  }
}

async function endsEqual(world: HubAndArchive): Promise<void> {
  await world.settle();
  const { hub, archive } = await world.both();
  expect(archive).toEqual(hub);
}

type Step = (world: HubAndArchive) => unknown;
const some = fc.integer({ min: 1, max: 60 });
const steps: fc.Arbitrary<{ readonly name: string; readonly step: Step }> = fc.oneof(
  {
    weight: 5,
    arbitrary: some.map((n) => ({ name: `record ${n}`, step: (w: HubAndArchive) => w.record(n) })),
  },
  { weight: 2, arbitrary: fc.constant({ name: 'end', step: (w: HubAndArchive) => w.endSession() }) },
  { weight: 4, arbitrary: fc.constant({ name: 'send', step: (w: HubAndArchive) => w.send() }) },
  {
    weight: 4,
    arbitrary: fc
      .integer({ min: 0, max: 4 })
      .map((n) => ({ name: `deliver, ${n} again`, step: (w: HubAndArchive) => w.deliver(n) })),
  },
  {
    weight: 3,
    arbitrary: fc
      .integer({ min: 0, max: 3 })
      .map((n) => ({ name: `killed after ${n}`, step: (w: HubAndArchive) => w.sendUntilKilled(n) })),
  },
  {
    weight: 2,
    arbitrary: fc
      .constantFrom('ath-1', 'ath-2')
      .map((who) => ({ name: `erase ${who}`, step: (w: HubAndArchive) => w.erase(who) })),
  },
  { weight: 2, arbitrary: fc.constant({ name: 'back up', step: (w: HubAndArchive) => w.backUpHub() }) },
  {
    weight: 2,
    arbitrary: fc.boolean().map((with_) => ({
      name: `restore ${with_ ? 'the folder' : 'the recordings'}`,
      step: (w: HubAndArchive) => w.restoreHub(with_),
    })),
  },
  {
    weight: 3,
    arbitrary: fc.tuple(some, some).map(([lost, then]) => ({
      name: `power cut, ${lost} lost, ${then} then`,
      step: (w: HubAndArchive) => w.powerCut(lost, then),
    })),
  },
  { weight: 2, arbitrary: fc.constant({ name: 'lose cursor', step: (w: HubAndArchive) => w.loseCursor() }) },
  {
    weight: 1,
    arbitrary: fc
      .integer({ min: 0, max: 60_000 })
      .map((at) => ({ name: `damage cursor at ${at}`, step: (w: HubAndArchive) => w.damageCursor(at) })),
  },
  {
    weight: 1,
    arbitrary: some.map((n) => ({
      name: `archive put back, ${n} and sent meanwhile`,
      step: (w: HubAndArchive) =>
        w.putArchiveBack(async () => {
          w.record(n);
          await w.send();
          await w.deliver(0);
        }),
    })),
  },
  {
    weight: 2,
    arbitrary: fc.boolean().map((isThere) => ({
      name: `school ${isThere ? 'there' : 'away'}`,
      step: (w: HubAndArchive) => {
        w.isSchoolThere = isThere;
      },
    })),
  },
  {
    weight: 1,
    arbitrary: fc
      .constantFrom(-3_600_000, 3_600_000)
      .map((by) => ({ name: `clock ${by}`, step: (w: HubAndArchive) => w.moveClock(by) })),
  },
);

const runs = Number(process.env['SLACKWATER_EQUAL_RUNS'] ?? 12);

test('whatever happens in whatever order, the archive ends with what the hub has, each packet once', async () => {
  await fc.assert(
    fc.asyncProperty(fc.array(steps, { minLength: 4, maxLength: 16 }), async (all) => {
      await within(async (world) => {
        for (const { step } of all) await step(world);
        await endsEqual(world);
      });
    }),
    {
      numRuns: runs,
      ...(process.env['SLACKWATER_EQUAL_SEED'] !== undefined && {
        seed: Number(process.env['SLACKWATER_EQUAL_SEED']),
      }),
    },
  );
});

describe('one by one', () => {
  test('a power cut after some was sent: other packets under the same numbers replace those', () =>
    within(async (world) => {
      await world.powerCut(40, 30);
      await world.deliver(0);
      await endsEqual(world);
      // What only the archive has is not thrown away.
      expect(await world.generations()).toEqual({ open: 1, aside: 1 });
      const [aside, ...more] = await world.aside();
      expect(more).toEqual([]);
      expect(aside?.copy).toMatchObject({ hub: 'quay', athleteNames: ['One', 'Two'] });
      expect(aside?.packets).toHaveLength(aside!.copy.packetCount);
      // The forty of the power cut are in it; the shown copy has thirty others in their place.
      const both = (await world.both()).hub as Record<string, { packets: string[] }>;
      const shown = new Set(both['s1']!.packets.map((packet) => packet.split(' ')[2]));
      const asHub = (hex: string) => [...Buffer.from(hex, 'hex')].join('.');
      const lost = aside!.packets.filter((hex) => !shown.has(asHub(hex)));
      expect(lost).toHaveLength(40);
      expect(both['s1']!.packets).toHaveLength(aside!.copy.shownPacketCount);
    }));

  test('a backup of before an erasure is put back: who was erased is there again, as at the hub', () =>
    within(async (world) => {
      world.record(50);
      world.endSession();
      world.backUpHub();
      await world.send();
      await world.deliver(0);
      world.erase('ath-2');
      await world.send();
      await world.deliver(0);
      expect(await world.keepsPacketsOf('ath-2')).toBe(false);
      world.restoreHub(false);
      await endsEqual(world);
      world.erase('ath-2');
      await endsEqual(world);
      expect(await world.keepsPacketsOf('ath-2')).toBe(false);
    }));

  test('a cursor lost after an erasure: what the archive has is asked for, and nothing is sent twice', () =>
    within(async (world) => {
      world.record(50);
      world.erase('ath-2');
      await world.send();
      await world.deliver(0);
      const before = await world.generations();
      world.loseCursor();
      await world.send();
      await world.deliver(0);
      await endsEqual(world);
      expect(await world.generations()).toEqual(before);
    }));

  test('a cursor lost while no school runs, in a recording that grows: all comes anew, and nothing is kept twice', () =>
    within(async (world) => {
      world.record(50);
      await world.send();
      await world.deliver(0);
      world.isSchoolThere = false;
      world.loseCursor();
      world.record(20);
      await world.send();
      await world.deliver(2);
      await endsEqual(world);
      expect(await world.generations()).toEqual({ open: 1, gone: 1 });
    }));
});
