// Recordings in and out in a real browser: a file of another program previewed, mapped, imported and shown; a file that
// cannot be read; downloads of a recording and of everything.

import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { decodeEdf } from '../../src/formats/edf/decode-edf.ts';
import { keepScreenshot, launchChromium, openPage } from '../support/chromium-page.ts';
import { startHub } from '../support/hub-process.ts';

const fixture = new URL('../../fixtures/imports/written-by-libedf.edf', import.meta.url).pathname;

let browser: Browser;
let data = '';
beforeAll(async () => {
  browser = await launchChromium();
  data = mkdtempSync(join(tmpdir(), 'slackwater-import-'));
});
afterAll(async () => {
  await browser.close();
  rmSync(data, { recursive: true, force: true, maxRetries: 5 });
});

async function download(page: Page, name: string, role: 'link' | 'button' = 'link'): Promise<Buffer> {
  const [file] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole(role, { name, exact: true }).click(),
  ]);
  return readFileSync(await file.path());
}

test('an EDF+ file of another program is looked at, imported, shown and downloaded again', async () => {
  const hub = await startHub(['demo', '--port', '0', '--data', join(data, 'hub')]);
  const { page, context, faults } = await openPage(browser, `${hub.url}recordings`, { width: 'desktop' });
  try {
    await page.getByRole('link', { name: 'Import a recording' }).click();
    await page.waitForURL('**/import');

    await page.getByLabel('File').setInputFiles({
      name: 'holiday.csv',
      mimeType: 'text/csv',
      buffer: Buffer.from(`time,SpO2\n0,98\n1,98\n2,98\n3,98\n4,98\n5,98\n${'late,97\n'.repeat(4)}`),
    });
    await page.getByLabel('Read SpO2 as').waitFor();
    await page.getByLabel('Name').fill('Nobody');
    await page.getByLabel('Recorded at').fill('2024-05-01T10:00:00');
    await page.getByRole('button', { name: 'Import', exact: true }).click();
    await page.getByText('holiday.csv, line 8, column 1: "late" is no time').waitFor();

    await page.getByLabel('File').setInputFiles(fixture);
    await page.getByLabel('Read Resp as').waitFor();
    expect(await page.getByLabel('Read SpO2 as').inputValue()).toBe('spo2Percent');
    expect(await page.getByLabel('Read Resp as').inputValue()).toBe('');
    expect(await page.getByLabel('Name').inputValue()).toBe('Invented Person');
    // The file says no zone: the hub's own is stated, and another moves the begin.
    expect(await page.getByLabel('Times in this file are in').inputValue()).toBe('UTC');
    await page.getByLabel('Times in this file are in').selectOption('Asia/Tokyo');
    await page
      .getByText(/\b0?9:30/)
      .first()
      .waitFor();
    await keepScreenshot(page, 'import-preview');
    await page.getByRole('button', { name: 'Import', exact: true }).click();
    await page.getByRole('link', { name: 'Show the recording' }).click();
    await page.getByRole('heading', { name: 'Invented Person' }).waitFor();
    await page.getByText('apnea start').waitFor();
    await page.getByText('Files', { exact: true }).click();
    await keepScreenshot(page, 'import-shown');

    const edf = decodeEdf(await download(page, 'Download EDF+'));
    expect(edf.ok && edf.value.signals.map(({ label }) => label)).toEqual([
      'SaO2 finger',
      'Q SaO2 finger',
      'HR finger',
      'Q HR finger',
    ]);
    expect(JSON.parse(String(await download(page, 'Download FHIR')))).toMatchObject({
      resourceType: 'Bundle',
    });
    expect(String(await download(page, 'Download CSV'))).toContain('spo2_percent,92.1');
    await page.goto(`${hub.url}recordings`);
    expect((await download(page, 'Back up everything', 'button')).toString('latin1', 0, 17)).toBe(
      'SLACKWATER-BACKUP',
    );
    // The refused file answers 400, which the browser notes.
    expect(faults.filter((fault) => !fault.includes('400'))).toEqual([]);
  } finally {
    await context.close();
    await hub.stop();
  }
});
