// How a hold felt: said over the socket, sent to every page, kept with the recording, and read by the training advice.

import { afterEach, beforeEach, expect, test } from 'vitest';
import { trainingSessionsOf } from '../../hub/plans/training-history.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { inlineReview } from '../support/inline-review.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';
import { hello, openTestPage, type TestPage } from '../support/test-page.ts';

let served: ServedTestHub;
let page: TestPage;
beforeEach(async () => {
  served = await serveTestHub();
  page = openTestPage(served.url);
  page.send(hello);
  await page.until('welcome');
});
afterEach(async () => {
  page.close();
  await served.close();
});

function seconds(count: number): void {
  for (let i = 0; i < count; i += 1) {
    served.source.oximetry(97);
    served.source.heartRate(62);
    served.clock.advance(1_000);
  }
}

/** A hold of 30 s by marks; its id. */
async function markedHold(): Promise<string> {
  const mark = (kind: 'holdStart' | 'holdEnd') =>
    served.hub.addMark({ athleteId: 'mira', kind, atMs: null, text: null });
  mark('holdStart');
  seconds(30);
  mark('holdEnd');
  seconds(5);
  const { holdId } = await page.until('hold', (message) => message.hold?.end != null);
  return holdId;
}

const rate = (holdId: string, comfort: number | null, note: string | null) =>
  page.send({
    type: 'rateHold',
    requestId: `r-${holdId}-${comfort}`,
    athleteId: 'mira',
    holdId,
    feeling: { comfort, note },
  });

test('it reaches the pages, stays through a reload, and is in the recording and the advice', async () => {
  const started = served.hub.startSession(['mira'], 'evening');
  if (!started.ok) throw new Error(started.reason.said.code);
  seconds(20);
  const holdId = await markedHold();
  rate(holdId, 2, null);
  await page.until('hold', (message) => message.hold?.feeling?.comfort === 2);
  rate(holdId, 4, 'warm hands');
  await page.until('hold', (message) => message.hold?.feeling?.comfort === 4);

  const second = openTestPage(served.url);
  second.send(hello);
  const welcome = await second.until('welcome');
  expect(welcome.athletes[0]!.holds[0]!.feeling).toEqual({ comfort: 4, note: 'warm hands' });
  second.close();

  // A later revision of the hold does not lose it.
  seconds(40);
  served.hub.endSession();
  const { sessionId } = started.value;
  const recording = (await new RecordedSessions(served.store, inlineReview).read(sessionId, {
    urgency: 'page',
  }))!;
  expect(recording.athletes[0]!.holds.map(({ hold }) => hold.feeling)).toEqual([
    { comfort: 4, note: 'warm hands' },
  ]);
  const sources = {
    store: served.store,
    runs: [],
    entries: [],
    detailsOf: () => null,
    localDayOf: () => 0,
    sinceWallMs: 0,
  };
  expect((await trainingSessionsOf(sources, 'mira'))[0]!.comfort).toBe(4);
});

test('it stays when the hold is revised after it was said: saturation that falls on', async () => {
  const started = served.hub.startSession(['mira'], 'evening');
  if (!started.ok) throw new Error(started.reason.said.code);
  seconds(20);
  const holdId = await markedHold();
  rate(holdId, 2, null);
  await page.until('hold', (message) => message.hold?.feeling?.comfort === 2);
  for (const spo2Percent of [96, 94, 92]) {
    served.source.oximetry(spo2Percent);
    served.clock.advance(1_000);
  }
  const revised = await page.until('hold', (message) => message.hold?.lowestSpo2?.value === 92);
  expect(revised.hold?.feeling).toEqual({ comfort: 2, note: null });
  const stored = served.store.readSession(started.value.sessionId)!.holds.find((h) => !h.withdrawn);
  expect(stored?.hold).toMatchObject({ lowestSpo2: { value: 92 }, feeling: { comfort: 2, note: null } });
});

test('a hold that goes on, or that nobody knows, is refused with a reason', async () => {
  served.hub.startSession(['mira'], 'evening');
  seconds(20);
  served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
  seconds(5);
  const { holdId } = await page.until('hold');
  rate(holdId, 3, null);
  expect((await page.until('refused', ({ code }) => code === 'unknownHold')).said.code).toBe(
    'refusal.holdGoesOn',
  );
  rate('nothing', 3, null);
  await page.until('refused', ({ requestId }) => requestId === 'r-nothing-3');
  expect(served.hub.rateHold('nobody', holdId, { comfort: 3, note: null }).ok).toBe(false);
});
