// Cues from one device, marks by keys and headset buttons, names only when asked for, and a coach's message to a phone; in a
// real browser against the real hub.

import type { BrowserContext, Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { axeViolations } from '../support/axe-check.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage } from '../support/chromium-page.ts';
import { makeOwnBrowser, ownCookie } from '../support/own-person.ts';
import { openPageHub, type PageHub, type PageHubOptions } from '../support/page-hub.ts';

const suite = browserSuite();
let hub: PageHub;
let context: BrowserContext;

/** Keeps what a page speaks and its media buttons, and counts the tones that it starts. */
const listening = `
  globalThis.spoken = [];
  globalThis.tones = 0;
  globalThis.mediaButtons = {};
  speechSynthesis.getVoices = () => [{ lang: 'en-GB' }];
  speechSynthesis.speak = (said) => globalThis.spoken.push(said.text);
  navigator.mediaSession.setActionHandler = (action, handler) => { globalThis.mediaButtons[action] = handler; };
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (when) { globalThis.tones += 1; start.call(this, when); };
`;

async function open(options: Partial<PageHubOptions>, path: string): Promise<Page> {
  hub = suite.closeAfterTest(
    await openPageHub({ athleteCount: 2, behindSeconds: 20, lanIn: suite.folder, ...options }),
  );
  const opened = await openPage(suite.browser, 'about:blank');
  context = suite.closeAfterTest(opened.context);
  await makeOwnBrowser(context, hub.url);
  await context.addInitScript(listening);
  await opened.page.goto(`${hub.url}${path}`);
  return opened.page;
}
async function openPhone(path: string): Promise<Page> {
  const theirs = await suite.browser.newContext({
    ignoreHTTPSErrors: true,
    viewport: { width: 390, height: 844 },
  });
  const cookie = await hub.joinedCookie('athlete', 'athlete-2', 'Teo phone');
  await theirs.addCookies([{ ...cookie, url: hub.lanUrl }]);
  await theirs.addInitScript(listening);
  const phone = await theirs.newPage();
  await phone.goto(`${hub.lanUrl}${path}`);
  return phone;
}
const spokenOn = (page: Page) => page.evaluate(() => (globalThis as unknown as { spoken: string[] }).spoken);
const marks = () => hub.hub.snapshotOf('athlete-1')!.marks.map(({ kind }) => kind);

const ask = (path: string, body: unknown) =>
  fetch(`${hub.url}/api/plan-runs${path}`, {
    method: 'POST',
    headers: { cookie: ownCookie, 'content-type': 'application/json' },
    body: JSON.stringify(body),
  });

/** A run of both; the one before it is over. Its first cue comes 10 s before the first hold. */
async function startPlan(leadInSeconds: number): Promise<void> {
  await ask('/current/events', { event: { type: 'end', atMs: 0, athleteId: null } });
  const answer = await ask('', {
    plan: { ...makeIntervalSeries(), leadInSeconds },
    options: {
      athletes: [
        { athleteId: 'athlete-1', offsetMs: 0 },
        { athleteId: 'athlete-2', offsetMs: 0 },
      ],
      oneAtATime: false,
      assumeFromCues: true,
      acceptedWarnings: ['previewCrossesFloor'],
    },
    longestHoldMs: null,
  });
  expect(answer.status).toBe(201);
}

test('where one device gives the cues, it alone is heard, after a reload too; names are said only when asked for', async () => {
  const page = await open({}, '/plans');
  await startPlan(600);
  await page.goto(`${hub.url}/plan-run`);
  const phone = await openPhone('/plan-run');
  const here = (of: Page) => of.getByRole('checkbox', { name: /all others are quiet/ });
  const openCues = async (of: Page) => {
    await of.locator('.plan-wall-head, .plan-strip').getByRole('button', { name: 'Plan' }).click();
    await of.getByText('Cues', { exact: true }).click();
  };
  for (const each of [page, phone]) await openCues(each);
  await here(page).check();
  await phone.getByText('The hub’s own machine gives the cues aloud.').waitFor();
  expect(await spokenOn(phone)).toEqual([]);
  const heard = (of: Page) => expect.poll(async () => (await spokenOn(of)).join());
  await startPlan(14);
  await heard(page).not.toBe('');
  expect((await spokenOn(page)).join()).not.toMatch(/Marit|Teo/);
  expect(await spokenOn(phone)).toEqual([]);

  await page.reload();
  await openCues(page);
  await expect.poll(() => here(page).isChecked()).toBe(true);
  await page.getByRole('checkbox', { name: 'Say names before cues' }).check();
  await startPlan(14);
  await heard(page).toMatch(/Marit|Teo/);
  expect(await spokenOn(phone)).toEqual([]);

  // Given up, whoever leads the plan gives them again.
  await here(page).uncheck();
  await startPlan(14);
  await heard(phone).not.toBe('');
  await phone.context().close();
});

test('a page turner and a headset’s buttons mark, and the page says which did what', async () => {
  const page = await open({}, '/live/athlete-1');
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('checkbox', { name: /page turner/ }).check();
  await page.getByLabel('Previous track').selectOption('Breathing again');
  expect(await axeViolations(page)).toEqual([]);
  await page.keyboard.press('PageDown');
  expect(marks()).toEqual([]);
  await page.getByRole('button', { name: 'Close' }).click();
  await page.keyboard.press('PageDown');
  await page.getByText('Page Down: Hold start, Marit Oduya').waitFor();
  await page.keyboard.press('PageUp');
  await page.getByText('Page Up: Contraction, Marit Oduya').waitFor();
  const pressMedia = (button: string) =>
    page.evaluate((name) => {
      const { mediaButtons } = globalThis as unknown as { mediaButtons: Record<string, () => void> };
      mediaButtons[name]!();
    }, button);
  await expect.poll(marks).toEqual(['holdStart', 'contraction']);
  await pressMedia('pause');
  await page.getByText('Play or pause: Hold end, Marit Oduya').waitFor();
  await pressMedia('previoustrack');
  await page.getByText('Previous track: Breathing again, Marit Oduya').waitFor();
  await expect.poll(marks).toEqual(['holdStart', 'contraction', 'holdEnd', 'breathing']);
  // Among several nobody is guessed.
  await page.goto(`${hub.url}/wall`);
  await page.getByText('Buttons mark: none pressed yet').waitFor();
  await page.keyboard.press('PageDown');
  await page.getByText('Page Down: open the page of one athlete first').waitFor();
  expect(marks()).toHaveLength(4);
});

test('a coach’s message waits for the end of a hold, unless the coach insists, and is seen', async () => {
  const page = await open({}, '/people');
  const phone = await openPhone('/live/athlete-2');
  await phone.getByRole('heading', { name: 'Teo Lindqvist' }).waitFor();
  hub.hub.addMark({ athleteId: 'athlete-2', kind: 'holdStart', atMs: null, text: null });
  await page.getByLabel('Message to Teo Lindqvist').fill('Water is by the door');
  await page.getByRole('button', { name: /Send.*Teo/ }).click();
  await page.getByText('Waits until the hold is over: Water is by the door').waitFor();
  expect(await phone.getByText('Water is by the door').count()).toBe(0);
  hub.pass(30);
  hub.hub.addMark({ athleteId: 'athlete-2', kind: 'holdEnd', atMs: null, text: null });
  for (let step = 0; step < 20 && hub.hub.mail.standing[0]?.state === 'waiting'; step += 1) hub.pass(10);
  await phone.getByText('Water is by the door').waitFor();
  expect(await axeViolations(phone)).toEqual([]);
  await phone.getByRole('checkbox', { name: 'Read messages aloud' }).check();
  await phone.getByRole('button', { name: 'Seen' }).click();
  await page.getByText('Seen: Water is by the door').waitFor();
  hub.hub.addMark({ athleteId: 'athlete-2', kind: 'holdStart', atMs: null, text: null });
  const teo = page.locator('.send-words', { hasText: 'Teo' });
  await page.getByLabel('Message to Teo Lindqvist').fill('Breathe now');
  await teo.getByRole('checkbox', { name: 'Also during a hold' }).check();
  await page.getByRole('button', { name: /Send.*Teo/ }).click();
  await phone.getByText('Breathe now').first().waitFor();
  await expect.poll(() => spokenOn(phone)).toContain('Breathe now');
  await phone.context().close();
});
