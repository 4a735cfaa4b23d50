// A plan and the log follow the athletes chosen: what was accepted for some is not for others, and nobody is shown the log
// of somebody else.

import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, expect, test } from 'vitest';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { openPageHub, type PageHub } from '../support/page-hub.ts';

let browser: Browser;
let hub: PageHub;
let page: Page;
let faults: string[];
let close: () => Promise<void>;

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
beforeEach(async () => {
  hub = await openPageHub({ athleteCount: 2, sessionRunning: false });
  const opened = await openPage(browser, `${hub.url}/about`);
  ({ page, faults } = opened);
  close = () => opened.context.close();
});
afterEach(async () => {
  await close();
  await hub.close();
});

test("a plan's warnings accepted for some athletes are asked again for others", async () => {
  await page.goto(`${hub.url}/plans/new/carbonDioxide`);
  await page.getByText(/Row by row \(4\)/).click();
  await page.getByRole('slider', { name: 'Hold 4, longest' }).fill('300');
  const understood = page.getByRole('checkbox', { name: 'Understood; start with this' });
  await understood.check();
  const missing = page.getByText('Read and tick what is above');
  await missing.waitFor({ state: 'detached' });
  await page.getByRole('checkbox', { name: hub.athletes[1]!.name }).check();
  await missing.waitFor();
  expect(await understood.isChecked()).toBe(false);
  await understood.check();
  await missing.waitFor({ state: 'detached' });
  await page.getByRole('checkbox', { name: hub.athletes[0]!.name }).uncheck();
  await missing.waitFor();
  expect(faults).toEqual([]);
});

test('an answer that comes late is not shown as the log of the athlete chosen since', async () => {
  const [first, second] = hub.athletes;
  const entry = {
    entryId: 'e-1',
    athleteId: first!.athleteId,
    startedWallAtMs: 1_000,
    place: '',
    effort: 'easy',
    comfort: null,
    note: '',
    kind: 'maximalDryHold',
    buddyName: null,
    lengthSeconds: 77,
  };
  let answer: () => void = () => undefined;
  const held = new Promise<void>((resolve) => {
    answer = resolve;
  });
  let answered: () => void = () => undefined;
  const sent = new Promise<void>((resolve) => {
    answered = resolve;
  });
  await page.route(`**/api/athletes/${first!.athleteId}/training`, async (route) => {
    await held;
    await route.fulfill({ json: { entries: [entry] } });
    answered();
  });
  const asked = page.waitForRequest(`**/api/athletes/${first!.athleteId}/training`);
  await page.goto(`${hub.url}/training`);
  // A page that is quick to be told of another athlete would not ask for the first one's log at all.
  await asked;
  await page.getByLabel('Athlete').selectOption(second!.athleteId);
  await page.getByText('Nothing in the log yet.').waitFor();
  answer();
  await sent;
  // Two frames after the page has had the answer.
  await page.evaluate(
    () => new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve))),
  );
  expect(await page.getByText('1:17').count()).toBe(0);
  await page.getByLabel('Athlete').selectOption(first!.athleteId);
  await page.getByText('1:17').waitFor();
  expect(faults).toEqual([]);
});

test('a log without athletes says why, though there is no form to say it in', async () => {
  await page.route('**/api/athletes', (route) => route.fulfill({ status: 500, json: {} }));
  await page.goto(`${hub.url}/training`);
  await page
    .getByRole('alert')
    .getByText(/^Not loaded/)
    .waitFor();
  expect(await page.locator('.training-form').count()).toBe(0);
});
