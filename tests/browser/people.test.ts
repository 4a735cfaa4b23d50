// People and sensors of a running session, in a real browser against the real hub: giving a sensor to another, asking
// whose one is, coming later, leaving, and two whose signals look exchanged.

import type { BrowserContext, Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { axeViolations } from '../support/axe-check.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { keepScreenshot, openPage } from '../support/chromium-page.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub, type PageHubOptions, silentBody } from '../support/page-hub.ts';

const suite = browserSuite();
let hub: PageHub;
let context: BrowserContext;

async function open(options: Partial<PageHubOptions>, path = '/people'): Promise<Page> {
  hub = suite.closeAfterTest(await openPageHub({ athleteCount: 3, behindSeconds: 20, ...options }));
  const opened = await openPage(suite.browser, 'about:blank');
  context = suite.closeAfterTest(opened.context);
  await makeOwnBrowser(context, hub.url);
  await opened.page.goto(`${hub.url}${path}`);
  return opened.page;
}
const sessionIds = () => hub.hub.session?.athleteIds ?? [];

test('a sensor is given to another in the session, and the review says who did it and when', async () => {
  const page = await open({});
  await page.getByRole('combobox', { name: 'Finger clip 1 is worn by' }).selectOption('Teo Lindqvist');
  await expect
    .poll(() => hub.hub.sensors.find(({ sensorId }) => sensorId === 'oximeter-1')?.athleteId)
    .toBe('athlete-2');
  hub.live(0, { spo2Percent: 93, heartRateBpm: 60 });
  hub.pass(3);
  expect(hub.hub.snapshotOf('athlete-2')?.latestSpo2?.sensorId).toMatch(/oximeter-[12]/);
  const sessionId = hub.hub.session!.sessionId;
  hub.hub.endSession();
  await page.goto(`${hub.url}/recordings/${sessionId}`);
  // Folded below the alarms and marks.
  await page
    .getByText(/^People and sensors \(\d+\)$/)
    .first()
    .click();
  await page.getByText('No longer wears Finger clip 1').first().waitFor();
  await page.getByText('by the hub’s own machine').first().waitFor();
});

test('who comes later is watched at once; who leaves is asked for again, and is watched no more', async () => {
  const page = await open({ sessionRunning: false });
  hub.hub.startSession(['athlete-1', 'athlete-2'], 'Morning');
  await page.getByRole('combobox', { name: 'Who comes' }).selectOption('Sana Whitlock');
  await page.getByRole('button', { name: 'Comes to the session' }).click();
  await expect.poll(sessionIds).toEqual(['athlete-1', 'athlete-2', 'athlete-3']);
  await page.getByRole('button', { name: /Leaves the session.*Teo/ }).click();
  await page.getByRole('button', { name: 'Cancel' }).click();
  expect(sessionIds()).toHaveLength(3);
  hub.live(1, { spo2Percent: 80, heartRateBpm: 60 });
  hub.pass(4);
  await page.getByText('Teo Lindqvist: Below the floor').first().waitFor();
  await page.getByRole('button', { name: /Leaves the session.*Teo/ }).click();
  await page.getByRole('button', { name: 'Leaves', exact: true }).click();
  await expect.poll(sessionIds).toEqual(['athlete-1', 'athlete-3']);
  await page.locator('.alarm', { hasText: 'Teo Lindqvist' }).waitFor({ state: 'detached' });
  await page.goto(`${hub.url}/wall`);
  await page.getByRole('heading', { name: /Sana Whitlock/ }).waitFor();
  expect(await page.getByRole('heading', { name: /Teo Lindqvist/ }).count()).toBe(0);
});

test('the page of an athlete who left is told so, and sounds no alarm of a lost session', async () => {
  const page = await open({ lanIn: suite.folder });
  const theirs = await suite.browser.newContext({ ignoreHTTPSErrors: true });
  const cookie = await hub.joinedCookie('athlete', 'athlete-2', 'Teo phone');
  await theirs.addCookies([{ ...cookie, url: hub.lanUrl }]);
  const phone = await theirs.newPage();
  await phone.goto(`${hub.lanUrl}/live/athlete-2`);
  await phone.getByRole('heading', { name: 'Teo Lindqvist' }).waitFor();
  hub.hub.leaveSession('athlete-2');
  await phone.getByText('The session has ended.').waitFor();
  await phone.reload();
  await phone.getByText('No session is running.').first().waitFor();
  expect(await phone.getByText(/Monitoring stopped/).count()).toBe(0);
  expect(await page.title()).not.toContain('▲');
  await theirs.close();
});

test('one is asked whose a sensor is: the clip that fell silent and came back is offered to them', async () => {
  const page = await open({});
  hub.hub.assignSensor('oximeter-1', 'athlete-2');
  await page.getByRole('combobox', { name: 'Whom you ask' }).selectOption('Marit Oduya');
  await page.getByRole('button', { name: 'Ask now' }).click();
  await page.getByText(/Say to Marit Oduya/).waitFor();
  await page.getByText('Nothing has answered yet.').waitFor();
  hub.pass(2);
  hub.live(0, silentBody);
  hub.pass(8);
  await page.getByText('Finger clip 1: has stopped').waitFor();
  hub.live(0, { spo2Percent: 97, heartRateBpm: 60 });
  await page.getByText('Finger clip 1 answered. It is given to Teo Lindqvist.').waitFor();
  await page.getByText('Chest strap 1 answered: it is given to Marit Oduya already.').waitFor();
  await page.getByText('Finger clip 2: reads on').waitFor();
  await page.getByRole('button', { name: 'Finger clip 1 is Marit Oduya’s' }).click();
  await expect
    .poll(() => hub.hub.sensors.find(({ sensorId }) => sensorId === 'oximeter-1')?.athleteId)
    .toBe('athlete-1');
});

test('two whose signals look exchanged are told of on every page, and put right by one press', async () => {
  const page = await open({
    athleteCount: 2,
    bodyOf: (index) => () => ({ spo2Percent: 97, heartRateBpm: index === 0 ? 56 : 78 }),
  });
  hub.hub.assignSensors([
    { sensorId: 'oximeter-1', athleteId: 'athlete-2' },
    { sensorId: 'oximeter-2', athleteId: 'athlete-1' },
  ]);
  hub.pass(110);
  await page.getByText('Sensors exchanged?').first().waitFor();
  await page.getByRole('heading', { name: /The signals of .* look exchanged/ }).waitFor();
  expect(await axeViolations(page)).toEqual([]);
  await keepScreenshot(page, 'people-exchanged');
  await page.getByRole('button', { name: 'The clips are exchanged' }).click();
  await page.locator('.alarm', { hasText: 'Sensors exchanged?' }).waitFor({ state: 'detached' });
  expect(hub.hub.sensors.find(({ sensorId }) => sensorId === 'oximeter-1')?.athleteId).toBe('athlete-1');
  hub.pass(110);
  expect(hub.hub.supervision).toEqual([]);
});
