// Listening to a sensor from the page: the whole program on the independent air. It is found, linked, started by the profile that is
// being written, and its bytes come beside what that profile makes of them, live.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { BrowserContext } from 'playwright-core';
import { expect, test } from 'vitest';
import { Air, type AirSensor, idOf } from '../bluetooth/air/air.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { keepScreenshot, openPage } from '../support/chromium-page.ts';
import { startHub } from '../support/hub-process.ts';

const suite = browserSuite();
const uuid = (number: number): string => `7a5e000${number}c0de4d0a9b1f2f6e54696465`;

/** Frames of the example's invented clip: a counter, 93 %, 58 /min, perfusion, one sample of a wave; sum of bytes 2 to 6. */
const frames = Array.from({ length: 1_600 }, (_, index) => {
  const body = [index % 16, 93, 58, 24, Math.round(60 + 40 * Math.sin(index / 8))];
  const sum = body.reduce((total, byte) => total + byte, 0) % 256;
  return Buffer.from([0xd1, 0x7e, ...body, sum]).toString('hex');
});
const clip: AirSensor = {
  id: 'lantern',
  address: 'c4:b1:a2:33:0a:01',
  random: true,
  name: 'Lantern 3',
  muted: true,
  startCommand: 'b001',
  services: [
    {
      uuid: uuid(1),
      characteristics: [
        { uuid: uuid(2), properties: ['notify'], stream: { kind: 'bytes', everyMs: 100, frames } },
        { uuid: uuid(3), properties: ['write'] },
      ],
    },
  ],
};

test('a sensor in the air is listened to: started by the profile, its bytes read as they come, and let go', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'page-listens-'));
  suite.closeAfterTest({ close: async () => rmSync(folder, { recursive: true }) });
  const air = await Air.open();
  suite.closeAfterTest({ close: async () => air.close() });
  await air.add(clip);
  const hub = await startHub([
    'start',
    '--data',
    folder,
    '--port',
    '0',
    '--adapter',
    `unix:${air.socketPath}`,
  ]);
  suite.closeAfterTest({ close: async () => void (await hub.stop()) });
  const { page, context, faults } = await openPage(suite.browser, `${hub.url}devices/profiles`);
  suite.closeAfterTest(context as BrowserContext);
  // The example's profile fits this sensor too.
  await page.getByRole('button', { name: 'Learn with an example (SIMULATED)' }).click();
  await page.getByText('238 frames read, 1 refused.').waitFor();
  await page.getByRole('button', { name: 'Look around' }).click();
  await page.getByText('Lantern 3').first().waitFor();
  await page.getByRole('button', { name: 'Listen to it' }).click();
  await page.getByRole('button', { name: 'Start it by this profile' }).waitFor();
  await expect.poll(() => air.of('written', clip.id).length).toBeGreaterThan(0);
  const framesRead = async (): Promise<number> => {
    const text = await page.getByText(/^\d+ frames read, \d+ refused\.$/).innerText();
    return Number(/^\d+/.exec(text)![0]);
  };
  await expect.poll(framesRead).not.toBe(238);
  const before = await framesRead();
  await expect.poll(framesRead).toBeGreaterThan(before + 10);
  expect(await page.getByText(/frames read, 0 refused\./).count()).toBe(1);
  // What is shown now are its own bytes, not the example's.
  expect(await page.getByText(/^SIMULATED: bytes made/).count()).toBe(0);
  const saturation = page.getByRole('button', { name: /5d\. saturation, %; place 3 in its frame/ });
  expect(await saturation.count()).toBeGreaterThan(0);
  await page.getByText('What it offers').waitFor();
  await keepScreenshot(page, 'sensor-listening');
  await page.setViewportSize({ width: 390, height: 844 });
  expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
  await keepScreenshot(page, 'sensor-listening-phone');
  await page.getByRole('button', { name: 'Stop' }).last().click();
  await expect.poll(() => air.of('disconnected', clip.id).length).toBeGreaterThan(0);
  expect(idOf(clip)).toBe('bt:c4b1a2330a01');
  expect(faults).toEqual([]);
});
