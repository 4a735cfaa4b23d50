// Adapters and radios on the Devices page: what each holds, a code for a radio with its command, and a sensor that a person says
// is the same under another address.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { RadioStatus, SameSensor } from '../../hub/base/ports/sensor-source.ts';
import { said } from '../../shared/said.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage, type WidthName } from '../support/chromium-page.ts';
import { scriptedSensorIds } from '../support/scripted-source.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
let browser: Browser;
let folder: string;
let served: ServedTestHub;
const said_: [string, string | null][] = [];
let same: SameSensor[] = [];

const radio = (radioId: string, more: Partial<RadioStatus> = {}): RadioStatus => ({
  radioId,
  deviceId: null,
  name: radioId,
  state: 'on',
  problem: null,
  sensorIds: [],
  freePlaces: null,
  clockUncertaintyMs: 0.2,
  packetsLost: 0,
  ...more,
});
const radios: readonly RadioStatus[] = [
  radio('hci0', { sensorIds: [scriptedSensorIds.strap], freePlaces: 0 }),
  radio('hci1', { state: 'off', problem: said('radio.adapterOff.linux') }),
  radio('at-1', { deviceId: 'd1', name: 'Hall', clockUncertaintyMs: 3.4, freePlaces: 3, packetsLost: 12 }),
  radio('at-2', { deviceId: 'd2', name: 'Gym', state: 'away' }),
];

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'slackwater-radios-'));
  [browser, served] = await Promise.all([
    launchChromium(),
    serveTestHub({
      webDirectory,
      lanIn: folder,
      worn: [
        { sensorId: scriptedSensorIds.oximeter, name: 'Clip of old', kind: 'oximeter' },
        { sensorId: scriptedSensorIds.strap, name: 'Strap', kind: 'heartRate' },
        { sensorId: 'bt:aabbcc', name: 'Clip of old', kind: 'oximeter' },
      ],
    }),
  ]);
  served.hub.assignSensor('bt:aabbcc', null);
  served.source.link('bt:aabbcc', 'off');
  served.source.link(scriptedSensorIds.oximeter, 'searching');
  Object.defineProperty(served.source, 'radios', { get: () => radios });
  Object.defineProperty(served.source, 'sameSensors', { get: () => same });
  Object.assign(served.source, {
    setSameSensor(sensorId: string, as: string | null) {
      said_.push([sensorId, as]);
      same = as === null ? [] : [{ sensorId, as }];
    },
  });
  served.clock.advance(2_000);
});
afterAll(async () => {
  await browser?.close();
  await served?.close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

test.each(['phone', 'tablet', 'desktop'] as const)(
  'on a %s the list says what each radio holds',
  async (width: WidthName) => {
    const { page, context, faults } = await openPage(browser, `${served.url}/devices`, { width });
    const list = page.locator('section', {
      has: page.getByRole('heading', { name: 'Bluetooth adapters and radios' }),
    });
    await list.getByText('Bluetooth adapter 1 (hci0)', { exact: true }).waitFor();
    await list.getByText('Bluetooth adapter 2 (hci1)', { exact: true }).waitFor();
    await list.getByText('full: plug in another adapter').waitFor();
    await list.getByText('1 sensor linked: Strap').waitFor();
    await list.getByText('The Bluetooth adapter is switched off').waitFor();
    await list.getByText('times of arrival known to within 4').waitFor();
    await list.getByText('12 packets were not kept').waitFor();
    await list.getByText('not reached over the network').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await keepScreenshot(page, `radios-${width}`, { fullPage: true });
    expect(faults).toEqual([]);
    await context.close();
  },
);

test('a code for a radio comes with the command that joins it', async () => {
  const { page, context } = await openPage(browser, `${served.url}/devices`, { width: 'tablet' });
  await page.locator('.invite select').first().selectOption('radio');
  await page.getByText('It sees nobody and changes nothing').waitFor();
  await page.getByRole('button', { name: 'Make a code' }).click();
  const command = page.locator('.new-code-command');
  await command.waitFor();
  const code = await page.locator('.new-code-letters').textContent();
  expect(await command.textContent()).toBe(`slackwater radio --to ${served.lanUrl} --code ${code}`);
  await keepScreenshot(page, 'radio-code');
  await context.close();
});

test('a missed sensor is said to be one that is heard, and that is taken back', async () => {
  const { page, context } = await openPage(browser, `${served.url}/devices`, { width: 'tablet' });
  await page.getByLabel('Clip of old is missed').selectOption('bt:aabbcc');
  await page.getByText('also known under the address that ends with BBCC').waitFor();
  await page.getByRole('button', { name: 'It is another sensor' }).click();
  await page.getByText('also known under').waitFor({ state: 'detached' });
  expect(said_).toEqual([
    ['bt:aabbcc', scriptedSensorIds.oximeter],
    ['bt:aabbcc', null],
  ]);
  await context.close();
});

test('one that is heard under its own address, whatever keeps it from working, is not asked about, and its state stands beside it', async () => {
  served.source.tell(scriptedSensorIds.oximeter, {
    link: 'searching',
    detail: said('sensor.locked'),
    isHeard: true,
  });
  served.clock.advance(1_000);
  const { page, context } = await openPage(browser, `${served.url}/people`, { width: 'phone' });
  await page.getByText('it is locked: it wants to be paired').waitFor();
  await page.goto(`${served.url}/devices`);
  await page.getByText('1 sensor linked: Strap').waitFor();
  expect(await page.getByLabel('Clip of old is missed').count()).toBe(0);
  await context.close();
});

test('a sensor that nobody has heard yet is called by its kind and the end of its address, not by the hub’s id', async () => {
  served.hub.assignSensor('bt:aabbcc', 'mira');
  served.source.tell('bt:aabbcc', { name: 'bt:aabbcc', link: 'searching' });
  served.clock.advance(1_000);
  for (const path of ['', 'people', 'devices']) {
    const { page, context } = await openPage(browser, `${served.url}/${path}`, { width: 'phone' });
    if (path !== 'devices') await page.getByText('Sensor (oximeter) …BBCC', { exact: true }).waitFor();
    else await page.getByText('1 sensor linked: Strap').waitFor();
    expect(await page.locator('body').innerText()).not.toContain('bt:');
    await context.close();
  }
});
