// The whole way in, with the real program over TLS: a coach's page makes a code, a second browser joins by its link,
// and what either of them then sees.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { axeViolations } from '../support/axe-check.ts';
import {
  keepScreenshot,
  launchChromium,
  openPage,
  type WidthName,
  widths,
} from '../support/chromium-page.ts';
import { type HubProcess, startHub } from '../support/hub-process.ts';

let browser: Browser;
let folder: string;
let hub: HubProcess;
let lanUrl: string;
let coach: { page: Page; context: BrowserContext; faults: string[] };

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-join-browser-'));
  [browser, hub] = await Promise.all([
    launchChromium(),
    startHub([
      ...['demo', '--athletes', '2', '--port', '0', '--data', join(folder, 'data')],
      ...['--lan', '--lan-authority', '--lan-host', '127.0.0.1', '--lan-port', '0'],
    ]),
  ]);
  coach = await openPage(browser, `${hub.url}devices`, { width: 'tablet' });
  await coach.page.getByRole('heading', { name: 'Let a device in' }).waitFor();
  lanUrl =
    (await coach.page
      .getByText(/^https:\/\/127\.0\.0\.1:\d+$/)
      .first()
      .textContent()) ?? '';
});
afterAll(async () => {
  await browser?.close();
  await hub?.stop();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

/** A browser of its own that takes the hub's certificate, as a person does after comparing the fingerprint. */
async function openStranger(path: string): Promise<Page> {
  const context = await browser.newContext({
    viewport: widths.phone,
    ignoreHTTPSErrors: true,
    colorScheme: 'dark',
    locale: 'en-GB',
    timezoneId: 'UTC',
  });
  const page = await context.newPage();
  await page.goto(`${lanUrl}${path}`);
  return page;
}

/** On the coach's page: makes a code and reads it off the screen. */
async function makeCode(role: 'coach' | 'athlete' | 'onlooker'): Promise<string> {
  const { page } = coach;
  const before = await page.locator('.new-code-letters').allTextContents();
  await page.locator('.invite select').first().selectOption(role);
  await page.getByRole('button', { name: 'Make a code' }).click();
  await page.waitForFunction((earlier) => {
    const now = document.querySelector('.new-code-letters')?.textContent;
    return now != null && now !== earlier;
  }, before[0] ?? null);
  return (await page.locator('.new-code-letters').textContent()) ?? '';
}

async function joinBy(code: string, name: string): Promise<Page> {
  const page = await openStranger(`/join#${code}`);
  await page.getByLabel('Name of this device').fill(name);
  await page.getByRole('button', { name: 'Join', exact: true }).click();
  await page.waitForURL((url) => url.pathname !== '/join');
  await page.locator('.link-state--live').waitFor({ state: 'attached' });
  return page;
}
const device = (name: string) => coach.page.getByRole('listitem').filter({ hasText: name });

describe('a second browser', () => {
  test('without a code gets the form and nothing of anyone, on every page', async () => {
    const page = await openStranger('/wall');
    await page.getByRole('heading', { name: 'Join this hub' }).waitFor();
    const status = await page.evaluate(async () => (await fetch('/api/athletes')).status);
    expect(status).toBe(401);
    await page.context().close();
  });

  test.each([
    ['a wrong code', async () => '0000-0000', /not a code of this hub/],
    [
      'a used code',
      async () => {
        const code = await makeCode('onlooker');
        await (await joinBy(code, 'First')).context().close();
        return code;
      },
      /used already/,
    ],
  ])('%s is refused in words', async (_name, code, words) => {
    const page = await openStranger('/join');
    await page.getByLabel('Code').fill(await code());
    await page.getByRole('button', { name: 'Join', exact: true }).click();
    await page.getByText(words).waitFor();
    await page.context().close();
  });

  test('joins as an athlete by the link, sees only that athlete, and the coach sees it come and go', async () => {
    const code = await makeCode('athlete');
    const shown = coach.page.getByRole('img', { name: 'QR code of the join link' });
    expect(await shown.evaluate((image: HTMLImageElement) => image.naturalWidth)).toBeGreaterThan(100);
    await keepScreenshot(coach.page, 'devices-code-tablet');
    // The steps for the other kind of device, by keyboard.
    await coach.page.getByRole('radio', { name: 'iPhone or iPad' }).first().focus();
    await coach.page.keyboard.press('ArrowRight');
    await coach.page.getByText(/tap the sign left of the address/).waitFor();
    const compared = await coach.page.locator('.new-code .comparison-code').textContent();

    const phone = await openStranger(`/join#${code}`);
    expect(await phone.getByLabel('Code').inputValue()).toBe(code);
    expect(new URL(phone.url()).hash).toBe('');
    expect(compared).toMatch(/^([0-9A-F]{4} ){3}[0-9A-F]{4}$/);
    await phone.getByText(compared!, { exact: true }).waitFor();
    await phone.getByText(/that alone is no proof/).waitFor();
    // Before it has joined, a device can load the authority.
    await phone.getByText('No more warning: trust the hub\u2019s authority').click();
    const loading = phone.waitForEvent('download');
    await phone.getByRole('link', { name: 'Profile for iPhone and iPad' }).click();
    expect((await loading).suggestedFilename()).toBe('slackwater-authority.mobileconfig');
    await phone.getByLabel('Name of this device').fill('Mat 1 phone');
    await phone.getByRole('button', { name: 'Join', exact: true }).click();
    await phone.waitForURL('**/live**');
    await phone.locator('.link-state--live').waitFor({ state: 'attached' });
    const known = await phone.evaluate(async () => (await fetch('/api/athletes')).json());
    expect(known.athletes).toHaveLength(1);
    expect(await phone.evaluate(() => document.cookie)).toBe('');
    expect(await phone.getByRole('link', { name: 'Devices' }).count()).toBe(0);

    // A used code goes from the screen by itself.
    await shown.waitFor({ state: 'detached' });
    await device('Mat 1 phone').getByText('on the screen').waitFor();
    const debug = await phone.context().newCDPSession(phone);
    // Script stopped with the socket still open, as on a phone that has gone to sleep.
    await debug.send('Debugger.enable');
    await debug.send('Debugger.pause');
    await device('Mat 1 phone').getByText('perhaps asleep').waitFor();
    await keepScreenshot(coach.page, 'devices-asleep-tablet');
    await debug.send('Debugger.resume');
    await debug.send('Debugger.disable');
    await device('Mat 1 phone').getByText('on the screen').waitFor();
    await phone.evaluate(() => {
      Object.defineProperty(document, 'visibilityState', { value: 'hidden', configurable: true });
      document.dispatchEvent(new Event('visibilitychange'));
    });
    await device('Mat 1 phone').getByText('in the background').waitFor();
    await phone.context().close();
    await device('Mat 1 phone').getByText('no page open').waitFor();
  });

  test('as an onlooker changes nothing', async () => {
    const page = await joinBy(await makeCode('onlooker'), 'Visitor');
    const statuses = await page.evaluate(async () => {
      const send = async (method: string, path: string, body: object) =>
        (
          await fetch(path, {
            method,
            headers: { 'content-type': 'application/json' },
            body: JSON.stringify(body),
          })
        ).status;
      return [
        await send('POST', '/api/athletes', { name: 'X' }),
        await send('POST', '/api/join-codes', { role: 'coach' }),
        (await fetch('/api/sessions')).status,
      ];
    });
    expect(statuses).toEqual([403, 403, 403]);
    await page.context().close();
  });

  test('is put out at once when the coach removes it', async () => {
    const page = await joinBy(await makeCode('coach'), 'Old tablet');
    await device('Old tablet').getByRole('button', { name: 'Remove' }).click();
    await coach.page.getByRole('dialog').getByRole('button', { name: 'Remove' }).click();
    await page.getByRole('heading', { name: 'Join this hub' }).waitFor();
    await device('Old tablet').waitFor({ state: 'detached' });
    await page.reload();
    await page.getByRole('heading', { name: 'Join this hub' }).waitFor();
    await page.context().close();
  });
});

describe.each(['light', 'dark'] as const)('in %s', (theme) => {
  test.each(Object.keys(widths) as WidthName[])('no fault of access at %s width', async (width) => {
    await makeCode('athlete');
    const fits = (page: Page) =>
      page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth);
    await coach.page.setViewportSize(widths[width]);
    await coach.page.emulateMedia({ colorScheme: theme });
    await coach.page.waitForFunction((wanted) => document.documentElement.dataset['theme'] === wanted, theme);
    expect(await axeViolations(coach.page)).toEqual([]);
    expect(await fits(coach.page)).toBe(true);
    await keepScreenshot(coach.page, `devices-${width}-${theme}`);
    const page = await openStranger('/join');
    await page.setViewportSize(widths[width]);
    await page.emulateMedia({ colorScheme: theme });
    await page.waitForFunction((wanted) => document.documentElement.dataset['theme'] === wanted, theme);
    await page.getByRole('heading', { name: 'Join this hub' }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect(await fits(page)).toBe(true);
    await keepScreenshot(page, `join-${width}-${theme}`);
    await page.context().close();
  });
});

test('the coach’s page had no fault', () => {
  expect(coach.faults).toEqual([]);
});
