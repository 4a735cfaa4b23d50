// Setting up a session, the coach's wall and the review of a recording, as a person goes through them.

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import { HubError } from '../../hub/base/hub-error.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { openSqliteStore, openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { said } from '../../shared/said.ts';
import { axeViolations } from '../support/axe-check.ts';
import { launchChromium, openPage, pressUntilGone, type WidthName } from '../support/chromium-page.ts';
import { openPageHub, type PageHub, type PageHubOptions } from '../support/page-hub.ts';
import { type SessionToWrite, writeSession } from '../support/written-sessions.ts';

let browser: Browser;
let hub: PageHub;
let context: BrowserContext;
let folder = '';
beforeAll(async () => {
  browser = await launchChromium();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-review-'));
});
afterAll(async () => {
  await browser.close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});
afterEach(async () => {
  await context.close();
  await hub.close();
});

async function open(path: string, options: PageHubOptions, width: WidthName = 'tablet'): Promise<Page> {
  hub = await openPageHub(options);
  const opened = await openPage(browser, hub.url + path, { width });
  context = opened.context;
  return opened.page;
}

const evening: SessionToWrite = {
  sessionId: 'evening',
  athleteId: 'athlete-1',
  athleteName: 'Marit Oduya',
  others: [{ athleteId: 'athlete-2', athleteName: 'Teo Lindqvist' }],
  startedWallAtMs: Date.UTC(2026, 4, 12, 18, 30),
  title: 'Evening statics',
  holdsS: [150, 150, 130],
};

test.each(['light', 'dark'] as const)(
  'in %s a button that cannot be pressed keeps its words under the pointer',
  async (theme) => {
    hub = await openPageHub({ athleteCount: 1, sessionRunning: false });
    const opened = await openPage(browser, hub.url, { width: 'desktop', theme });
    context = opened.context;
    const start = opened.page.getByRole('button', { name: 'Start session' });
    await start.waitFor();
    expect(await start.isDisabled()).toBe(true);
    await start.hover({ force: true });
    const colours = await start.evaluate((element) => {
      const { color, backgroundColor } = getComputedStyle(element);
      return { color, backgroundColor };
    });
    expect(colours.backgroundColor).not.toBe(colours.color);
    expect(await axeViolations(opened.page)).toEqual([]);
  },
);

test('where the hub cannot hear, that comes before waking sensors, and leads to the checks', async () => {
  const page = await open('/', { athleteCount: 0, sessionRunning: false }, 'phone');
  await page.getByText('No sensor found yet.').waitFor();
  hub.hub.notices.add(said('radio.noAdapter.linux'));
  await page.getByText('No sensor found, and Bluetooth does not work as it should').waitFor();
  expect(await page.getByText('No sensor found yet.').count()).toBe(0);
  expect(await axeViolations(page)).toEqual([]);
  await page.getByRole('link', { name: 'Check the hub\u2019s computer' }).click();
  await expect.poll(() => new URL(page.url()).pathname).toBe('/devices/computer');
});

test('a session is set up alone: add oneself, assign sensors, floor, sound, cautions, go', async () => {
  const page = await open('/', { athleteCount: 1, sessionRunning: false }, 'phone');
  const start = page.getByRole('button', { name: 'Start session' });
  await page.getByRole('checkbox', { name: /Marit/ }).uncheck();
  await page.getByRole('textbox', { name: 'Name of a new athlete' }).fill('Ada Holm');
  await page.getByRole('button', { name: 'Add athlete' }).click();
  await page.getByRole('checkbox', { name: /Ada Holm/ }).waitFor();
  expect(await page.getByRole('checkbox', { name: /Ada Holm/ }).isChecked()).toBe(true);
  await page.getByText('Ada Holm has no oximeter: the floor alarm cannot work.').waitFor();
  await page.getByLabel('Finger clip 1 is worn by').selectOption('Ada Holm');
  await page.getByLabel('Chest strap 1 is worn by').selectOption('Ada Holm');
  await page.getByText(/has no oximeter/).waitFor({ state: 'detached' });
  await page
    .getByRole('group', { name: 'Floor for Ada Holm' })
    .getByRole('button', { name: /Raise/ })
    .click();
  const ada = () => hub.hub.athletes.find(({ name }) => name === 'Ada Holm')!;
  await expect.poll(() => ada().settings.floorSpo2Percent).toBe(89);
  expect(await start.isDisabled()).toBe(true);
  await page.getByRole('button', { name: 'Play the alarm' }).click();
  await page.getByRole('button', { name: 'I heard it' }).click();
  await page.getByText('Sound checked on this device').waitFor();
  expect(await start.isDisabled()).toBe(true);
  await page.getByText('I have read these').click();
  await start.click();
  await page.getByRole('heading', { name: 'Ada Holm' }).waitFor();
  expect(hub.hub.session?.athleteIds).toEqual([ada().athleteId]);
  expect(hub.hub.sensors.map(({ athleteId }) => athleteId)).toEqual([ada().athleteId, ada().athleteId]);
  expect(new URL(page.url()).pathname).toBe(`/live/${ada().athleteId}`);
  // What the clip that was put on now sends is this athlete's.
  await page.locator('.reading--spo2 .reading-digits', { hasText: /^98$/ }).waitFor();
});

test('a refused start is said and can be tried again', async () => {
  let full = true;
  const store = openStoreInMemory();
  const fillable = new Proxy<Store>(store, {
    get(_target, key) {
      if (key === 'startSession' && full)
        return () => {
          throw new HubError('data.full', said('data.full', { path: '/disk' }));
        };
      const value = store[key as keyof Store];
      return typeof value === 'function' ? value.bind(store) : value;
    },
  });
  const page = await open('/', { athleteCount: 1, sessionRunning: false, store: fillable });
  await page.getByText('Start without sound on this device').click();
  await page.getByText('I have read these').click();
  const start = page.getByRole('button', { name: 'Start session' });
  await start.click();
  await page.getByText(/recording can't be started: The disk that holds .* is full/).waitFor();
  expect(hub.hub.session).toBeNull();
  await page.getByRole('button', { name: 'Dismiss' }).click();
  await page.getByText(/recording can't be started/).waitFor({ state: 'detached' });
  full = false;
  await start.click();
  await page.getByRole('heading', { name: 'Marit Oduya' }).waitFor();
  expect(hub.hub.session?.athleteIds).toEqual(['athlete-1']);
});

test('the wall keeps everyone\u2019s place in an alarm and lets a coach act for each athlete', async () => {
  const page = await open('/wall', { athleteCount: 8, behindSeconds: 10 });
  const tiles = page.locator('.tile');
  await expect.poll(() => tiles.count()).toBe(8);
  hub.live(6, { spo2Percent: null, heartRateBpm: 66 });
  hub.pass(12);
  hub.live(3, { spo2Percent: 86, heartRateBpm: 55 });
  hub.pass(4);
  await page.getByRole('article', { name: 'Ilse Barraco' }).getByText('Below the floor').waitFor();
  expect(await tiles.evaluateAll((elements) => elements.map((tile) => tile.ariaLabel))).toEqual(
    hub.athletes.map(({ name }) => name),
  );
  await page.getByText(/8 athletes · \d holding · 2 in alarm/).waitFor();

  await pressUntilGone(page.getByRole('button', { name: 'Acknowledge alarms of Ilse Barraco' }));
  const alarmsOf = (athleteId: string) => hub.hub.snapshotOf(athleteId)!.alarms;
  await expect.poll(() => alarmsOf('athlete-4').map(({ acknowledged }) => acknowledged)).toEqual([true]);
  expect(alarmsOf('athlete-7').map(({ acknowledged }) => acknowledged)).toEqual([false]);

  const sana = page.getByRole('article', { name: 'Sana Whitlock' });
  await sana.getByRole('button', { name: 'Contraction' }).click();
  await sana.getByRole('button', { name: 'Open Sana Whitlock in full' }).focus();
  await page.keyboard.press('c');
  await page.keyboard.press('n');
  await page.getByRole('textbox', { name: /Note/ }).fill('Shoulders tense');
  await page.getByRole('button', { name: 'Save note' }).click();
  const marked = () =>
    hub.athletes.flatMap(({ athleteId }) =>
      hub.hub.snapshotOf(athleteId)!.marks.map(({ kind, text }) => [athleteId, kind, text]),
    );
  await expect.poll(marked).toEqual([
    ['athlete-3', 'contraction', undefined],
    ['athlete-3', 'contraction', undefined],
    ['athlete-3', 'note', 'Shoulders tense'],
  ]);

  await page.getByRole('button', { name: 'Open Nerys Okafor in full' }).click();
  await page.getByRole('heading', { name: 'Nerys Okafor' }).waitFor();
  await page.getByRole('link', { name: 'Wall', exact: true }).first().click();
  await expect.poll(() => tiles.count()).toBe(8);
});

test('a recording is read: zoom by wheel, keys and button, unknown measures with their reason, CSV', async () => {
  const store = openStoreInMemory();
  writeSession(store, evening);
  const page = await open('/recordings', { athleteCount: 2, sessionRunning: false, store }, 'desktop');
  await page.getByRole('link', { name: /Evening statics/ }).click();
  const range = page.locator('.review-range');
  // Rest of 1:30, then each hold with 2:30 after it.
  const whole = '0:00 – 16:10';
  await expect.poll(() => range.textContent()).toBe(whole);
  const detail = page.getByRole('application');
  const box = (await detail.boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + 60);
  await page.keyboard.down('Control');
  await page.mouse.wheel(0, -240);
  await page.keyboard.up('Control');
  await expect.poll(() => range.textContent()).not.toBe(whole);
  await detail.focus();
  await page.keyboard.press('0');
  await expect.poll(() => range.textContent()).toBe(whole);
  await page.getByRole('button', { name: 'Show hold 2 in the trace' }).click();
  // From 30 s before the hold, 6:30 to 9:00, to a minute after it.
  await expect.poll(() => range.textContent()).toBe('6:00 – 10:00');
  await page.getByText('Every sample drawn.').waitFor();
  // Where it is now: the press on the button below has scrolled the page.
  await detail.scrollIntoViewIfNeeded();
  const moved = (await detail.boundingBox())!;
  await page.mouse.move(moved.x + moved.width / 2, moved.y + 60);
  await page.mouse.down();
  await page.mouse.move(moved.x + moved.width / 2 - 200, moved.y + 60, { steps: 4 });
  await page.mouse.up();
  await expect.poll(() => range.textContent()).not.toBe('6:00 – 10:00');
  // What is asked first, above the traces; every measure behind them.
  const inShort = page.getByRole('region', { name: 'In short' });
  await inShort.getByText('86\u202f%').waitFor();
  await page.getByText('All measures of each hold').click();
  await page.getByText('not known').first().waitFor();
  await page.getByText('too few beat intervals from the sensors', { exact: false }).first().waitFor();
  await page.getByText('SIMULATED: made by a simulator or a replay.').waitFor();
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page
      .getByText('Files', { exact: true })
      .click()
      .then(() => page.getByRole('link', { name: 'Download CSV' }).click()),
  ]);
  const csv = readFileSync(await download.path(), 'utf8');
  // The first athlete's, one reading a second; the lowest comes 20 s after the first hold.
  expect(csv.match(/,spo2_percent,/g)).toHaveLength(970);
  expect(csv).toContain('\n260.340,spo2_percent,86,good\n');
  expect(csv).toMatch(/SIMULATED/);
});

test('a recording goes into the bin only after a second yes, and names whom it takes', async () => {
  const before = openSqliteStore({ directory: folder });
  writeSession(before, { ...evening, ended: false });
  before.close();
  const store = openSqliteStore({ directory: folder });
  const page = await open('/recordings/evening', { athleteCount: 1, store, sessionRunning: false });
  const kept = () => store.listSessions().map(({ session }) => session.sessionId);
  await page.getByText(/^Interrupted: the hub stopped/).waitFor();
  await page.getByRole('button', { name: 'Delete' }).click();
  await page.getByRole('button', { name: 'Cancel' }).click();
  expect(kept()).toEqual(['evening']);
  await page.getByRole('button', { name: 'Delete' }).click();
  // Of a group it is asked whose part; all of it is chosen until then.
  await page.getByRole('dialog').getByRole('radio').nth(2).waitFor();
  expect(await page.getByRole('dialog').getByRole('radio').first().isChecked()).toBe(true);
  await page.getByRole('button', { name: 'Into the bin' }).click();
  await page.getByRole('heading', { name: 'Recordings' }).waitFor();
  expect(kept()).toEqual([]);
  await expect.poll(() => page.getByText('Interrupted', { exact: true }).count()).toBe(0);
});

test('an address of no recording is one clear sentence', async () => {
  const page = await open('/recordings/none', { athleteCount: 1 });
  await page
    .getByText('This recording could not be read: There is no such recording; it may have been deleted.')
    .waitFor();
});

test('cautions are one tap away on every page', async () => {
  const page = await open('/recordings', { athleteCount: 1 }, 'phone');
  await page.getByRole('button', { name: /Not a medical device/ }).click();
  await page.getByText(/Never in or near water while alone/).waitFor();
  expect(await axeViolations(page)).toEqual([]);
  await page.keyboard.press('Escape');
  await page.getByText(/Never in or near water while alone/).waitFor({ state: 'detached' });
});

test('the accessibility check itself can fail', async () => {
  const page = await open('/about', { athleteCount: 1 });
  await page.getByRole('heading', { name: 'About and cautions' }).waitFor();
  await page.evaluate(() => {
    const faint = document.createElement('p');
    faint.textContent = 'Hardly to be read';
    faint.style.background = '#888';
    faint.style.color = '#999';
    document.querySelector('main article')!.append(faint, document.createElement('button'));
  });
  const violations = await axeViolations(page);
  expect(violations.some((line) => line.startsWith('color-contrast'))).toBe(true);
  expect(violations.some((line) => line.startsWith('button-name'))).toBe(true);
});
