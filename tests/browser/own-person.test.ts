// The hub's own machine with the real program: the printed link opens the page in one step, without it nobody sees anything,
// and what was done can be read on the Devices page.

import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, widths } from '../support/chromium-page.ts';
import { type HubProcess, runCommand, startHub } from '../support/hub-process.ts';

let browser: Browser;
let folder: string;
let hub: HubProcess;
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-own-browser-'));
  [browser, hub] = await Promise.all([
    launchChromium(),
    startHub(['demo', '--port', '0', '--data', join(folder, 'data')]),
  ]);
});
afterAll(async () => {
  await browser?.close();
  await hub?.stop();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

/** A browser that knows nothing of the hub. */
async function openFresh(url: string): Promise<{ page: Page; faults: string[] }> {
  const context = await browser.newContext({ viewport: widths.tablet, locale: 'en-GB', timezoneId: 'UTC' });
  const page = await context.newPage();
  const faults: string[] = [];
  page.on('pageerror', (error) => faults.push(error.message));
  await page.goto(url);
  return { page, faults };
}
const isLive = (page: Page) => page.locator('.link-state--live').waitFor({ state: 'attached' });

test('the printed link opens the page in one step and is gone from the address', async () => {
  const { page, faults } = await openFresh(hub.link);
  await isLive(page);
  expect(page.url()).toBe(hub.url);
  expect(await page.evaluate(() => document.cookie)).toBe('');
  await page.goto(`${hub.url}wall`);
  await isLive(page);
  expect(faults).toEqual([]);
  await page.context().close();
});

test('without it the page says how to come in, in a form that the link can be pasted into', async () => {
  const { page } = await openFresh(`${hub.url}recordings`);
  await page.getByRole('heading', { name: 'Whose hub is this?' }).waitFor();
  expect(await page.evaluate(async () => (await fetch('/api/athletes')).status)).toBe(401);
  expect(await axeViolations(page)).toEqual([]);
  await keepScreenshot(page, 'own-machine-tablet');
  const link = page.getByLabel('Link from the hub’s terminal');
  await link.fill('http://127.0.0.1/');
  await page.getByRole('button', { name: 'Open', exact: true }).click();
  await page.getByText('This is not a link from the hub’s terminal').waitFor();
  await link.fill(`${hub.url}#own=wrong`);
  await page.getByRole('button', { name: 'Open', exact: true }).click();
  await page.getByText('This link is too old or was used already').waitFor();
  await link.fill(hub.link);
  await page.getByRole('button', { name: 'Open', exact: true }).click();
  await isLive(page);
  await page.context().close();
});

test('"slackwater link" prints a link to whoever can read the data folder', async () => {
  const { port } = new URL(hub.url);
  const { status, stdout } = await runCommand([
    'link',
    'demo',
    '--port',
    port,
    '--data',
    join(folder, 'data'),
  ]);
  expect(status).toBe(0);
  const { page } = await openFresh(stdout.trim());
  await isLive(page);
  await page.context().close();
  expect(statSync(join(folder, 'data-demo', 'own-person.key')).mode & 0o777).toBe(0o600);
});

test('who did what stands on the Devices page', async () => {
  const { page } = await openFresh(hub.link);
  await isLive(page);
  await page.goto(`${hub.url}devices`);
  await page.getByText('Who did what').click();
  await page.getByText('A browser was opened by the terminal’s link').first().waitFor();
  expect(await axeViolations(page)).toEqual([]);
  await keepScreenshot(page, 'devices-audit-tablet');
  const download = page.waitForEvent('download');
  await page.getByRole('link', { name: 'All of it as a file' }).click();
  expect((await download).suggestedFilename()).toBe('slackwater-audit.jsonl');
  await page.context().close();
});

test('a backup is downloaded by its button', async () => {
  const { page } = await openFresh(hub.link);
  await isLive(page);
  await page.goto(`${hub.url}recordings`);
  const download = page.waitForEvent('download');
  await page.getByRole('button', { name: /^Back up/ }).click();
  expect((await download).suggestedFilename()).toMatch(/^slackwater-\d{8}-\d{4}\.backup$/);
  await isLive(page);
  await page.context().close();
});
