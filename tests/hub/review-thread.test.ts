// Recordings worked out in a thread of their own: the same result, no alarm waits for it, work nobody waits for is
// dropped, and a thread that dies is one clear sentence and no more.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { openStoreInMemory, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { createReviewThread, type ReviewThreadOptions } from '../../hub/recordings/review/review-thread.ts';
import { athleteRecordingSchema, progressBodySchema } from '../../shared/http.ts';
import { said } from '../../shared/said.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { inlineReview } from '../support/inline-review.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { serveTestHub } from '../support/serve-test-hub.ts';
import { hello, openTestPage } from '../support/test-page.ts';
import { writeSession } from '../support/written-sessions.ts';

const entryOf = (name: string): string => new URL(`../support/${name}`, import.meta.url).pathname;
const page = { urgency: 'page' } as const;

const open: RecordedSessions[] = [];
afterEach(async () => {
  for (const each of open.splice(0)) await each.close();
});

function storeWithSessions(count = 1): SqliteStore {
  const store = openStoreInMemory();
  for (let index = 1; index <= count; index += 1)
    writeSession(store, {
      sessionId: `s${index}`,
      athleteId: 'mira',
      athleteName: 'Mira',
      startedWallAtMs: Date.UTC(2031, 4, index),
      title: '',
      holdsS: [70, 80],
      seed: index,
    });
  return store;
}

function recordingsIn(store: SqliteStore, options: Partial<ReviewThreadOptions> = {}): RecordedSessions {
  const clock = createFakeClock();
  const thread = createReviewThread({ clock, warn: () => undefined, ...options });
  const recordings = new RecordedSessions(store, thread);
  open.push(recordings);
  return recordings;
}

test('holds, measures, traces and files are those of the same work in one thread', async () => {
  const store = storeWithSessions();
  const threaded = recordingsIn(store);
  const inline = new RecordedSessions(store, inlineReview);
  const early = await threaded.traces('s1', 'mira', 'cleaned', page);
  expect(early?.cleaned).toBe(false);
  expect(await threaded.readAthlete('s1', 'mira', page)).toEqual(
    await inline.readAthlete('s1', 'mira', page),
  );
  for (const signals of ['raw', 'cleaned'] as const) {
    const [a, b] = await Promise.all(
      [threaded, inline].map(async (each) => {
        const columns = (await each.traces('s1', 'mira', signals, page))!.columns;
        return [...columns].map(([channel, own]) => [channel, own.decimate(0, 600_000, 400)]);
      }),
    );
    expect(a).toEqual(b);
    expect(a!.length).toBeGreaterThan(2);
  }
  for (const format of ['csv', 'edf', 'fhir'] as const)
    expect(Buffer.from((await threaded.file('s1', 'mira', format, page))!)).toEqual(
      Buffer.from((await inline.file('s1', 'mira', format, page))!),
    );
  expect(await threaded.readAthlete('s1', 'nobody', page)).toBeUndefined();
  expect(await threaded.derive('nothing', 'mira', page)).toBeUndefined();
});

test('a sensor with a profile is read by the one kept with its session: drawn and exported', async () => {
  const store = openStoreInMemory();
  writeSession(store, {
    sessionId: 'waves',
    athleteId: 'mira',
    athleteName: 'Mira',
    startedWallAtMs: Date.UTC(2031, 4, 1),
    title: '',
    holdsS: [60],
    wave: true,
  });
  const recordings = recordingsIn(store);
  const early = (await recordings.traces('waves', 'mira', 'cleaned', page))!;
  expect([...early.columns.keys()]).toEqual(['heartRateBpm', 'spo2Percent', 'pulseRateBpm']);
  await recordings.derive('waves', 'mira', page);
  const { columns, cleaned } = (await recordings.traces('waves', 'mira', 'cleaned', page))!;
  expect(cleaned).toBe(true);
  // 300 s of 100 samples each, less nine of the first packet that would lie before the session.
  expect(columns.get('pleth')?.length).toBe(29_991);
  const text = Buffer.from((await recordings.file('waves', 'mira', 'csv', page))!).toString();
  expect(text.split('\n').filter((line) => line.includes(',pleth,'))).toHaveLength(29_991);
});

test('corrections are measured in it too', async () => {
  const store = storeWithSessions();
  const recordings = recordingsIn(store);
  const before = (await recordings.readAthlete('s1', 'mira', page))!;
  store.addCorrection('s1', {
    athleteId: 'mira',
    step: {
      correctionId: 'c1',
      madeWallAtMs: 1,
      correction: { type: 'removeHold', holdId: before.holds[0]!.hold.holdId },
      estimated: null,
    },
  });
  recordings.corrected('s1', 'mira');
  const after = (await recordings.readAthlete('s1', 'mira', page))!;
  expect(after.holds).toEqual([expect.objectContaining({ hold: before.holds[1]!.hold })]);
});

test('while a recording keeps the thread busy, an alarm of the running session comes through', async () => {
  const store = storeWithSessions();
  const clock = createFakeClock();
  const review = createReviewThread({
    clock,
    warn: () => undefined,
    entry: entryOf('blocked-review-worker.mjs'),
  });
  const served = await serveTestHub({ store, clock, review });
  const watching = openTestPage(served.url);
  watching.send(hello);
  await watching.until('welcome');
  served.hub.startSession(['mira'], '');
  const leave = new AbortController();
  const answer = fetchAsOwn(`${served.url}/api/sessions/s1/athletes/mira`, { signal: leave.signal });
  const shareNow = async () =>
    progressBodySchema.parse(
      await (await fetchAsOwn(`${served.url}/api/sessions/s1/athletes/mira/progress`)).json(),
    ).share;
  await expect.poll(shareNow).toBe(0.25);

  for (let second = 0; second < 40; second += 1) {
    served.source.oximetry(second < 10 ? 97 : 71);
    served.source.heartRate(60);
    served.clock.advance(1_000);
  }
  await watching.until('alarms', ({ alarms }) => alarms.some(({ kind }) => kind === 'floorBreached'));
  const outline = await (await fetchAsOwn(`${served.url}/api/sessions/s1?outline`)).json();
  expect(athleteRecordingSchema.parse(outline.athletes[0])).toMatchObject({
    workedOut: false,
    holds: [{ measures: [] }, { measures: [] }],
  });
  // The page leaves: the work is dropped. Until then it was waited for, however long it took.
  leave.abort();
  await expect(answer).rejects.toThrow('aborted');
  await expect.poll(shareNow).toBeNull();
  watching.close();
  await served.close();
});

test('a thread that dies is one clear sentence, and the next try works', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-review-'));
  const marker = join(folder, 'die');
  writeFileSync(marker, '');
  process.env['SLACKWATER_TEST_DIE_ONCE'] = marker;
  try {
    const store = storeWithSessions();
    const clock = createFakeClock();
    const entry = entryOf('dying-review-worker.mjs');
    const served = await serveTestHub({
      store,
      clock,
      review: createReviewThread({ clock, warn: () => undefined, entry }),
    });
    const path = `${served.url}/api/sessions/s1/athletes/mira`;
    const [first, traced] = await Promise.all([fetchAsOwn(path), fetchAsOwn(`${path}/trace`)]);
    expect(first.status).toBe(500);
    expect(traced.status).toBe(500);
    expect(await first.json()).toEqual({
      code: 'internal',
      message: 'Working out this recording failed. What was recorded is safe. Try again.',
      said: said('refusal.reviewFailed'),
    });
    const second = await fetchAsOwn(path);
    expect(second.status).toBe(200);
    expect(athleteRecordingSchema.parse(await second.json()).holds).toHaveLength(2);
    await served.close();
  } finally {
    delete process.env['SLACKWATER_TEST_DIE_ONCE'];
    rmSync(folder, { recursive: true });
  }
});

test('more memory than it may take is said as that', async () => {
  const store = storeWithSessions();
  const recordings = recordingsIn(store, { memoryLimitMb: 6 });
  await expect(recordings.derive('s1', 'mira', page)).rejects.toMatchObject({
    name: 'ReviewFault',
    message: expect.stringContaining('more memory'),
  });
});

test('what nobody waits for any more is dropped; the others are served, people before the background', async () => {
  const store = storeWithSessions(4);
  const recordings = recordingsIn(store);
  const order: string[] = [];
  const ask = (sessionId: string, asking: Parameters<RecordedSessions['derive']>[2]) =>
    recordings.derive(sessionId, 'mira', asking).then(
      (derived) => order.push(`${sessionId} ${derived?.holds.length}`),
      (reason: unknown) => order.push(`${sessionId} ${String(reason)}`),
    );
  const first = new AbortController();
  const waiting = new AbortController();
  const all = [
    ask('s1', { ...page, signal: first.signal }),
    ask('s2', { urgency: 'background' }),
    ask('s3', { ...page, signal: waiting.signal }),
    ask('s4', page),
  ];
  // Each has asked the store and stands in line.
  await new Promise((resolve) => setImmediate(resolve));
  waiting.abort('left');
  first.abort('left too');
  await Promise.all(all);
  expect(order).toEqual(['s3 left', 's1 left too', 's4 2', 's2 2']);
  // Two who wait for the same: one leaving does not take it from the other.
  recordings.forget('s1');
  const one = new AbortController();
  const both = [ask('s1', { ...page, signal: one.signal }), ask('s1', page)];
  await new Promise((resolve) => setImmediate(resolve));
  one.abort('left');
  await Promise.all(both);
  expect(order.slice(4)).toEqual(['s1 left', 's1 2']);
});

test('a closing hub drops all work', async () => {
  const recordings = recordingsIn(storeWithSessions(2));
  const both = ['s1', 's2'].map((sessionId) => recordings.derive(sessionId, 'mira', page));
  const settled = Promise.allSettled(both);
  await recordings.close();
  for (const each of await settled)
    expect(each).toMatchObject({ status: 'rejected', reason: { message: 'The hub is stopping.' } });
});
