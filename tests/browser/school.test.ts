// The wall of a school in a real browser: two hubs, one wall, an alarm from each, acknowledged from the other room; one hub
// unplugged.

import { mkdtempSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test, vi } from 'vitest';
import { browserSuite } from '../support/browser-suite.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub } from '../support/page-hub.ts';
import { sendFromPageHub } from '../support/school/sending-hub.ts';
import { serveSchool } from '../support/school/served-school.ts';
import { startNats, startPostgres } from '../support/school/servers.ts';

vi.setConfig({ testTimeout: 300_000 });

const suite = browserSuite();
const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
const low = { spo2Percent: 80, heartRateBpm: 60 };
const newFolder = (): string => mkdtempSync(join(suite.folder, 'data-'));

test('two hubs on one wall, an alarm from each, acknowledged from the school; one unplugged', async () => {
  const [nats, postgres] = await Promise.all([startNats(), startPostgres()]);
  suite.closeAfterTest({ close: () => Promise.all([nats.stop(), postgres.stop()]) });
  const archiveUrl = await postgres.createDatabase();
  const school = suite.closeAfterTest(
    await serveSchool({ natsUrl: nats.url, archiveUrl, dataFolder: newFolder(), webDirectory }),
  );
  const quay = suite.closeAfterTest(await openPageHub({ athleteCount: 1, names: ['Marit Oduya'] }));
  const basin = suite.closeAfterTest(await openPageHub({ athleteCount: 1, names: ['Teo Lindqvist'] }));
  suite.closeAfterTest(
    await sendFromPageHub(nats.url, quay, { hub: 'quay', room: 'Quay hall', dataFolder: newFolder() }),
  );
  const ofBasin = suite.closeAfterTest(
    await sendFromPageHub(nats.url, basin, { hub: 'basin', room: 'Basin', dataFolder: newFolder() }),
  );
  const context = suite.closeAfterTest(
    await suite.browser.newContext({ locale: 'en-GB', viewport: { width: 1440, height: 900 } }),
  );
  await makeOwnBrowser(context, school.url);
  const page = await context.newPage();
  await page.goto(`${school.url}/rooms`);
  const room = (name: string) => page.getByRole('region', { name, exact: true });
  await room('Quay hall').getByRole('article', { name: 'Marit Oduya' }).waitFor();
  await room('Basin').getByRole('article', { name: 'Teo Lindqvist' }).waitFor();
  for (const hub of [quay, basin]) {
    hub.live(0, low);
    hub.pass(6);
  }
  for (const [name, hub] of [
    ['Quay hall', quay],
    ['Basin', basin],
  ] as const) {
    const alarms = page.getByRole('region', { name: `Alarms of ${name}` });
    await alarms.getByText('Below the floor').first().waitFor();
    await alarms
      .getByRole('button', { name: /Acknowledge/ })
      .first()
      .click();
    const floor = () => hub.hub.snapshotOf('athlete-1')?.alarms.find(({ kind }) => kind === 'floorBreached');
    await expect.poll(() => floor()?.acknowledged).toBe(true);
    expect(floor()?.acknowledgedBy).toBe('test');
  }
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
  await page.getByRole('link', { name: 'How the school does' }).click();
  await page.getByText('The archive takes what comes.').waitFor();
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
  await page.getByText('The archive takes nothing now.').waitFor();
});
