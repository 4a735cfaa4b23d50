// A course's papers in a real browser against the real hub: consent and fitness told at a session's start, the emergency
// card one tap away and beside an alarm, a drill acknowledged by name, the incident log.

import type { BrowserContext, Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { axeViolations } from '../support/axe-check.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage } from '../support/chromium-page.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub, type PageHubOptions } from '../support/page-hub.ts';

const suite = browserSuite();
let hub: PageHub;
let context: BrowserContext;

async function open(options: Partial<PageHubOptions>, path: string): Promise<Page> {
  hub = suite.closeAfterTest(await openPageHub({ athleteCount: 2, behindSeconds: 20, ...options }));
  const opened = await openPage(suite.browser, 'about:blank');
  context = suite.closeAfterTest(opened.context);
  await makeOwnBrowser(context, hub.url);
  await opened.page.goto(`${hub.url}${path}`);
  return opened.page;
}

const card = {
  number: '112',
  address: '4 Harbour Lane',
  oxygenPlace: 'In the red bag by the door',
  helpers: [{ name: 'Ines Varga', phone: '0100 200' }],
};

async function openPhone(role: 'athlete' | 'onlooker', path: string) {
  const theirs = await suite.browser.newContext({
    ignoreHTTPSErrors: true,
    viewport: { width: 390, height: 844 },
  });
  const cookie = await hub.joinedCookie(role, role === 'athlete' ? 'athlete-2' : null, `${role} phone`);
  await theirs.addCookies([{ ...cookie, url: hub.lanUrl }]);
  const phone = await theirs.newPage();
  await phone.goto(`${hub.lanUrl}${path}`);
  return { phone, close: () => theirs.close() };
}

test('a session’s start tells who has not consented or said to be fit, and starts all the same', async () => {
  const page = await open({ sessionRunning: false }, '/course');
  await page.getByRole('button', { name: 'Agrees: Marit Oduya' }).click();
  await page.getByRole('button', { name: 'Fit: Marit Oduya' }).click();
  await page.getByText(/since \d{4}-/).waitFor();
  await page.goto(`${hub.url}/`);
  await page.getByText('No consent to be recorded is noted for Teo Lindqvist.').waitFor();
  await page.getByText('Teo Lindqvist has not said that they are fit to train.').waitFor();
  expect(await page.getByText(/noted for Marit/).count()).toBe(0);
  await page.getByRole('checkbox', { name: 'Start without sound on this device' }).check();
  await page.getByRole('checkbox', { name: /I have read these/ }).check();
  await page.getByRole('button', { name: 'Start session' }).click();
  await expect.poll(() => hub.hub.session?.athleteIds.length).toBe(2);
});

test('the emergency card is written, one tap away on every page, and beside an alarm', async () => {
  const page = await open({}, '/course');
  await page.getByLabel('Emergency number here').fill(card.number);
  await page.getByLabel('This address').fill(card.address);
  await page.getByLabel('Where the oxygen is').fill(card.oxygenPlace);
  await page.getByRole('textbox', { name: 'Name', exact: true }).first().fill('Ines Varga');
  await page.getByRole('textbox', { name: 'Phone' }).first().fill('0100 200');
  await page.getByRole('button', { name: 'Save the card' }).click();
  await expect.poll(() => hub.hub.papers.emergencyCard?.number).toBe('112');
  expect(await axeViolations(page)).toEqual([]);
  for (const path of ['/wall', '/live/athlete-1', '/recordings']) {
    await page.goto(`${hub.url}${path}`);
    await page.getByRole('button', { name: 'Emergency' }).click();
    await page.getByRole('dialog').getByText(card.oxygenPlace).waitFor();
    await page.getByRole('dialog').getByRole('link', { name: 'Call 112' }).waitFor();
    await page.getByRole('button', { name: 'Close' }).click();
  }
  await page.goto(`${hub.url}/live/athlete-1`);
  hub.live(0, { spo2Percent: 80, heartRateBpm: 55 });
  hub.pass(4);
  await page.locator('.alarm-card summary', { hasText: 'Call 112' }).click();
  await page.locator('.alarm-card').getByText(card.address).waitFor();
});

test('an onlooker sees the card, and neither consent nor fitness nor incidents of anybody', async () => {
  await open({ lanIn: suite.folder }, '/wall');
  hub.hub.writeEmergencyCard(card, '');
  hub.hub.papers.addStatement('athlete-1', { kind: 'fitness', isGiven: true, onDay: '2026-05-12', by: '' });
  const { phone, close } = await openPhone('onlooker', '/course');
  await phone.getByText(card.address).waitFor();
  expect(await phone.getByText('Consent and fitness').count()).toBe(0);
  expect(await phone.getByText('Incident log').count()).toBe(0);
  for (const path of ['participants', 'incidents', 'drills', 'course/file'])
    expect(await phone.evaluate(async (asked) => (await fetch(`/api/${asked}`)).status, path)).toBe(403);
  await close();
  const athlete = await openPhone('athlete', '/course');
  await athlete.phone.getByRole('button', { name: 'Fit: Teo Lindqvist' }).waitFor();
  expect(await athlete.phone.getByText('Marit Oduya').count()).toBe(0);
  await athlete.close();
});

test('a drill calls on every page, is acknowledged by name with its time, and hides no real alarm', async () => {
  const page = await open({ lanIn: suite.folder }, '/course');
  const { phone, close } = await openPhone('athlete', '/live/athlete-2');
  await phone.getByRole('heading', { name: 'Teo Lindqvist' }).waitFor();
  await page.getByRole('button', { name: 'Start a drill' }).click();
  await phone.locator('.drill', { hasText: 'DRILL' }).waitFor();
  await phone.getByLabel('Your name').fill('Teo');
  await phone.getByRole('button', { name: 'I have seen it' }).click();
  await phone.getByText('Acknowledged on this page.').waitFor();
  await page
    .locator('.drill')
    .getByText(/Teo after \d+/)
    .waitFor();
  expect(await axeViolations(page)).toEqual([]);
  hub.live(0, { spo2Percent: 80, heartRateBpm: 55 });
  hub.pass(4);
  await page.getByText('Marit Oduya: Below the floor').first().waitFor();
  await page.locator('.drill').waitFor({ state: 'detached' });
  await phone.locator('.drill').waitFor({ state: 'detached' });
  await page.getByText('broken off by a real alarm').waitFor();
  await close();
});

test('an incident is written down and acknowledged by a person', async () => {
  const page = await open({ sessionRunning: false }, '/course');
  await page.getByLabel('Who writes').fill('Ines Varga');
  await page.getByRole('combobox', { name: 'Whom it is about' }).selectOption('Marit Oduya');
  await page.getByLabel('What happened').fill('Dizzy after the third hold');
  await page.getByLabel('What was done').fill('Lay down for ten minutes');
  await page.getByRole('button', { name: 'Write it down' }).click();
  await page.getByText('Not yet read by anybody.').waitFor();
  await page.getByRole('button', { name: 'I have read it' }).click();
  await page.getByText('Read by Ines Varga').waitFor();
  expect(hub.hub.papers.incidents()).toMatchObject([{ athleteId: 'athlete-1', by: 'Ines Varga' }]);
});
