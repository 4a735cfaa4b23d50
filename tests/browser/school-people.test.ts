// The people of a school in a real browser: two of one name told apart, joined after a look and made two again, by keyboard;
// one of them erased at every hub, asked twice, with one hub unplugged: waiting, then done. All of one person as a file.

import { mkdtempSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { unzipSync } from 'fflate';
import type { Page } from 'playwright-core';
import { expect, test, vi } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { axeViolations } from '../support/axe-check.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub } from '../support/page-hub.ts';
import { sendFromPageHub } from '../support/school/sending-hub.ts';
import { serveSchool } from '../support/school/served-school.ts';
import { startNats, startPostgres } from '../support/school/servers.ts';
import { writeSession } from '../support/written-sessions.ts';

vi.setConfig({ testTimeout: 300_000 });

const suite = browserSuite();
const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
const newFolder = (): string => mkdtempSync(join(suite.folder, 'data-'));

/** Marit alone in each recording. */
async function aHub(...titles: readonly string[]): Promise<PageHub> {
  const store = openStoreInMemory();
  titles.forEach((title, i) => {
    writeSession(store, {
      sessionId: `rec-${i + 1}`,
      athleteId: 'athlete-1',
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 9 + i, 3, 18),
      title,
      simulated: title === 'Thursday',
      holdsS: [60, 80],
      seed: i + 1,
    });
  });
  return suite.closeAfterTest(await openPageHub({ athleteCount: 1, store, sessionRunning: false }));
}

async function picture(page: Page, name: string): Promise<void> {
  const folder = process.env['SLACKWATER_PICTURES'];
  if (folder === undefined) return;
  for (const width of [390, 820, 1440]) {
    await page.setViewportSize({ width, height: 900 });
    await page.screenshot({ path: `${folder}/${name}-${width}.png`, fullPage: true });
  }
}

test('two of one name joined and made two again; one erased everywhere; a person as a file', async () => {
  const [nats, postgres] = await Promise.all([startNats(), startPostgres()]);
  suite.closeAfterTest({ close: () => Promise.all([nats.stop(), postgres.stop()]) });
  const archiveUrl = await postgres.createDatabase();
  const school = suite.closeAfterTest(
    await serveSchool({ natsUrl: nats.url, archiveUrl, dataFolder: newFolder(), webDirectory }),
  );
  const context = suite.closeAfterTest(
    await suite.browser.newContext({ locale: 'en-GB', viewport: { width: 1440, height: 900 } }),
  );
  await makeOwnBrowser(context, school.url);
  const page = await context.newPage();
  await page.goto(`${school.url}/school/people`);
  await page.getByText('Nobody is known yet').waitFor();
  await page.getByText('Nobody has been erased').waitFor();

  const quay = await aHub('Tuesday', 'Thursday');
  const basin = await aHub('Saturday');
  const ofBasin = { hub: 'basin', room: 'Basin', dataFolder: newFolder() };
  suite.closeAfterTest(
    await sendFromPageHub(nats.url, quay, { hub: 'quay', room: 'Quay hall', dataFolder: newFolder() }),
  );
  const sender = suite.closeAfterTest(await sendFromPageHub(nats.url, basin, ofBasin));
  const proposals = page
    .locator('section')
    .filter({ has: page.getByRole('heading', { name: /One person or two/ }) });
  await expect
    .poll(async () => {
      await page.reload();
      await page.getByRole('heading', { name: 'One person or two?' }).waitFor();
      return Promise.all(
        ['2 recordings, 4 holds', '1 recording, 2 holds'].map((had) => proposals.getByText(had).count()),
      );
    })
    .toEqual([1, 1]);
  // Said beside each name, so that nobody has to guess which is meant.
  await proposals.getByText('Quay hall (quay)').waitFor();
  await proposals.getByText('Basin (basin)').waitFor();
  // Figures of nobody do not pass for somebody's.
  await proposals.getByText('SIMULATED: 1 of 2', { exact: true }).waitFor();
  expect(await proposals.getByText('SIMULATED').count()).toBe(1);
  await picture(page, 'people');
  expect(await axeViolations(page)).toEqual([]);

  const look = page.getByRole('button', { name: /^Look at .*Quay hall.*Basin/ });
  await look.focus();
  await page.keyboard.press('Enter');
  const dialog = page.getByRole('dialog', { name: 'Join two as one person' });
  await dialog
    .getByText(/Then: 3 recordings, 6 holds, in one line of weeks, 3 Oct 2026 to 3 Nov 2026/)
    .waitFor();
  await dialog.getByText('SIMULATED: 1 of 3', { exact: true }).waitFor();
  await dialog.getByText(/Once both were recorded at the same time/).waitFor();
  await picture(page, 'merge');
  expect(await axeViolations(page)).toEqual([]);
  await page.keyboard.press('Escape');
  await dialog.waitFor({ state: 'detached' });
  // Nothing was done by looking.
  expect(await proposals.getByText('Basin (basin)').count()).toBe(1);
  await look.click();
  await dialog.getByRole('button', { name: 'The other way round' }).click();
  await dialog.getByText('Stays, with this name').locator('..').getByText('Basin (basin)').waitFor();
  await dialog.getByRole('button', { name: 'The other way round' }).click();
  await dialog.getByText('Stays, with this name').locator('..').getByText('Quay hall (quay)').waitFor();
  await dialog.getByRole('button', { name: 'Join', exact: true }).click();
  await page.getByText('Nobody has the same name as somebody else.').waitFor();
  await page.getByText('3 recordings, 6 holds').first().waitFor();
  await page.getByRole('button', { name: /make two people of/ }).click();
  await page.getByText('They are two people again').waitFor();
  await look.click();
  await dialog.getByRole('button', { name: 'Join', exact: true }).click();
  await page.getByText('Nobody has the same name as somebody else.').waitFor();

  const fetching = page.waitForEvent('download');
  await page.getByRole('link', { name: /Export everything of/ }).click();
  const packed = unzipSync(readFileSync(await (await fetching).path()));
  expect(Object.keys(packed).toSorted()).toEqual([
    'basin.rec-1.session.zip',
    'list.json',
    'quay.rec-1.session.zip',
    'quay.rec-2.session.zip',
  ]);

  await sender.close();
  await page.getByRole('button', { name: /^Erase .*everywhere/ }).click();
  const erasing = page.getByRole('dialog', { name: 'Erase everywhere' });
  await erasing.getByText('3 recordings of theirs alone, whole').waitFor();
  await erasing.getByText(/Quay hall \(quay\).*Basin \(basin\)/).waitFor();
  const confirm = erasing.getByRole('button', { name: 'Erase everywhere' });
  expect(await confirm.isDisabled()).toBe(true);
  await erasing.getByLabel(/Type the name/).fill('marit oduya');
  await confirm.click();
  await erasing.getByText(/Press once more/).waitFor();
  await picture(page, 'erase');
  expect(await axeViolations(page)).toEqual([]);
  await erasing.getByRole('button', { name: 'Yes, erase it all' }).click();
  await page.getByText(/has been erased from the archive/).waitFor();
  const erased = page.locator('.school-erasure');
  const stateOf = (room: string) => erased.locator('dt', { hasText: room }).locator('+ dd').innerText();
  await expect.poll(() => stateOf('Quay hall')).toMatch(/^done /);
  expect(await stateOf('Basin')).toBe('waiting');
  expect(await erased.innerText()).not.toContain('Marit');
  await picture(page, 'erased');
  suite.closeAfterTest(await sendFromPageHub(nats.url, basin, ofBasin));
  await expect.poll(() => stateOf('Basin')).toMatch(/^done /);
  await expect.poll(() => stateOf('Message server')).toMatch(/^done /);
  expect([quay, basin].map(({ store }) => store.listSessions().length)).toEqual([0, 0]);
});
