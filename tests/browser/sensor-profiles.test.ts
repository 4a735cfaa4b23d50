// The page on which a person finds out what a sensor's bytes mean: the example, live answers to each change, what was refused and why,
// undo, saving into the data folder, and all of it by keyboard.

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { BrowserContext } from 'playwright-core';
import { expect, test } from 'vitest';
import { ProfileShelf } from '../../hub/sensors/bluetooth/profile-shelf.ts';
import { wallMs } from '../../shared/units.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { keepScreenshot, openPage } from '../support/chromium-page.ts';
import { openPageHub } from '../support/page-hub.ts';

const suite = browserSuite();

async function open(locale = 'en-GB') {
  const folder = mkdtempSync(join(tmpdir(), 'page-profiles-'));
  suite.closeAfterTest({ close: async () => rmSync(folder, { recursive: true }) });
  const profileShelf = await ProfileShelf.open({ folder, wallNowMs: () => wallMs(Date.now()) });
  const hub = suite.closeAfterTest(
    await openPageHub({ athleteCount: 1, sessionRunning: false, profileShelf }),
  );
  const opened = await openPage(suite.browser, `${hub.url}/devices/profiles`, { locale });
  suite.closeAfterTest(opened.context as BrowserContext);
  return { hub, folder, profileShelf, ...opened };
}

test('the example: SIMULATED is said, bytes are named, readings come, a damaged frame is told with row and byte', async () => {
  const { page, faults } = await open();
  await page.getByText('No profile is saved yet.').waitFor();
  await page.getByRole('button', { name: 'Learn with an example (SIMULATED)' }).click();
  await page.getByText(/^SIMULATED: bytes made/).waitFor();
  await page.getByText('238 frames read, 1 refused.').waitFor();
  await page
    .getByText(/^Row \d+, byte \d+$/)
    .first()
    .waitFor();
  await page.getByText('the checksum does not fit', { exact: false }).waitFor();
  const first = page.getByRole('button', { name: /saturation, %; place 3 in its frame/ }).first();
  expect(await first.getAttribute('class')).toContain('byte--field');
  await keepScreenshot(page, 'sensor-profiles-example');
  expect(faults).toEqual([]);
});

test('each change is answered at once, can be undone, and what is not in order is not saved', async () => {
  const { page, profileShelf, folder } = await open();
  await page.getByRole('button', { name: 'Learn with an example (SIMULATED)' }).click();
  await page.getByText('238 frames read, 1 refused.').waitFor();
  // Another checksum fits no frame.
  await page.getByLabel('Checksum at the end').selectOption('xor8');
  await page.getByText(/^\d frames read/).waitFor();
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.getByText('238 frames read, 1 refused.').waitFor();
  await page.getByText('In order.', { exact: true }).waitFor();
  // A place outside the frame.
  await page.getByLabel('Place', { exact: true }).nth(3).fill('30');
  await page.getByText(/lies outside the frame of 8 bytes/).waitFor();
  expect(await page.getByRole('button', { name: 'Save and use' }).isDisabled()).toBe(true);
  await page.getByRole('button', { name: 'Undo' }).click();
  await page.getByLabel('Name', { exact: true }).fill('My clip 2');
  await page.getByRole('button', { name: 'Save and use' }).click();
  await page.getByText('Saved, and in use.').waitFor();
  await page.getByText('my-clip-2.json').waitFor();
  expect(profileShelf.inUse.map(({ name }) => name)).toEqual(['My clip 2']);
  const saved = readFileSync(join(folder, 'my-clip-2.json'), 'utf8');
  // What a person wrote beside it is still there.
  expect(saved).toContain('// How the sensor is recognised');
  // Saved again, the version before can be had back.
  await page.getByLabel('Name', { exact: true }).fill('My clip 3');
  await page.getByRole('button', { name: 'Save and use' }).click();
  await expect.poll(() => profileShelf.inUse[0]?.name).toBe('My clip 3');
  await page.getByRole('button', { name: 'Version before' }).click();
  await expect.poll(() => page.getByLabel('Name', { exact: true }).inputValue()).toBe('My clip 2');
});

test('by keyboard: a byte is chosen and made a field', async () => {
  const { page } = await open();
  const learn = page.getByRole('button', { name: 'Learn with an example (SIMULATED)' });
  await learn.focus();
  await page.keyboard.press('Enter');
  const byte = page.getByRole('button', { name: /pulse rate, \/min; place 4 in its frame/ }).first();
  await byte.focus();
  await page.keyboard.press('Enter');
  await page.getByText('Place 4', { exact: true }).waitFor();
  const add = page.getByRole('button', { name: 'Add a field here' });
  await add.focus();
  await page.keyboard.press('Enter');
  await expect.poll(() => page.getByLabel('Gives').count()).toBe(8);
});

test('in German too, and on a phone nothing is wider than the window', async () => {
  const { page } = await open('de-DE');
  await page.setViewportSize({ width: 390, height: 844 });
  await page.getByRole('button', { name: 'Mit einem Beispiel lernen (SIMULIERT)' }).click();
  await page.getByText('238 Rahmen gelesen, 1 abgelehnt.').waitFor();
  expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
  await keepScreenshot(page, 'sensor-profiles-phone-de');
});
