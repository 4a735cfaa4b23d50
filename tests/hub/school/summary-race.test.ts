// A summary that was begun before news of its recording is not kept after them, with the real database: what it was made of is
// compared in the statement that keeps it, which waits for news that are being taken.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import { SummaryWork } from '../../../hub/recordings/summary-work.ts';
import { ArchiveStore } from '../../../hub/school/archive/archive-store.ts';
import type { SessionSummary } from '../../../src/sessions/session-summary.ts';
import { HubAndArchive } from '../../support/school/hub-and-archive.ts';
import { type PostgresServer, startPostgres } from '../../support/school/servers.ts';

// A server is started: a loaded machine takes its time.
vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const [sessionId, athleteId] = ['quay.s1', 'quay.ath-1'];
const summary = { figures: { holdCount: 2, longestHoldMs: 75_000, lowestSpo2Percent: 91 } };
const folder = mkdtempSync(join(tmpdir(), 'slackwater-summary-race-'));
let postgres: PostgresServer;
let both: HubAndArchive | undefined;

beforeAll(async () => {
  postgres = await startPostgres();
});
afterEach(async () => {
  await both?.close();
  both = undefined;
});
afterAll(async () => {
  await postgres?.stop();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

/** An ended recording that the archive has whole and the school's list has read. */
async function setUp() {
  const hubAndArchive = await HubAndArchive.open(postgres, mkdtempSync(join(folder, 'data-')));
  both = hubAndArchive;
  hubAndArchive.record(40);
  await hubAndArchive.settle();
  const store = new ArchiveStore(hubAndArchive.archive);
  await store.refresh();
  const kept = async (): Promise<unknown[]> => {
    const { rows } = await hubAndArchive.archive.pool.query<{ body: string }>('SELECT body FROM summaries');
    return rows.map(({ body }) => JSON.parse(body));
  };
  const takeNews = async (title: string): Promise<void> => {
    hubAndArchive.rename(title);
    await hubAndArchive.send();
    await hubAndArchive.deliver(0);
  };
  return { ...hubAndArchive, archive: hubAndArchive.archive, store, kept, takeNews };
}

/** The work as the school does it; `meanwhile` happens while the summary is worked out. */
function workOver(store: ArchiveStore, meanwhile: () => Promise<void>): SummaryWork {
  return new SummaryWork({
    store,
    recordings: {
      summarise: async () => {
        await meanwhile();
        return summary as unknown as SessionSummary;
      },
      changeOf: () => 0,
      isWorkedOut: () => true,
    },
    madeBy: 'rules',
    mayWork: () => true,
    atOnce: 1,
    warn: (message, error) => expect.unreachable(`${message} ${String(error)}`),
  });
}

test('news taken while it was worked out: it is not kept, whether the list has read them or not', async () => {
  const { store, kept, takeNews } = await setUp();
  await workOver(store, () => takeNews('Tuesday')).want([{ sessionId, athleteId }]);
  expect(await kept()).toEqual([]);
  await store.refresh();
  await workOver(store, async () => {
    await takeNews('Wednesday');
    await store.refresh();
  }).want([{ sessionId, athleteId }]);
  expect(await kept()).toEqual([]);
  expect((await store.listSessions())[0]?.parts.map(({ workedOut }) => workedOut)).toEqual([null, null]);
});

test('without news it is kept, also over one of other rules, and the list shows it', async () => {
  const { store, kept, takeNews } = await setUp();
  await takeNews('Tuesday');
  await store.refresh();
  await store.saveSummary(sessionId, athleteId, 'earlier rules', null);
  await workOver(store, async () => undefined).want([{ sessionId, athleteId }]);
  expect(await kept()).toEqual([summary]);
  expect((await store.listSessions())[0]?.parts[0]?.workedOut?.figures).toEqual(summary.figures);
  await takeNews('Wednesday');
  expect(await kept()).toEqual([]);
});

test('news that are being taken are waited for', async () => {
  const { archive, store, kept, takeNews } = await setUp();
  const madeOf = store.stateOf(sessionId);
  const holding = await archive.pool.connect();
  const waiting = async (): Promise<number> => {
    const { rows } = await archive.pool.query<{ n: number }>(
      `SELECT count(*)::int AS n FROM pg_stat_activity WHERE wait_event_type = 'Lock' AND datname = current_database()`,
    );
    return rows[0]?.n ?? 0;
  };
  try {
    // The transaction that takes the news has changed the recording, and stands before what it was told of it.
    await holding.query('BEGIN');
    await holding.query('LOCK TABLE told IN SHARE MODE');
    const taken = takeNews('Tuesday');
    await expect.poll(waiting).toBe(1);
    const saved = store.saveSummary(sessionId, athleteId, 'rules', summary, madeOf);
    await expect.poll(waiting).toBe(2);
    await holding.query('COMMIT');
    await Promise.all([taken, saved]);
  } finally {
    holding.release();
  }
  expect(await kept()).toEqual([]);
});
