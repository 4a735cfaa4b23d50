// The list of recordings in a real browser against the real hub: figures of holds as told live, marked as such while a session runs;
// worked out after it without anybody asking; and as corrected, the same as in the opened recording.

import { expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { type RecordingBody, recordingBodySchema } from '../../shared/http.ts';
import { headlineOf } from '../../src/sessions/session-headline.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage } from '../support/chromium-page.ts';
import { looksRight } from '../support/looks-right.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { openPageHub } from '../support/page-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

const suite = browserSuite();

test('told live while a session runs and said to be, worked out after it, and corrected', async () => {
  const store = openStoreInMemory();
  const marit = { athleteId: 'athlete-1', athleteName: 'Marit Oduya' };
  writeSession(store, {
    ...marit,
    sessionId: 'evening',
    startedWallAtMs: Date.UTC(2026, 4, 12, 18, 30),
    title: 'SIMULATED evening statics',
    holdsS: [100, 130],
  });
  writeSession(store, {
    ...marit,
    sessionId: 'both',
    others: [{ athleteId: 'athlete-2', athleteName: 'Teo Lindqvist' }],
    startedWallAtMs: Date.UTC(2026, 4, 10, 18, 30),
    title: 'SIMULATED both in the hall',
    holdsS: [90],
  });
  const hub = await openPageHub({ athleteCount: 1, simulated: true, store });
  suite.closeAfterTest(hub);
  const { page, context, faults } = await openPage(suite.browser, `${hub.url}/recordings`, {
    width: 'phone',
  });
  suite.closeAfterTest(context);
  const row = page.locator('a[href="/recordings/evening"] .recording-length');
  const mark = row.locator('.figures-mark');
  await mark.waitFor();
  expect(await row.innerText()).toMatch(/2 holds · longest 2:10\s+as told live/);
  // For who points at it, and for who hears the page.
  const why = /told live.* worked out between sessions/;
  expect(await mark.getAttribute('title')).toMatch(why);
  expect(await page.getByRole('link', { name: why }).count()).toBe(2);
  await looksRight(page, 'recordings-told-live');
  // Dark now. Axe does not look at placeholders; the soft ink is 9.1 to 1 there (tokens.css).
  const inks = await page.evaluate(`[
    getComputedStyle(document.querySelector('input[type="search"]'), '::placeholder').color,
    getComputedStyle(document.querySelector('.recording-when')).color,
  ]`);
  expect(new Set(inks as string[]).size).toBe(1);

  hub.hub.endSession();
  await row.getByText('lowest', { exact: false }).waitFor();
  await expect.poll(() => page.locator('.figures-mark').count()).toBe(0);
  const recording = async (): Promise<RecordingBody> =>
    recordingBodySchema.parse(await (await fetchAsOwn(`${hub.url}/api/sessions/evening`)).json());
  const inRow = async () =>
    /(\d+) holds? · longest (\S+) · lowest (\d+)/.exec(await row.innerText())!.slice(1);
  const inHeadline = ({ athletes }: RecordingBody) => {
    const { holdCount, longest, lowest } = headlineOf(athletes[0]!.holds);
    const seconds = Math.floor(longest!.durationMs / 1_000);
    const clock = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, '0')}`;
    return [String(holdCount), clock, String(Math.round(lowest!.spo2Percent))];
  };
  const before = await recording();
  expect(await inRow()).toEqual(inHeadline(before));

  const answer = await fetchAsOwn(`${hub.url}/api/sessions/evening/athletes/athlete-1/corrections`, {
    method: 'PUT',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ type: 'removeHold', holdId: before.athletes[0]!.holds[1]!.hold.holdId }),
  });
  expect(answer.status).toBe(200);
  await page.locator('a[href="/recordings/evening"]').click();
  await page.getByRole('region', { name: 'In short' }).waitFor();
  await page.goBack();
  await row.getByText('1 hold', { exact: false }).waitFor();
  expect(await inRow()).toEqual(inHeadline(await recording()));
  expect((await inRow()).slice(0, 2)).toEqual(['1', '1:40']);
  expect(await page.locator('.figures-mark').count()).toBe(0);
  expect(faults).toEqual([]);
});
