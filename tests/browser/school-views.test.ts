// Every page of a school in light and dark at three widths: no axe violation, no page fault, nothing wider than the window,
// targets that a thumb can hit, a picture of each; and what a school adds to a hub's Devices page.

import { mkdtempSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { beforeEach, expect, test, vi } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { said } from '../../shared/said.ts';
import { wallMs } from '../../shared/units.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { openPage } from '../support/chromium-page.ts';
import { looksRight } from '../support/looks-right.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { holdsAgainAndAgain, openPageHub, type PageHub } from '../support/page-hub.ts';
import { sendFromPageHub } from '../support/school/sending-hub.ts';
import { serveSchool } from '../support/school/served-school.ts';
import { startNats, startPostgres } from '../support/school/servers.ts';
import { smallTargets } from '../support/seen-on-screen.ts';
import { writeSession } from '../support/written-sessions.ts';

vi.setConfig({ testTimeout: 600_000 });

const suite = browserSuite();
const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
const newFolder = (): string => mkdtempSync(join(suite.folder, 'data-'));
type School = Awaited<ReturnType<typeof serveSchool>>;

const longName = 'Wilhelmina Konstantinopolou-Featherstonehaugh';

interface HubOfSchool {
  readonly hub: string;
  readonly room: string;
  readonly names: readonly string[];
  readonly led: readonly string[];
}

async function aHub(natsUrl: string, { hub, room, names, led }: HubOfSchool): Promise<PageHub> {
  const store = openStoreInMemory();
  for (const [index, ledBy] of led.entries()) {
    const sessionId = `rec-${index + 1}`;
    writeSession(store, {
      sessionId,
      athleteId: 'athlete-1',
      athleteName: names[0]!,
      startedWallAtMs: Date.UTC(2026, 9, 3 + index * 9, 18, index * 7),
      title: index === 0 ? '' : 'Evening of tables',
      holdsS: [60, 80, 75],
      seed: index + 1,
      ...(index === 1 && { others: [{ athleteId: 'athlete-2', athleteName: names[1] ?? names[0]! }] }),
    });
    if (ledBy !== '') store.nameLeaders(sessionId, [{ leaderId: `led-${hub}-${index}`, name: ledBy }]);
  }
  const page = suite.closeAfterTest(
    await openPageHub({
      athleteCount: names.length,
      names,
      store,
      simulated: true,
      behindSeconds: 120,
      bodyOf: holdsAgainAndAgain,
    }),
  );
  suite.closeAfterTest(await sendFromPageHub(natsUrl, page, { hub, room, dataFolder: newFolder() }));
  return page;
}

async function aSchool(): Promise<{
  readonly school: School;
  readonly enter: () => Promise<readonly PageHub[]>;
}> {
  const [nats, postgres] = await Promise.all([startNats(), startPostgres()]);
  suite.closeAfterTest({ close: () => Promise.all([nats.stop(), postgres.stop()]) });
  const archiveUrl = await postgres.createDatabase();
  const school = suite.closeAfterTest(
    await serveSchool({ natsUrl: nats.url, archiveUrl, dataFolder: newFolder(), webDirectory, lan: true }),
  );
  const enter = async () => {
    const hubs: PageHub[] = [];
    for (const one of [
      {
        hub: 'quay',
        room: 'Quay hall',
        names: ['Marit Oduya', 'Teo Lindqvist', 'Sana Whitlock'],
        led: ['Runa Sjöholm', 'Jorid Aalto', 'Runa Sjöholm'],
      },
      {
        hub: 'basin',
        room: 'Basin of the old harbour baths, upper floor',
        names: ['Marit Oduya', longName],
        led: ['Runa Sjöholm', ''],
      },
    ])
      hubs.push(await aHub(nats.url, one));
    // What a school refused, or what its archive has not acknowledged, comes again after 30 s (publisher-worker.ts, intake.ts).
    await expect
      .poll(async () => (await (await fetchAsOwn(`${school.url}/api/recordings`)).json()).wholeCount)
      .toBe(7);
    return hubs;
  };
  return { school, enter };
}

/** Of all pages, so that one run tells them all. */
let flaws: string[] = [];
beforeEach(() => {
  flaws = [];
});

const settled = async (page: Page, name: string): Promise<void> => {
  await page.setViewportSize({ width: 390, height: 844 });
  flaws.push(...(await smallTargets(page)).map((target) => `${name}: ${target}`));
  await looksRight(page, `school-${name}`).catch((flaw: Error & { actual?: unknown }) =>
    flaws.push(`${name}: ${flaw.message} ${JSON.stringify(flaw.actual)}`),
  );
};

test('rooms, recordings, weeks, people, health, devices', async () => {
  const { school, enter } = await aSchool();
  const { page, context, faults } = await openPage(suite.browser, `${school.url}/rooms`, {
    width: 'desktop',
    theme: 'light',
  });
  suite.closeAfterTest(context);
  await page.getByText('No hub has been heard yet').waitFor();
  await settled(page, 'rooms-empty');
  await page.goto(`${school.url}/rooms/health`);
  await page.getByText('No hub has been heard yet').waitFor();
  await page.goto(`${school.url}/recordings`);
  await page.getByText('From every hub').waitFor();
  await settled(page, 'recordings-empty');
  const hubs = await enter();
  await page.goto(`${school.url}/rooms`);
  await page.getByRole('article', { name: 'Marit Oduya' }).first().waitFor();
  await page.getByRole('article', { name: longName }).waitFor();
  hubs[1]!.live(0, { spo2Percent: 80, heartRateBpm: 60 });
  hubs[1]!.pass(6);
  await page.getByText('Below the floor').first().waitFor();
  await settled(page, 'rooms-alarm');
  await page
    .getByRole('region', { name: /^Alarms of/ })
    .getByRole('button', { name: /Acknowledge/ })
    .first()
    .click();

  await page.goto(`${school.url}/recordings`);
  await page.getByText('7 recordings').waitFor();
  await page.locator('summary', { hasText: 'By athlete' }).click();
  await page.getByLabel('Led by').selectOption('Runa Sjöholm');
  await page.getByText('3 of 7 recordings').waitFor();
  await page.getByLabel('Room').selectOption('basin');
  await page.getByText('1 of 7 recordings').waitFor();
  await settled(page, 'recordings-led');

  await page.goto(`${school.url}/school/people`);
  await page.getByRole('heading', { name: 'Who led' }).waitFor();
  await settled(page, 'people');
  await page
    .getByRole('button', { name: /^Look at both/ })
    .first()
    .click();
  await page.getByText(/^Then: /).waitFor();
  await settled(page, 'people-merge');
  await page.getByRole('button', { name: 'Join', exact: true }).click();
  await page.getByRole('button', { name: /make two people of/ }).waitFor();
  await page
    .getByRole('button', { name: /^Erase Marit Oduya.*everywhere/ })
    .first()
    .click();
  const erasing = page.getByRole('dialog', { name: 'Erase everywhere' });
  await erasing.getByLabel(/Type the name/).fill('marit oduya');
  await erasing.getByRole('button', { name: 'Erase everywhere' }).click();
  await erasing.getByText(/Press once more/).waitFor();
  await settled(page, 'people-erase');
  await page.keyboard.press('Escape');
  await page.getByRole('button', { name: /^Erase the name Runa/ }).click();
  await erasing.getByText('the name from 3 recordings').waitFor();
  await erasing.getByLabel(/Type the name/).fill('runa sjöholm');
  await settled(page, 'people-erase-coach');
  await erasing.getByRole('button', { name: 'Erase everywhere' }).click();
  await erasing.getByRole('button', { name: 'Yes, erase it all' }).click();
  await page.getByText(/has been erased from the archive/).waitFor();
  // Hubs do it between sessions.
  await settled(page, 'people-waiting');
  for (const { hub } of hubs) hub.endSession();
  await expect.poll(() => page.locator('.school-erasure .is-waiting').count()).toBe(0);

  await page.goto(`${school.url}/weeks`);
  await page.getByRole('heading', { level: 1 }).first().waitFor();
  await settled(page, 'weeks');
  await page.goto(`${school.url}/rooms/health`);
  await page.getByText('The archive takes in what comes.').waitFor();
  await settled(page, 'health');
  await page.goto(`${school.url}/devices`);
  await page.getByRole('heading', { level: 1 }).first().waitFor();
  await page.getByRole('combobox', { name: 'As', exact: true }).selectOption('coach');
  await page.getByRole('combobox', { name: 'Coach of' }).selectOption({ label: 'some rooms' });
  await page.getByRole('group', { name: 'Which rooms' }).waitFor();
  await settled(page, 'devices');
  expect(faults).toEqual([]);
  expect(flaws).toEqual([]);
});

test('a hub that sends says on its Devices page how that goes', async () => {
  const at = Date.UTC(2026, 10, 30, 9, 14);
  const hub = suite.closeAfterTest(
    await openPageHub({
      athleteCount: 1,
      sessionRunning: false,
      schoolLink: () => ({
        schoolName: 'harbour',
        hub: 'quay',
        link: 'connecting',
        fault: { why: said('school.serverAway', { reason: 'ECONNREFUSED' }), sinceWallMs: wallMs(at) },
        setAside: [],
        notices: [],
        waitingCount: 3,
        keptAtWallMs: wallMs(at),
        sentSegmentCount: 812,
        isCaughtUp: false,
      }),
    }),
  );
  const { page, context } = await openPage(suite.browser, `${hub.url}/devices`, { theme: 'light' });
  suite.closeAfterTest(context);
  await page.getByRole('heading', { name: 'School' }).waitFor();
  await settled(page, 'link');
  expect(flaws).toEqual([]);
});
