// The page as a program of the device: kept for when the hub is gone, installable, notices, the screen's lock; against the real hub.

import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { axeViolations } from '../support/axe-check.ts';
import { launchChromium } from '../support/chromium-page.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub } from '../support/page-hub.ts';

/** Without a window, which costs a third: where only the whole browser has what a test is about, it asks for that. */
let shell: Browser;
let wholeBrowser: Browser | undefined;
let context: BrowserContext | undefined;
let hub: PageHub | undefined;

beforeAll(async () => {
  shell = await launchChromium();
});
afterAll(async () => {
  await shell.close();
  await wholeBrowser?.close();
});
afterEach(async () => {
  await context?.close();
  await hub?.close().catch(() => undefined);
  context = undefined;
  hub = undefined;
});

async function open(
  path: string,
  locale = 'en-GB',
  { sessionRunning = true, whole = false }: { sessionRunning?: boolean; whole?: boolean } = {},
): Promise<Page> {
  if (whole) wholeBrowser ??= await launchChromium({ whole: true });
  const browser = whole ? wholeBrowser! : shell;
  hub = await openPageHub({ athleteCount: 1, sessionRunning });
  context = await browser.newContext({ viewport: { width: 390, height: 844 }, locale, timezoneId: 'UTC' });
  await makeOwnBrowser(context, hub.url);
  const page = await context.newPage();
  await page.goto(hub.url + path);
  // What the hub never told it of, a page cannot alarm for.
  await page.locator('.link-state--live').waitFor({ state: 'attached' });
  return page;
}

/** The worker has everything and answers for this page. */
const kept = (page: Page) =>
  page.waitForFunction(() => navigator.serviceWorker.controller?.state === 'activated');

const hubGone = (page: Page) => page.getByRole('heading', { name: 'HUB NOT ANSWERING' });

describe('while the hub is gone', () => {
  test('a page loaded anew alarms for the session it watched', async () => {
    const page = await open('/live/athlete-1');
    await kept(page);
    expect(await page.getByText('This screen will go dark', { exact: false }).count()).toBe(0);
    await hub!.close();
    await page.reload();
    await hubGone(page).waitFor();
    expect(await page.title()).toContain('HUB NOT ANSWERING');
  });

  test('so does one opened on the same device, until a person says that the session is over', async () => {
    const first = await open('/live/athlete-1');
    await kept(first);
    await first.close();
    await hub!.close();
    const page = await context!.newPage();
    await page.goto(`${hub!.url}/wall`);
    await hubGone(page).waitFor();
    await page.getByText('was on when this device last heard of the hub', { exact: false }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole('button', { name: 'That session is over' }).click();
    await hubGone(page).waitFor({ state: 'hidden' });
    await page.getByText('The hub is not answering', { exact: false }).first().waitFor();
    // Nor does the next one.
    await page.reload();
    await page.getByText('The hub is not answering', { exact: false }).first().waitFor();
    expect(await hubGone(page).count()).toBe(0);
  });

  test('every view opens, in the reader’s language', async () => {
    const page = await open('/', 'de-DE', { sessionRunning: false });
    await kept(page);
    await hub!.close();
    for (const path of [
      '/',
      '/wall',
      '/recordings',
      '/plans',
      '/training',
      '/weeks',
      '/help',
      '/help/alarms',
      '/about',
    ]) {
      await page.goto(hub!.url + path);
      await page.getByText('Der Hub antwortet nicht', { exact: false }).first().waitFor();
      expect(await page.locator('html').getAttribute('lang')).toBe('de');
      expect(await page.getByRole('heading', { level: 1 }).count(), path).toBe(1);
    }
  });

  test('a session that a person ended is none to alarm for', async () => {
    const page = await open('/live/athlete-1');
    await kept(page);
    hub!.hub.endSession();
    await page.getByText('ended', { exact: false }).first().waitFor();
    await hub!.close();
    await page.reload();
    await page.getByText('The hub is not answering', { exact: false }).first().waitFor();
    expect(await hubGone(page).count()).toBe(0);
  });
});

test('kept are the files of the page, of one build, and nothing that the hub says', async () => {
  const page = await open('/', 'en-GB', { sessionRunning: false });
  await kept(page);
  const names = await page.evaluate(() => caches.keys());
  expect(names).toHaveLength(1);
  const files = await page.evaluate(async (name) => {
    const requests = await (await caches.open(name)).keys();
    return requests.map(({ url }) => new URL(url).pathname);
  }, names[0]!);
  expect(files).toContain('/');
  expect(files.some((path) => path.startsWith('/api/'))).toBe(false);
  expect(files.filter((path) => path.endsWith('.js')).length).toBeGreaterThan(10);
});

describe('installing (the criteria of Chromium: a manifest with name, start, display and icons of 192 and 512 pixels)', () => {
  test.each(['en-GB', 'de-DE'])('%s', async (locale) => {
    const page = await open('/', locale, { sessionRunning: false, whole: true });
    await kept(page);
    const path = await page.locator('link[rel="manifest"]').getAttribute('href');
    expect(path).toBe(`/app-${locale.slice(0, 2)}.webmanifest`);
    const answer = await page.request.get(hub!.url + path!);
    expect(answer.headers()['content-type']).toContain('application/manifest+json');
    const manifest = await answer.json();
    expect(manifest).toMatchObject({ name: 'Slackwater', start_url: '/', scope: '/', display: 'standalone' });
    expect(manifest.lang).toBe(locale.slice(0, 2));
    for (const { src, sizes, type } of [...manifest.icons, ...manifest.screenshots]) {
      const picture = await page.request.get(hub!.url + src);
      expect(picture.status(), src).toBe(200);
      expect(picture.headers()['content-type']).toContain(type);
      if (type !== 'image/png') continue;
      // PNG 1.2 section 11.2.2: width and height are the first two words of IHDR.
      const bytes = await picture.body();
      expect(`${bytes.readUInt32BE(16)}x${bytes.readUInt32BE(20)}`, src).toBe(sizes);
    }
    expect(manifest.icons.map(({ sizes }: { sizes: string }) => sizes)).toEqual(
      expect.arrayContaining(['192x192', '512x512']),
    );
    // Chromium's own opinion of the manifest.
    const session = await context!.newCDPSession(page);
    const { installabilityErrors } = await session.send('Page.getInstallabilityErrors');
    // A private window, which a test's is, can never install.
    expect(installabilityErrors.filter(({ errorId }) => errorId !== 'in-incognito')).toEqual([]);
  });
});

test('an alarm is a notice of the system while the page is hidden, and none once it is looked at', async () => {
  const page = await open('/live/athlete-1', 'en-GB', { whole: true });
  await context!.grantPermissions(['notifications'], { origin: hub!.url });
  await page.reload();
  await kept(page);
  await page.evaluate(() => {
    Object.defineProperty(document, 'visibilityState', { value: 'hidden', configurable: true });
    document.dispatchEvent(new Event('visibilitychange'));
  });
  const notices = () =>
    page.evaluate(async () =>
      (await (await navigator.serviceWorker.ready).getNotifications()).map(({ title }) => title),
    );
  expect(await notices()).toEqual([]);
  hub!.live(0, { spo2Percent: 80, heartRateBpm: 60 });
  hub!.pass(10);
  await expect.poll(notices).toHaveLength(1);
  expect((await notices())[0]).toContain('Marit');
  await page.evaluate(() => {
    Object.defineProperty(document, 'visibilityState', { value: 'visible', configurable: true });
    document.dispatchEvent(new Event('visibilitychange'));
  });
  await expect.poll(notices).toEqual([]);
});

test('a screen that the browser will let go dark is told of while a session runs', async () => {
  hub = await openPageHub({ athleteCount: 1 });
  context = await shell.newContext({ viewport: { width: 390, height: 844 }, locale: 'en-GB' });
  await makeOwnBrowser(context, hub.url);
  const page = await context.newPage();
  await page.addInitScript(() => {
    navigator.wakeLock.request = () => Promise.reject(new DOMException('low battery', 'NotAllowedError'));
  });
  await page.goto(`${hub.url}/live/athlete-1`);
  const notice = page.getByText('This screen will go dark', { exact: false });
  await notice.waitFor();
  hub.hub.endSession();
  await notice.waitFor({ state: 'hidden' });
});

test('where the browser refuses to keep the page, as behind a certificate it only puts up with, the page says so', async () => {
  hub = await openPageHub({ athleteCount: 1, sessionRunning: false });
  context = await shell.newContext({ locale: 'en-GB' });
  await makeOwnBrowser(context, hub.url);
  const page = await context.newPage();
  await page.addInitScript(() => {
    navigator.serviceWorker.register = () => Promise.reject(new DOMException('certificate', 'SecurityError'));
  });
  await page.goto(`${hub.url}/about`);
  await page.getByText('over a certificate they trust', { exact: false }).waitFor();
});

test('addresses that are no views answer 404, and say so to a person', async () => {
  const page = await open('/', 'en-GB', { sessionRunning: false });
  const answer = await page.goto(`${hub!.url}/no-such-place`);
  expect(answer!.status()).toBe(404);
  await page.getByText('There is no such page').waitFor();
  expect((await page.request.get(`${hub!.url}/recordings/s-1`)).status()).toBe(200);
});

test('what this device can do stands under About, reachable by keyboard, in large enough targets', async () => {
  const page = await open('/about', 'en-GB', { sessionRunning: false });
  await page.getByRole('heading', { name: 'This device' }).waitFor();
  await page.getByText('The page is kept on this device', { exact: false }).waitFor();
  expect(await axeViolations(page)).toEqual([]);
  const heights = await page
    .locator('#this-device button')
    .evaluateAll((all) => all.map((b) => b.clientHeight));
  for (const height of heights) expect(height).toBeGreaterThanOrEqual(42);
});
