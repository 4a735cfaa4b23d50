// The wall of a school in a real browser: two hubs, one wall, an alarm from each, acknowledged from the other room; one hub
// unplugged. A hub's own pages show their room alone: in the other room it is a coach's device with the school's wall open.

import { mkdtempSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { expect, test, vi } from 'vitest';
import type { RunningSchool } from '../../hub/school/boot-school.ts';
import type { AuditEntry } from '../../shared/audit.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { pressUntilGone, widths } from '../support/chromium-page.ts';
import { fetchAsOwn, makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub } from '../support/page-hub.ts';
import { sendFromPageHub } from '../support/school/sending-hub.ts';
import { serveSchool } from '../support/school/served-school.ts';
import { startNats, startPostgres } from '../support/school/servers.ts';

vi.setConfig({ testTimeout: 300_000 });

const suite = browserSuite();
const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
const low = { spo2Percent: 80, heartRateBpm: 60 };
const newFolder = (): string => mkdtempSync(join(suite.folder, 'data-'));

/** A coach's device that somebody carries in one of the rooms, joined at the school, with its wall open. */
async function openInRoom(school: RunningSchool, name: string): Promise<Page> {
  const ask = async (path: string, body?: object) =>
    (
      await fetchAsOwn(`${school.url}/api/${path}`, {
        ...(body !== undefined && { method: 'POST', body: JSON.stringify(body) }),
        headers: { 'content-type': 'application/json', origin: school.url },
      })
    ).json();
  const { lan } = (await ask('devices')) as { lan: { addresses: string[] } };
  const { code } = (await ask('join-codes', { role: 'coach' })) as { code: string };
  const context = suite.closeAfterTest(
    await suite.browser.newContext({ locale: 'en-GB', viewport: widths.tablet, ignoreHTTPSErrors: true }),
  );
  const device = await context.newPage();
  await device.goto(
    new URL(
      `/join#${code}`,
      lan.addresses.find((each) => each.includes('127.0.0.1')),
    ).href,
  );
  await device.getByLabel('Name of this device').fill(name);
  await device.getByRole('button', { name: 'Join', exact: true }).click();
  await device.locator('.link-state--live').waitFor({ state: 'attached' });
  await device.goto(new URL('/rooms', device.url()).href);
  await device.getByRole('article').first().waitFor();
  return device;
}

test('two hubs on one wall, an alarm from each, acknowledged from the other room; one unplugged', async () => {
  const [nats, postgres] = await Promise.all([startNats(), startPostgres()]);
  suite.closeAfterTest({ close: () => Promise.all([nats.stop(), postgres.stop()]) });
  const archiveUrl = await postgres.createDatabase();
  const school = suite.closeAfterTest(
    await serveSchool({ natsUrl: nats.url, archiveUrl, dataFolder: newFolder(), webDirectory, lan: true }),
  );
  const quay = suite.closeAfterTest(await openPageHub({ athleteCount: 1, names: ['Marit Oduya'] }));
  const basin = suite.closeAfterTest(await openPageHub({ athleteCount: 1, names: ['Teo Lindqvist'] }));
  const inLogOf: Readonly<Record<string, AuditEntry[]>> = { quay: [], basin: [] };
  const send = async (page: PageHub, hub: string, room: string) =>
    suite.closeAfterTest(
      await sendFromPageHub(nats.url, page, {
        hub,
        room,
        dataFolder: newFolder(),
        audit: { append: (entry) => void inLogOf[hub]?.push(entry) },
      }),
    );
  await send(quay, 'quay', 'Quay hall');
  const ofBasin = await send(basin, 'basin', 'Basin');
  const context = suite.closeAfterTest(
    await suite.browser.newContext({ locale: 'en-GB', viewport: { width: 1440, height: 900 } }),
  );
  await makeOwnBrowser(context, school.url);
  const page = await context.newPage();
  await page.goto(`${school.url}/rooms`);
  const room = (name: string) => page.getByRole('region', { name, exact: true });
  await room('Quay hall').getByRole('article', { name: 'Marit Oduya' }).waitFor();
  await room('Basin').getByRole('article', { name: 'Teo Lindqvist' }).waitFor();
  const inRoom = {
    quay: await openInRoom(school, 'Quay tablet'),
    basin: await openInRoom(school, 'Basin tablet'),
  };
  for (const hub of [quay, basin]) {
    hub.live(0, low);
    hub.pass(6);
  }
  for (const [id, name, hub, here, device] of [
    ['quay', 'Quay hall', quay, inRoom.basin, 'Basin tablet'],
    ['basin', 'Basin', basin, inRoom.quay, 'Quay tablet'],
  ] as const) {
    const alarms = here.getByRole('region', { name: `Alarms of ${name}` });
    await alarms.getByText('Below the floor').first().waitFor();
    await pressUntilGone(alarms.getByRole('button', { name: /Acknowledge.*Below the floor/ }).first());
    const floor = () => hub.hub.snapshotOf('athlete-1')?.alarms.find(({ kind }) => kind === 'floorBreached');
    await expect.poll(() => floor()?.acknowledged).toBe(true);
    // Who did it, at the room's hub: on its pages and in its log.
    expect(floor()?.acknowledgedBy).toBe(device);
    expect(inLogOf[id]).toContainEqual(
      expect.objectContaining({
        action: 'alarmsAcknowledged',
        athleteId: 'athlete-1',
        afar: { school: 'test', by: device },
      }),
    );
  }
  // And in the school's: who, whose alarm, in which room.
  await page.goto(`${school.url}/devices`);
  await page.getByRole('heading', { name: 'Who did what' }).click();
  for (const [who, whose, where] of [
    ['Basin tablet', 'Marit Oduya', 'quay'],
    ['Quay tablet', 'Teo Lindqvist', 'basin'],
  ] as const)
    await page
      .getByRole('listitem')
      .filter({ hasText: `${who} (coach)` })
      .filter({ hasText: whose })
      .filter({ hasText: where })
      .first()
      .waitFor();
  await page.goto(`${school.url}/rooms`);
  if (process.env['SLACKWATER_PICTURES'] !== undefined)
    for (const width of [390, 820, 1440]) {
      await page.setViewportSize({ width, height: 900 });
      await page.screenshot({ path: `${process.env['SLACKWATER_PICTURES']}/rooms-${width}.png` });
    }
  await ofBasin.close();
  await page
    .getByText(/A room has been silent since/)
    .first()
    .waitFor();
  await room('Basin')
    .getByText(/Nothing heard from/)
    .waitFor();
  await room('Quay hall').getByRole('article', { name: 'Marit Oduya' }).waitFor();
  await page.getByRole('link', { name: 'How the school is doing' }).click();
  await page.getByText('The archive takes in what comes.').waitFor();
  const row = (name: string) => page.getByRole('row', { name: new RegExp(name) });
  await expect.poll(() => row('Quay hall').textContent()).toMatch(/in a session\s*now/);
  expect(await row('Basin').textContent()).not.toContain('now');
  await expect.poll(() => row('Quay hall').getByRole('cell').nth(3).textContent()).toBe('0');
  if (process.env['SLACKWATER_PICTURES'] !== undefined)
    for (const width of [390, 820, 1440]) {
      await page.setViewportSize({ width, height: 900 });
      await page.screenshot({ path: `${process.env['SLACKWATER_PICTURES']}/health-${width}.png` });
    }
  await postgres.stop('SIGKILL');
  await page.getByText('The database does not answer.').waitFor();
  await page.getByText('The archive takes in nothing now.').waitFor();
});

test('a room of many on a phone: what is out of sight draws no trace, and its alarm shows, sounds and is a tap away', async () => {
  const [nats, postgres] = await Promise.all([startNats(), startPostgres()]);
  suite.closeAfterTest({ close: () => Promise.all([nats.stop(), postgres.stop()]) });
  const archiveUrl = await postgres.createDatabase();
  const school = suite.closeAfterTest(
    await serveSchool({ natsUrl: nats.url, archiveUrl, dataFolder: newFolder(), webDirectory }),
  );
  const quay = suite.closeAfterTest(await openPageHub({ athleteCount: 16 }));
  suite.closeAfterTest(
    await sendFromPageHub(nats.url, quay, { hub: 'quay', room: 'Quay hall', dataFolder: newFolder() }),
  );
  const context = suite.closeAfterTest(
    await suite.browser.newContext({ locale: 'en-GB', viewport: widths.phone }),
  );
  await makeOwnBrowser(context, school.url);
  const page = await context.newPage();
  await page.addInitScript(`globalThis.tones = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (when) { globalThis.tones += 1; start.call(this, when); };`);
  await page.goto(`${school.url}/rooms`);
  // A touch lets the browser sound.
  await page.getByRole('heading', { name: 'Rooms' }).click();
  const tiles = page.locator('.rooms .tiles > li');
  await expect.poll(() => tiles.count()).toBe(16);
  const [first, last] = [tiles.first(), tiles.last()];
  await first.locator('.trace canvas').waitFor();
  // All are there with their readings; a trace have those in sight and the next.
  await expect.poll(() => last.locator('.reading--spo2 .reading-digits').textContent()).toBe('98');
  expect(await page.locator('.rooms .trace canvas').count()).toBeLessThan(6);
  expect(await page.evaluate('globalThis.tones')).toBe(0);
  quay.live(15, low);
  quay.pass(6);
  const alarms = page.getByRole('region', { name: 'Alarms of Quay hall' });
  await alarms.getByRole('listitem').filter({ hasText: 'Ezra Quill: Below the floor' }).waitFor();
  await expect.poll(() => page.evaluate<number>('globalThis.tones')).toBeGreaterThan(0);
  await pressUntilGone(alarms.getByRole('button', { name: /Acknowledge.*Ezra Quill/ }).first());
  const floor = () => quay.hub.snapshotOf('athlete-16')?.alarms.find(({ kind }) => kind === 'floorBreached');
  await expect.poll(() => floor()?.acknowledged).toBe(true);
  // Scrolled to, it has its trace, and the first has none any more.
  await last.scrollIntoViewIfNeeded();
  await last.locator('.trace canvas').waitFor();
  await expect.poll(() => first.locator('.trace canvas').count()).toBe(0);
});
