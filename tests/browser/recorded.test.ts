// What a recording answers after a session, in a real browser against the real hub: in short, a card a hold, planned beside
// actual by the holds as they stand, gases by the model, events in groups, and the group's report.

import type { Page } from 'playwright-core';
import { expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import type { RecordingBody } from '../../shared/http.ts';
import type { StoredPlanRun } from '../../shared/plan-run.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage, widths } from '../support/chromium-page.ts';
import { looksRight } from '../support/looks-right.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { openPageHub } from '../support/page-hub.ts';
import { recordedByPlan } from '../support/recorded-by-plan.ts';
import { writeSession } from '../support/written-sessions.ts';

const suite = browserSuite();

async function openRecordedByPlan() {
  const recorded = await recordedByPlan();
  suite.closeAfterTest(recorded.hub);
  return recorded;
}

async function openAt(url: string): Promise<{ page: Page; faults: string[] }> {
  const { page, context, faults } = await openPage(suite.browser, url, { width: 'phone' });
  suite.closeAfterTest(context);
  return { page, faults };
}

test('a session by a plan: in short, a card a hold, planned beside actual as corrected, groups of events', async () => {
  const { hub, path } = await openRecordedByPlan();
  const { page, faults } = await openAt(hub.url + path);
  const inShort = page.getByRole('region', { name: 'In short' });
  await page.getByText('All measures of each hold').waitFor();
  const facts = Object.fromEntries(
    await inShort
      .locator('dl > div')
      .evaluateAll((all) =>
        all.map((each) => [
          each.querySelector('dt')!.textContent,
          (each.querySelector('dd') as HTMLElement).innerText,
        ]),
      ),
  );
  expect(facts['Holds']).toMatch(/^2\s+3:00 held/);
  expect(facts['Longest']).toMatch(/^1:50 marked\s+hold 2$/);
  expect(facts['Lowest SpO2']).toMatch(/^8\d\u202f%\s+hold 2, .* after its end\s+below the floor of 88/);
  expect(facts['Alarms']).toMatch(/^1 below the floor/);
  expect(facts['Recovery']).toMatch(/SpO2 back in .*heart rate back in /s);
  // Without one tap: above the fold of a phone.
  const box = (await inShort.boundingBox())!;
  expect(box.y + box.height).toBeLessThan(1.5 * widths.phone.height);

  const card = page.locator('.hold-card').nth(1);
  const ofCard = await card.innerText();
  expect(ofCard).toMatch(/Hold 2\s+1:50\s+marked/);
  expect(ofCard).toMatch(/1:1[0-2] easy, 0:(38|39|40) after the first contraction \(marked\)/);
  expect(ofCard).toContain('below the floor');
  await card.getByText('model, not measured', { exact: false }).waitFor();
  expect(await card.innerText()).toMatch(/\d+\u202fmmHg \(\d\.\d\u202fkPa\)/);
  await card.getByText('longest 2:00', { exact: false }).waitFor();

  // One hold, one length: in the card, in the plan within the recording, and in the run itself, also once it was corrected.
  const recording = (await (
    await fetchAsOwn(`${hub.url}/api/sessions${path.slice(11)}`)
  ).json()) as RecordingBody;
  const { holdId, end } = recording.athletes[0]!.holds[1]!.hold;
  const corrected = await fetchAsOwn(
    `${hub.url}/api/sessions${path.slice(11)}/athletes/${hub.athletes[0]!.athleteId}/corrections`,
    {
      method: 'PUT',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ type: 'moveBoundary', holdId, boundary: 'end', atMs: end!.atMs + 3_000 }),
    },
  );
  expect(corrected.status).toBe(200);
  await page.reload();
  await page.locator('.hold-card').nth(1).getByText('1:53').waitFor();
  const planned = page.locator('.plan-table--actual tbody tr').nth(1);
  await planned.getByText('1:53').waitFor();
  expect(await planned.innerText()).toMatch(/late|early|as planned/);
  const firstCard = await page.locator('.hold-card').first().innerText();
  expect(firstCard).toMatch(/longest 1:10, 0:\d\d late/);

  const events = page.locator('details.explain').filter({ has: page.locator('.events') });
  const titles = await events.locator('summary').allTextContents();
  expect(titles[0]).toMatch(/^Alarms: below the floor \(1\)/);
  expect(titles.at(-1)).toMatch(/^Marks of holds \(5\)/);
  await looksRight(page, 'recorded-by-plan');

  const { runs } = (await (await fetchAsOwn(`${hub.url}/api/plan-runs`)).json()) as {
    runs: Omit<StoredPlanRun, 'events'>[];
  };
  await page.goto(`${hub.url}/plan-runs/${runs[0]!.runId}`);
  await page.getByText('corrections counted', { exact: false }).waitFor();
  await page.locator('.plan-table--actual tbody tr').nth(1).getByText('1:53').waitFor();
  expect(faults).toEqual([]);
});

test('the report of a group: a part each, floor alarms first, every hold; nobody is ranked', async () => {
  const { hub, path } = await openRecordedByPlan();
  const { page, faults } = await openAt(hub.url + path);
  await page.getByRole('link', { name: 'Report of the whole group' }).click();
  const parts = page.locator('.report-athlete');
  await expect.poll(() => parts.locator('.report-table').count()).toBe(2);
  await expect.poll(() => page.getByText('is being worked out').count()).toBe(0);
  for (const [index, { name }] of hub.athletes.entries()) {
    const part = parts.nth(index);
    expect(await part.locator('h2').first().innerText()).toContain(name);
    expect(await part.locator('.report-table tbody tr').count()).toBe(2);
    const floorAt = (await part.locator('.report-floor-alarms').boundingBox())!.y;
    expect(floorAt).toBeLessThan((await part.locator('.report-table').boundingBox())!.y);
    expect(await part.locator('.report-floor-alarms').innerText()).toContain('hold 2: ');
  }
  await looksRight(page, 'recorded-group-report');
  await page.getByText('Never in or near water', { exact: false }).first().waitFor();
  expect(faults).toEqual([]);
});

test('fourteen holds stay readable; without an oximeter what is not known says why', async () => {
  const store = openStoreInMemory();
  const common = {
    athleteId: 'athlete-1',
    athleteName: 'Marit Oduya',
    startedWallAtMs: Date.now() - 86_400_000,
    title: 'Dry session',
  };
  const holdsS = [60, 60, 70, 70, 80, 80, 90, 90, 95, 95, 100, 100, 110, 150];
  writeSession(store, { ...common, sessionId: 'long', holdsS });
  writeSession(store, {
    ...common,
    sessionId: 'strap-only',
    holdsS: [70],
    onsetShare: null,
    clipSilentS: { fromS: 0, toS: 9_999 },
  });
  const hub = suite.closeAfterTest(await openPageHub({ athleteCount: 1, sessionRunning: false, store }));
  const { page, faults } = await openAt(`${hub.url}/recordings/long`);
  await page.getByText('All measures of each hold').waitFor();
  expect(await page.locator('.hold-card').count()).toBe(14);
  await page.getByRole('heading', { name: /^Hold 14 2:30/ }).waitFor();
  // Of 1:22.5 of the last hold and so on: marked in each.
  await page.getByText('from 14 of 14 holds').first().waitFor();
  await looksRight(page, 'recorded-long');
  // Every measure of fourteen holds, to be read without scrolling sideways: each value under its hold's name.
  await page.getByText('All measures of each hold').click();
  const table = page.locator('.measures--by-hold');
  await table.waitFor();
  const beyond = () =>
    table.evaluate((element) => {
      const edge = element.closest('section')!.getBoundingClientRect().right;
      return [...element.querySelectorAll('th, td')].filter(
        (cell) => cell.getClientRects().length > 0 && cell.getBoundingClientRect().right > edge + 0.5,
      ).length;
    });
  expect(await beyond()).toBe(0);
  expect(await table.getByText('Hold 14', { exact: true }).filter({ visible: true }).count()).toBe(
    await table.locator('tbody tr:not(:has(.is-of-none))').count(),
  );
  await looksRight(page, 'recorded-measures');
  await page.setViewportSize(widths.tablet);
  // Where there is room a column a hold, named once.
  expect(await table.getByText('Hold 14', { exact: true }).filter({ visible: true }).count()).toBe(1);
  expect(await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)).toBeLessThanOrEqual(0);
  await page.setViewportSize(widths.phone);

  await page.goto(`${hub.url}/recordings/strap-only`);
  await page.getByText('All measures of each hold').waitFor();
  const ofCard = await page.locator('.hold-card').innerText();
  expect(ofCard).toContain('not known: no usable saturation in this hold');
  expect(ofCard).toContain('no contraction was marked, and the signals carry no estimate');
  await page
    .getByRole('region', { name: 'In short' })
    .getByText('no usable saturation in this hold')
    .waitFor();
  await looksRight(page, 'recorded-strap-only');
  expect(faults).toEqual([]);
});
