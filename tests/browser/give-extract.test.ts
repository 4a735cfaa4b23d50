// Giving a marked recording as a labelled extract: what is in it is shown, the athlete agrees, and a file is saved.

import { readFileSync } from 'node:fs';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { labelledExtractSchema } from '../../shared/labelled-extract.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage } from '../support/chromium-page.ts';
import { FakeHub } from '../support/fake-hub.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());

test.each(['phone', 'desktop'] as const)(
  '%s: an extract is looked at, told about and saved',
  async (width) => {
    const hub = new FakeHub({ athleteCount: 1, recordings: true, sessionRunning: false });
    await hub.start();
    const { page, context, faults } = await openPage(browser, `${hub.url}/recordings/rec-1`, { width });
    try {
      await page.getByRole('button', { name: 'Give as an extract' }).click();
      const dialog = page.getByRole('dialog', { name: 'Give this recording as an extract' });
      await dialog.getByText('Saturation: 2 readings').waitFor();
      expect(await dialog.getByText('Pulse wave: 3 readings').count()).toBe(0);
      const save = dialog.getByRole('button', { name: 'Save the file' });
      expect(await save.isDisabled()).toBe(true);
      await dialog.getByLabel('Hold 1, 1:30').selectOption('Emptied');
      await dialog.getByLabel('Where the oximeter sat').selectOption('Ear');
      await dialog.getByLabel('Every hold in this recording is marked').check();
      await dialog.getByLabel('With the pulse wave').check();
      await dialog.getByText('Pulse wave: 3 readings').waitFor();
      await dialog.getByLabel('With the pulse wave').uncheck();
      await dialog.getByLabel('The athlete agrees to give it').check();
      expect(await axeViolations(page)).toEqual([]);
      await keepScreenshot(page, `give-extract-${width}`);
      const [file] = await Promise.all([page.waitForEvent('download'), save.click()]);
      expect(file.suggestedFilename()).toBe('labelled-extract.json');
      const extract = labelledExtractSchema.parse(JSON.parse(readFileSync(await file.path(), 'utf8')));
      expect(extract).toMatchObject({
        everyHoldIsMarked: true,
        oximeter: 'ear',
        holds: [{ startMs: 60_000, endMs: 150_000, lungs: 'emptied' }],
      });
      expect(extract.series.map(({ channel }) => channel)).toEqual(['spo2Percent']);
      expect(faults).toEqual([]);
    } finally {
      await context.close();
      await hub.stop();
    }
  },
);
