// A hub whose answers and news come late, or in another order than they were asked for, while somebody goes on: what was said
// last stands, nobody is led away from where they have gone, and nothing is said to be saved that is not.

import type { Page, WebSocketRoute } from 'playwright-core';
import { expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { populationPrior } from '../../src/oxygen/athlete-prior.ts';
import { makeTableFromRows } from '../../src/plans/generate-plan.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage } from '../support/chromium-page.ts';
import { drawn, keepAnswerBack } from '../support/late-answer.ts';
import { openPageHub, type PageHub, type PageHubOptions } from '../support/page-hub.ts';
import { writeEvening } from '../support/written-sessions.ts';

const suite = browserSuite();
let hub: PageHub;

async function open(path: string, options: Partial<PageHubOptions> = {}): Promise<Page> {
  hub = suite.closeAfterTest(await openPageHub({ athleteCount: 2, sessionRunning: false, ...options }));
  const opened = await openPage(suite.browser, hub.url + path, { width: 'desktop' });
  suite.closeAfterTest(opened.context);
  return opened.page;
}

/** By a link of the page, as a person does. */
const go = async (page: Page, path: string, heading: string): Promise<void> => {
  await page.evaluate(`document.querySelector('nav a[href="${path}"]').click()`);
  await page.getByRole('heading', { name: heading, exact: true }).waitFor();
};
const pathOf = (page: Page): string => new URL(page.url()).pathname;

test('a plan opened before the hub has said which session runs is for those in it, and their sensors tell', async () => {
  const page = await open('/about', { sessionRunning: true });
  const waiting: (() => void)[] = [];
  let isLate = true;
  await page.routeWebSocket(/\/ws/, (socket) => {
    socket.connectToServer().onMessage((message) => {
      if (isLate) waiting.push(() => socket.send(message));
      else socket.send(message);
    });
  });
  await page.goto(`${hub.url}/plans/new/carbonDioxide`);
  await page.getByRole('heading', { name: 'Who', exact: true }).waitFor();
  // Whatever it asks the hub before, it has been told.
  await page.waitForLoadState('networkidle');
  await drawn(page);
  isLate = false;
  for (const send of waiting.splice(0)) send();
  const of = (name: string) => page.getByRole('checkbox', { name });
  await of('Teo Lindqvist').waitFor();
  expect(await of('Marit Oduya').isChecked()).toBe(true);
  expect(await of('Teo Lindqvist').isChecked()).toBe(true);
  expect(await page.getByRole('checkbox', { name: /^No sensors and no taps/ }).isChecked()).toBe(false);
});

test('who was chosen by hand stays chosen when the hub comes back, be it nobody', async () => {
  let socket: WebSocketRoute | undefined;
  const page = await open('/about');
  await page.routeWebSocket(/\/ws/, (opened) => {
    socket = opened;
    opened.connectToServer();
  });
  await page.goto(hub.url);
  const boxes = page.locator('.people').getByRole('checkbox');
  await expect.poll(() => page.locator('.people').getByRole('checkbox', { checked: true }).count()).toBe(2);
  for (const box of await boxes.all()) await box.uncheck();
  // As long as a hub is silent before the page calls it so, and back again.
  await page.routeWebSocket(/\/ws/, (opened) => {
    socket = opened;
  });
  await socket!.close();
  await page.locator('.link-state--silent').waitFor({ state: 'attached' });
  const again = page.waitForResponse(/\/api\/athletes$/);
  await page.routeWebSocket(/\/ws/, (opened) => {
    opened.connectToServer();
  });
  await socket!.close();
  await again;
  await page.locator('.link-state--live').waitFor({ state: 'attached' });
  await drawn(page);
  expect(await page.locator('.people').getByRole('checkbox', { checked: true }).count()).toBe(0);
});

test('who wears a sensor is whom the hub names last, though the answer to an earlier choice comes after it', async () => {
  const page = await open('/');
  const worn = page.getByRole('combobox', { name: 'Finger clip 1 is worn by' });
  await worn.waitFor();
  const taken = await keepAnswerBack(page, 'PUT', /\/api\/sensors\/.*\/athlete$/);
  await worn.selectOption('Teo Lindqvist');
  await taken.given;
  // By another coach, within the second in which the hub tells of sensors once: back as it was told before.
  hub.hub.assignSensor('oximeter-1', 'athlete-1');
  await taken.come();
  await expect.poll(() => worn.inputValue()).toBe('athlete-1');
  expect(hub.hub.sensors.find(({ sensorId }) => sensorId === 'oximeter-1')?.athleteId).toBe('athlete-1');
});

test('what was accepted of a plan is asked for again, once the hub has told more of who holds', async () => {
  const store = openStoreInMemory();
  const rows = [0, 1].map(() => ({ ceilingSeconds: 180, recoverySeconds: 120, lungs: 'full' as const }));
  store.saveDocument({
    kind: 'plan',
    documentId: 'long',
    groupId: null,
    athleteId: null,
    body: { plan: makeTableFromRows('Long', rows), savedWallAtMs: 0 },
  });
  // Whoever uses more oxygen than most.
  store.saveDocument({
    kind: 'oxygenPrior',
    documentId: 'athlete-1',
    groupId: null,
    athleteId: 'athlete-1',
    body: {
      ...populationPrior,
      mean: populationPrior.mean.map((_, trait) => (trait === 1 ? 1 : 0)),
      holdCount: 9,
    },
  });
  const page = await open('/about', { store, sessionRunning: true });
  const oxygen = await keepAnswerBack(page, 'GET', /athlete-1\/oxygen$/);
  await page.goto(`${hub.url}/plans/long`);
  const accepted = page.getByRole('checkbox', { name: /^Understood/ });
  const start = page.getByRole('button', { name: 'Start the plan' });
  await page.getByText(/and 1 more could go below the floor/).waitFor();
  await accepted.check();
  await oxygen.given;
  // What is known by now is of the population.
  expect(await start.isDisabled()).toBe(true);
  await oxygen.come();
  expect(await accepted.isChecked()).toBe(false);
  await accepted.check();
  expect(await start.isEnabled()).toBe(true);
});

test('nobody is led away from where they have gone while the hub was at work', async () => {
  const store = openStoreInMemory();
  writeEvening(store);
  const page = await open('/plans/new/carbonDioxide', { store, sessionRunning: true });
  const begun = await keepAnswerBack(page, 'POST', /\/api\/plan-runs$/);
  await page.getByRole('button', { name: 'Start the plan' }).click();
  await begun.given;
  await go(page, '/devices', 'Devices');
  await begun.come();
  expect(pathOf(page)).toBe('/devices');

  await page.goto(`${hub.url}/recordings/evening`);
  const deleted = await keepAnswerBack(page, 'DELETE', /\/api\/sessions\/evening/);
  await page.getByRole('button', { name: 'Delete', exact: true }).click();
  await page.getByRole('button', { name: 'Into the bin' }).click();
  await deleted.given;
  await page.keyboard.press('Escape');
  await go(page, '/devices', 'Devices');
  await deleted.come();
  await page.getByRole('button', { name: 'Undo' }).waitFor();
  expect(pathOf(page)).toBe('/devices');
});

test('nothing is said to be saved that was changed since: a plan, and the title of a recording', async () => {
  const store = openStoreInMemory();
  writeEvening(store);
  const page = await open('/plans/new/carbonDioxide', { store });
  const name = page.getByLabel('Name', { exact: true });
  await name.fill('Tuesday');
  await name.press('Tab');
  const plan = await keepAnswerBack(page, 'POST', /\/api\/plans$/);
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await plan.given;
  await page
    .getByRole('button', { name: /^Calm breathing before the first start: .* more$/ })
    .first()
    .click();
  await plan.come();
  expect(await page.getByText('Saved.', { exact: true }).count()).toBe(0);
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await page.getByText('Saved.', { exact: true }).waitFor();

  await page.goto(`${hub.url}/recordings/evening`);
  await page.getByRole('button', { name: 'Title, led by ...' }).click();
  const title = page.locator('form.session-title input').first();
  await title.fill('Evening at the lake');
  const titled = await keepAnswerBack(page, 'PUT', /\/api\/sessions\/evening$/);
  await page.locator('form.session-title').getByRole('button', { name: 'Save' }).click();
  await titled.given;
  await title.fill('Evening at the lake, calm');
  await titled.come();
  expect(await title.inputValue()).toBe('Evening at the lake, calm');
});

test('a hub that is back from a restore before it was called silent is said to be back', async () => {
  const page = await open('/about');
  let runId = '';
  let socket: WebSocketRoute | undefined;
  await page.routeWebSocket(/\/ws/, (opened) => {
    socket = opened;
    opened.connectToServer().onMessage((message) => {
      const told = typeof message === 'string' ? (JSON.parse(message) as Record<string, unknown>) : {};
      opened.send(
        told['type'] === 'welcome' && runId !== '' ? JSON.stringify({ ...told, hubRunId: runId }) : message,
      );
    });
  });
  const answers: readonly (readonly [RegExp, number, unknown])[] = [
    [/\/api\/backups$/, 200, { scheduled: null, mayRestore: true }],
    [/\/api\/restore$/, 201, { restoreId: 'r-1', locked: false }],
    [
      /\/api\/restore\/r-1\/look$/,
      200,
      {
        sessionCount: 1,
        athleteCount: 1,
        newestWallAtMs: null,
        present: { sessionCount: 0, athleteCount: 0 },
      },
    ],
    [/\/api\/restore\/r-1\/begin$/, 202, {}],
  ];
  for (const [url, status, body] of answers)
    await page.route(url, (route) => route.fulfill({ status, json: body }));
  await page.goto(`${hub.url}/backups`);
  await page.locator('input[type=file]').setInputFiles({
    name: 'backup.tar',
    mimeType: 'application/octet-stream',
    buffer: Buffer.from('A backup'),
  });
  await page.getByRole('checkbox', { name: /^Put the backup in the place/ }).check();
  await page.getByRole('button', { name: 'Restore', exact: true }).click();
  await page.getByText(/^The hub stops, restores/).waitFor();
  // The same hub, heard again after the network was away, has not restored anything.
  await socket!.close();
  await expect.poll(() => page.locator('.link-state--live').count()).toBe(1);
  await drawn(page);
  expect(await page.getByText(/^The hub stops, restores/).count()).toBe(1);
  runId = 'another';
  await socket!.close();
  await page.getByText(/^The hub stops, restores/).waitFor({ state: 'detached' });
  expect(await page.locator('.link-state--live').count()).toBe(1);
});
