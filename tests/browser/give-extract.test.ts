// Giving a marked recording as a labelled extract: what is in it is shown, the athlete agrees, and a file is saved.

import { readFileSync } from 'node:fs';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { labelledExtractSchema } from '../../shared/labelled-extract.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage } from '../support/chromium-page.ts';
import { openPageHub } from '../support/page-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

let browser: Browser;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());

test.each(['phone', 'desktop'] as const)(
  '%s: an extract is looked at, told about and saved',
  async (width) => {
    const store = openStoreInMemory();
    writeSession(store, {
      sessionId: 'evening',
      athleteId: 'athlete-1',
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 4, 3, 19, 12),
      title: 'Dry session',
      simulated: false,
      holdsS: [90],
      wave: true,
    });
    const hub = await openPageHub({ athleteCount: 1, sessionRunning: false, store });
    const { page, context, faults } = await openPage(browser, `${hub.url}/recordings/evening`, { width });
    try {
      await page.getByText('Files', { exact: true }).click();
      await page.getByRole('button', { name: 'Give as an extract' }).click();
      const dialog = page.getByRole('dialog', { name: 'Give this recording as an extract' });
      await dialog.getByText('Saturation: 330 readings').waitFor();
      expect(await dialog.getByText('Pulse wave: 33000 readings').count()).toBe(0);
      const save = dialog.getByRole('button', { name: 'Save the file' });
      expect(await save.isDisabled()).toBe(true);
      await dialog.getByLabel('Hold 1, 1:30').selectOption('Emptied');
      await dialog.getByLabel('Where the oximeter sat').selectOption('Ear');
      await dialog.getByLabel('Every hold in this recording is marked').check();
      await dialog.getByLabel('With the pulse wave').check();
      // Ten a packet, ten packets a second; nine of the first are of before the session.
      await dialog.getByText('Pulse wave: 32991 readings').waitFor();
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
        holds: [{ startMs: 90_000, endMs: 180_000, lungs: 'emptied' }],
      });
      expect(extract.series.map(({ channel }) => channel).sort()).toEqual([
        'heartRateBpm',
        'pulseRateBpm',
        'spo2Percent',
      ]);
      // Nothing that tells who it was, when, or by which sensor.
      expect(JSON.stringify(extract)).not.toMatch(/Marit|athlete-1|2026|clip|strap/i);
      expect(faults).toEqual([]);
    } finally {
      await context.close();
      await hub.close();
    }
  },
);
