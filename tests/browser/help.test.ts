// The handbook in the page, against the real hub: from where a question comes up to its answer, by search, without the hub, and
// for who has not joined.

import type { BrowserContext, Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { pictureNames } from '../../web/handbook/pictures.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { keepScreenshot, openPage, pressUntilGone } from '../support/chromium-page.ts';
import { openPageHub, type PageHubOptions } from '../support/page-hub.ts';

const suite = browserSuite();

async function open(
  path: string,
  options: PageHubOptions = { athleteCount: 1, sessionRunning: false },
  locale = 'en-GB',
) {
  const hub = suite.closeAfterTest(await openPageHub(options));
  const opened = await openPage(suite.browser, hub.url + path, { locale });
  suite.closeAfterTest(opened.context as BrowserContext);
  return { hub, ...opened };
}

/** The section is at the top of what can be seen, under whatever stands above. */
async function isInView(page: Page, id: string): Promise<void> {
  await page.waitForFunction((place) => {
    const at = document.getElementById(place)?.getBoundingClientRect();
    return at !== undefined && at.top >= 0 && at.top < innerHeight / 2;
  }, id);
}

test('from an alarm that somebody has seen to what it means, and back to the athlete', async () => {
  const { page, hub, faults } = await open('/live/athlete-1', { athleteCount: 1 });
  hub.live(0, { spo2Percent: 86, heartRateBpm: 55 });
  hub.pass(4);
  await page.getByRole('heading', { name: 'Below the floor' }).waitFor();
  // While it calls there is one thing to do.
  expect(await page.getByRole('link', { name: /What it means/ }).count()).toBe(0);
  await pressUntilGone(page.getByRole('button', { name: /^Acknowledge/ }).first());
  await keepScreenshot(page, 'help-from-acknowledged-phone');
  // A press right after the acknowledgement is of the same fright and leads nowhere (hurried-hand.ts); a later one does.
  await expect
    .poll(async () => {
      await page.getByRole('link', { name: 'What it means: Below the floor' }).click();
      return new URL(page.url()).pathname;
    })
    .toBe('/help/alarms');
  await page.getByRole('heading', { name: 'Below the floor', level: 2 }).waitFor();
  await isInView(page, 'floorBreached');
  expect(new URL(page.url()).pathname + new URL(page.url()).hash).toBe('/help/alarms#floorBreached');
  // The alarm itself stands above it all the while.
  expect(await page.locator('.alarms .alarm').first().isVisible()).toBe(true);
  await page.goBack();
  await page.getByText('Saturation', { exact: true }).first().waitFor();
  expect(faults).toEqual([]);
});

test('from an alarm of a recording, and from the head of it', async () => {
  const { page, hub } = await open('/live/athlete-1', { athleteCount: 1 });
  hub.live(0, { spo2Percent: 86, heartRateBpm: 55 });
  hub.pass(4);
  hub.live(0, { spo2Percent: 97, heartRateBpm: 60 });
  hub.pass(10);
  const { sessionId } = hub.hub.session!;
  hub.hub.endSession();
  await page.goto(`${hub.url}/recordings/${sessionId}`);
  await page.getByRole('link', { name: 'How to read this page' }).click();
  await page.getByRole('heading', { name: 'Reading a recording', level: 1 }).waitFor();
  await page.goBack();
  await page.getByRole('link', { name: 'What it means: Below the floor' }).first().click();
  await page.getByRole('heading', { name: 'What each alarm means', level: 1 }).waitFor();
  await isInView(page, 'floorBreached');
});

test('by a search, in both languages, to the place', async () => {
  const { page } = await open('/help');
  const search = page.getByRole('searchbox', { name: 'Search the handbook' });
  await search.fill('cold hands');
  await page.getByRole('link', { name: 'What makes it read wrong' }).click();
  await isInView(page, 'errors');
  await page.getByRole('link', { name: 'All chapters' }).click();
  await search.fill('zzz');
  await page.getByText('Nothing in the handbook has all of', { exact: false }).waitFor();
  const german = await open('/help', undefined, 'de-DE');
  await german.page.getByRole('searchbox', { name: 'Im Handbuch suchen' }).fill('kalte finger');
  await german.page.getByRole('link', { name: 'Bevor du dich hinlegst' }).click();
  await isInView(german.page, 'before');
});

test('every chapter opens, with its pictures, and leads to the next', async () => {
  const { page, faults } = await open('/help');
  await page.getByRole('link', { name: 'Setting up' }).click();
  const seen = new Set<string>();
  for (;;) {
    await page.locator('.help-section').first().waitFor();
    for (const image of await page.locator('.help-text img').all()) {
      await image.scrollIntoViewIfNeeded();
      await image.evaluate((element) => (element as HTMLImageElement).decode());
      const shown = await image.evaluate((element) => (element as HTMLImageElement).currentSrc);
      // A phone is given the phone's picture.
      expect(shown).toMatch(/-phone\.webp$/);
      seen.add(/\/en\/([\w-]+)-phone/.exec(shown)![1]!);
    }
    const next = page.getByRole('link', { name: /^Next: / });
    if ((await next.count()) === 0) break;
    const before = page.url();
    await next.click();
    await page.waitForFunction((url) => location.href !== url, before);
  }
  expect([...seen].toSorted()).toEqual([...pictureNames].toSorted());
  expect(faults).toEqual([]);
});

test('without the hub: the text is on the device, and what to do about the hub is one tap away', async () => {
  const hub = await openPageHub({ athleteCount: 1, sessionRunning: false });
  const { page, context } = await openPage(suite.browser, hub.url, { locale: 'de-DE', isKept: true });
  suite.closeAfterTest(context as BrowserContext);
  await page.waitForFunction(() => navigator.serviceWorker.controller?.state === 'activated');
  await hub.close();
  await page.goto(`${hub.url}/wall`);
  await page.getByRole('link', { name: 'Was zu tun ist, wenn der Hub nicht antwortet' }).click();
  await page.getByRole('heading', { name: 'HUB ANTWORTET NICHT', level: 2 }).waitFor();
  await isInView(page, 'hubSilent');
  await page.goto(`${hub.url}/help/first-session`);
  await page.getByRole('heading', { name: 'Die erste Sitzung, allein', level: 1 }).waitFor();
});

test('who has not come in reads it all the same', async () => {
  const hub = suite.closeAfterTest(await openPageHub({ athleteCount: 1, sessionRunning: false }));
  const context = suite.closeAfterTest(await suite.browser.newContext({ locale: 'en-GB' }));
  const page = await context.newPage();
  await page.goto(`${hub.url}/help/alarms#sensorLost`);
  await page.getByRole('heading', { name: 'Sensor lost', level: 2 }).waitFor();
  await isInView(page, 'sensorLost');
  await page.goto(`${hub.url}/help/nothing`);
  await page.getByText('There is no such chapter.').waitFor();
});
