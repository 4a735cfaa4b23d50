// Setting up a session, the coach's wall and the review of a recording, as a person goes through them.

import { readFileSync } from 'node:fs';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import type { UpMessage } from '../../shared/messages/up.ts';
import { said } from '../../shared/said.ts';
import { axeViolations } from '../support/axe-check.ts';
import { launchChromium, openPage, pressUntilGone, type WidthName } from '../support/chromium-page.ts';
import { FakeHub, type FakeHubOptions } from '../support/fake-hub.ts';

let browser: Browser;
let hub: FakeHub;
let context: BrowserContext;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(async () => {
  await browser.close();
});
afterEach(async () => {
  await context.close();
  await hub.stop();
});

async function open(path: string, options: FakeHubOptions, width: WidthName = 'tablet'): Promise<Page> {
  hub = new FakeHub(options);
  await hub.start();
  const opened = await openPage(browser, hub.url + path, { width });
  context = opened.context;
  return opened.page;
}

async function sent<Type extends UpMessage['type']>(type: Type, count = 1) {
  const found = () =>
    hub.received.filter((message): message is Extract<UpMessage, { type: Type }> => message.type === type);
  await expect.poll(() => found().length, { timeout: 5_000 }).toBeGreaterThanOrEqual(count);
  return found();
}

test('a session is set up alone: add oneself, assign sensors, floor, sound, cautions, go', async () => {
  const page = await open('/', { athleteCount: 1, sessionRunning: false }, 'phone');
  const start = page.getByRole('button', { name: 'Start session' });
  await page.getByRole('checkbox', { name: /Marit/ }).uncheck();
  await page.getByLabel('Name').fill('Ada Holm');
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
  await expect.poll(() => hub.athletes[1]!.settings.floorSpo2Percent).toBe(89);
  expect(await start.isDisabled()).toBe(true);
  await page.getByRole('button', { name: 'Play the alarm' }).click();
  await page.getByRole('button', { name: 'I heard it' }).click();
  await page.getByText('Sound checked on this device').waitFor();
  expect(await start.isDisabled()).toBe(true);
  await page.getByText('I have read these and they are met').click();
  await start.click();
  expect((await sent('startSession'))[0]!.athleteIds).toEqual(['athlete-2']);
  await page.getByRole('heading', { name: 'Ada Holm' }).waitFor();
  expect(new URL(page.url()).pathname).toBe('/live/athlete-2');
});

test('a refused start is said and can be tried again', async () => {
  const page = await open('/', { athleteCount: 1, sessionRunning: false });
  await page.getByText('Start without sound on this device').click();
  await page.getByText('I have read these and they are met').click();
  await page.getByRole('button', { name: 'Start session' }).waitFor();
  hub.broadcast({
    type: 'refused',
    requestId: null,
    code: 'recorderFailed',
    said: said('said.asTold', { text: 'The disk is full.' }),
  });
  await page.getByText('The disk is full.').waitFor();
  await page.getByRole('button', { name: 'Dismiss' }).click();
  await page.getByText('The disk is full.').waitFor({ state: 'detached' });
  expect(await page.getByRole('button', { name: 'Start session' }).isEnabled()).toBe(true);
});

test('the wall puts a new alarm first and lets a coach act for each athlete', async () => {
  const page = await open('/wall', { athleteCount: 8, behindSeconds: 200 });
  const tiles = page.locator('.tile');
  await expect.poll(() => tiles.count()).toBe(8);
  hub.raiseAlarm(6, { kind: 'sensorLost', priority: 'medium', instruction: 'Look at the clip.' });
  hub.raiseAlarm(3);
  await expect.poll(() => tiles.nth(0).getAttribute('aria-label'), { timeout: 6_000 }).toBe('Ilse Barraco');
  await expect.poll(() => tiles.nth(1).getAttribute('aria-label'), { timeout: 6_000 }).toBe('Rui Amsel');
  await page.getByText(/8 athletes · \d holding · 2 in alarm/).waitFor();

  await pressUntilGone(page.getByRole('button', { name: 'Acknowledge alarms of Ilse Barraco' }));
  expect((await sent('acknowledgeAlarms'))[0]!.athleteId).toBe('athlete-4');

  const sana = page.getByRole('article', { name: 'Sana Whitlock' });
  await sana.getByRole('button', { name: 'Contraction' }).click();
  await sana.getByRole('button', { name: 'Open Sana Whitlock in full' }).focus();
  await page.keyboard.press('c');
  await page.keyboard.press('n');
  await page.getByRole('textbox', { name: /Note/ }).fill('Shoulders tense');
  await page.getByRole('button', { name: 'Save note' }).click();
  const marks = await sent('addMark', 3);
  expect(marks.map((mark) => [mark.athleteId, mark.kind, mark.text])).toEqual([
    ['athlete-3', 'contraction', null],
    ['athlete-3', 'contraction', null],
    ['athlete-3', 'note', 'Shoulders tense'],
  ]);

  await page.getByRole('button', { name: 'Keep Yuki Harrow at the front' }).count();
  await page.getByRole('button', { name: 'Keep Nerys Okafor at the front' }).click();
  await expect.poll(() => tiles.nth(1).getAttribute('aria-label'), { timeout: 8_000 }).toBe('Nerys Okafor');
  await page.getByRole('button', { name: 'Open Nerys Okafor in full' }).click();
  await page.getByRole('heading', { name: 'Nerys Okafor' }).waitFor();
  await page.getByRole('link', { name: 'Wall', exact: true }).first().click();
  await expect.poll(() => tiles.count()).toBe(8);
});

test('a recording is read: zoom by wheel, keys and button, unknown measures with their reason, CSV', async () => {
  const page = await open(
    '/recordings',
    { athleteCount: 2, recordings: true, sessionRunning: false },
    'desktop',
  );
  await page.getByRole('link', { name: /Evening statics/ }).click();
  const range = page.locator('.review-range');
  await expect.poll(() => range.textContent()).toBe('0:00 – 28:40');
  const detail = page.getByRole('application');
  const box = (await detail.boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + 60);
  await page.mouse.wheel(0, -240);
  await expect.poll(() => range.textContent()).not.toBe('0:00 – 28:40');
  await detail.focus();
  await page.keyboard.press('0');
  await expect.poll(() => range.textContent()).toBe('0:00 – 28:40');
  await page.getByRole('button', { name: 'Show hold 2 in the trace' }).click();
  await expect.poll(() => range.textContent()).toBe('5:10 – 9:10');
  await page.getByText('Every sample drawn.').waitFor();
  await page.mouse.move(box.x + box.width / 2, box.y + 60);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 - 200, box.y + 60, { steps: 4 });
  await page.mouse.up();
  await expect.poll(() => range.textContent()).not.toBe('5:10 – 9:10');
  await page.getByText('not known').first().waitFor();
  await page.getByText('the signals and marks of this hold do not tell').first().waitFor();
  await page.getByText('SIMULATED: made by a simulator or a replay.').waitFor();
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('link', { name: 'Download CSV' }).click(),
  ]);
  expect(readFileSync(await download.path(), 'utf8')).toBe('atMs,channel,value\n');
});

test('a recording is deleted only after a second yes', async () => {
  const page = await open('/recordings/rec-2', { athleteCount: 1, recordings: true, sessionRunning: false });
  await page.getByText(/^Interrupted: the hub stopped/).waitFor();
  await page.getByRole('button', { name: 'Delete' }).click();
  await page.getByRole('button', { name: 'Cancel' }).click();
  expect(hub.deletedSessions).toEqual([]);
  await page.getByRole('button', { name: 'Delete' }).click();
  await page.getByRole('button', { name: 'Delete for good' }).click();
  await page.getByRole('heading', { name: 'Recordings' }).waitFor();
  expect(hub.deletedSessions).toEqual(['rec-2']);
  await expect.poll(() => page.getByText('Interrupted').count()).toBe(0);
});

test('an address of no recording is one clear sentence', async () => {
  const page = await open('/recordings/none', { athleteCount: 1, recordings: true });
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
