// Every view in light and dark: no axe violation, no page fault, nothing wider than the window, a picture a width.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { wallMs } from '../../shared/units.ts';
import { axeViolations } from '../support/axe-check.ts';
import {
  keepScreenshot,
  launchChromium,
  openPage,
  type WidthName,
  widths,
} from '../support/chromium-page.ts';
import {
  holdsAgainAndAgain,
  openPageHub,
  type PageHub,
  type PageHubOptions,
  restingBody,
  silentBody,
} from '../support/page-hub.ts';
import { smallTargets } from '../support/seen-on-screen.ts';
import { hello } from '../support/test-page.ts';
import { type SessionToWrite, writeSession } from '../support/written-sessions.ts';

interface ViewCase {
  readonly name: string;
  readonly path: string;
  readonly hub: PageHubOptions;
  /** Other devices can join. */
  readonly withDevices?: boolean;
  /** Shows or does what only the whole browser can. */
  readonly whole?: boolean;
  /** Says whether the page is kept on the device. */
  readonly isKept?: boolean;
  readonly recorded?: readonly SessionToWrite[];
  /** Before the page is opened. */
  readonly prepare?: (hub: PageHub) => unknown;
  /** Present when the view has drawn what the test is about. */
  readonly ready: (page: Page) => Promise<unknown>;
  readonly act?: (page: Page, hub: PageHub) => Promise<unknown>;
}

const one: PageHubOptions = {
  athleteCount: 1,
  simulated: true,
  behindSeconds: 180,
  bodyOf: holdsAgainAndAgain,
};
const several = (athleteCount: number): PageHubOptions => ({ ...one, athleteCount, behindSeconds: 240 });
const heading = (name: string | RegExp) => (page: Page) =>
  page.getByRole('heading', { name }).first().waitFor();

const marit = { athleteId: 'athlete-1', athleteName: 'Marit Oduya' };
const recorded: readonly SessionToWrite[] = [
  {
    ...marit,
    sessionId: 'evening',
    others: [{ athleteId: 'athlete-2', athleteName: 'Teo Lindqvist' }],
    startedWallAtMs: Date.UTC(2026, 4, 12, 18, 30),
    title: 'Evening statics',
    holdsS: [150, 150, 130, 160],
    clipSilentS: { fromS: 110, toS: 121 },
    note: { atS: 250, text: 'Felt easy, warm hands' },
    feeling: { comfort: 4, note: 'Warm hands, calm' },
  },
  { ...marit, sessionId: 'untitled', startedWallAtMs: Date.UTC(2026, 4, 10, 7, 5), title: '', holdsS: [120] },
  {
    ...marit,
    sessionId: 'dry',
    startedWallAtMs: Date.UTC(2026, 4, 3, 19, 12),
    title: 'Dry session',
    simulated: false,
    holdsS: [100, 110],
  },
];

/** Readings below the floor for longer than the alarm waits for. */
function fallBelowFloor(hub: PageHub, athleteIndex = 0): void {
  hub.live(athleteIndex, { spo2Percent: 86, heartRateBpm: 55 });
  hub.pass(4);
}

const views: readonly ViewCase[] = [
  {
    name: 'setup',
    path: '/',
    hub: { athleteCount: 3, sessionRunning: false },
    ready: (page) => page.getByRole('checkbox', { name: /Marit/ }).waitFor(),
  },
  { name: 'live', path: '/live/athlete-1', hub: one, ready: heading('Marit Oduya') },
  {
    name: 'live-alarm',
    path: '/live/athlete-1',
    hub: one,
    prepare: fallBelowFloor,
    ready: heading('Below the floor'),
  },
  {
    name: 'live-acknowledged',
    path: '/live/athlete-1',
    hub: one,
    prepare: (hub) => {
      fallBelowFloor(hub);
      hub.hub.acknowledge('athlete-1');
    },
    ready: (page) => page.locator('.alarm').getByText('Acknowledged').waitFor(),
  },
  {
    name: 'live-passed',
    path: '/live/athlete-1',
    hub: { ...one, bodyOf: () => restingBody },
    prepare: (hub) => {
      fallBelowFloor(hub);
      hub.live(0, { spo2Percent: 96, heartRateBpm: 62 });
      hub.pass(8);
    },
    ready: heading('Was below the floor'),
  },
  {
    name: 'live-stale',
    path: '/live/athlete-1',
    hub: one,
    ready: heading('Marit Oduya'),
    act: async (page, hub) => {
      hub.live(0, { spo2Percent: 91, heartRateBpm: null });
      hub.pass(9);
      hub.live(0, silentBody);
      hub.pass(4);
      await page.getByText(/STALE/).first().waitFor();
      await page
        .getByText(/NO READING/)
        .first()
        .waitFor();
    },
  },
  {
    name: 'live-whole-screen',
    path: '/live/athlete-1',
    hub: one,
    ready: heading('Marit Oduya'),
    act: async (page) => {
      await page.getByRole('button', { name: 'Options' }).click();
      await page.getByRole('button', { name: 'Whole-screen tapping' }).click();
      await page.getByRole('button', { name: 'Show everything' }).waitFor();
      // Down to the foot of the window, so that a hand finds them without looking.
      const zones = async () => (await page.locator('.zones').boundingBox()) ?? { y: 0, height: 0 };
      const foot = async () => (await zones()).y + (await zones()).height;
      await expect.poll(foot).toBeGreaterThan(widths.phone.height - 20);
      await expect.poll(async () => (await zones()).height).toBeGreaterThan(widths.phone.height / 2);
    },
  },
  {
    name: 'live-after-hold',
    path: '/live/athlete-1',
    hub: several(1),
    ready: (page) => page.getByText(/How was that hold/).waitFor(),
  },
  {
    name: 'live-options',
    path: '/live/athlete-1',
    hub: one,
    ready: heading('Marit Oduya'),
    act: async (page) => {
      await page.getByRole('button', { name: 'Options' }).click();
      await page.getByRole('heading', { name: 'Options' }).waitFor();
    },
  },
  {
    name: 'wall',
    path: '/wall',
    hub: several(8),
    prepare: (hub) => {
      hub.live(5, { spo2Percent: null, heartRateBpm: 66 });
      hub.source.bytes('strap-5', '2a19', Uint8Array.of(8));
      hub.pass(8);
      fallBelowFloor(hub, 2);
    },
    ready: heading('Wall'),
    act: async (page) => {
      await page.getByRole('article', { name: 'Sana Whitlock' }).getByText('Below the floor').waitFor();
      await page.getByText(/3 in alarm/).waitFor();
    },
  },
  {
    name: 'wall-far',
    path: '/wall',
    // It fills the screen, and a shell that does cannot be given another size.
    whole: true,
    hub: several(8),
    prepare: (hub) => fallBelowFloor(hub, 2),
    ready: heading('Wall'),
    act: async (page) => {
      await page.getByRole('button', { name: 'Seen from afar' }).click();
      await page.locator('.far-tile.tile--high').waitFor();
    },
  },
  {
    name: 'recordings',
    path: '/recordings',
    hub: one,
    recorded,
    ready: (page) => page.getByText('Evening statics').waitFor(),
  },
  {
    name: 'bin',
    path: '/bin',
    hub: one,
    recorded,
    prepare: ({ store }) => {
      const first = store.listSessions().find(({ session }) => session.status !== 'recording');
      if (first !== undefined) store.binRecording(first.session.sessionId, null, wallMs(Date.now()));
    },
    ready: (page) =>
      page
        .getByText(/^Takes: /)
        .first()
        .waitFor(),
  },
  {
    name: 'sensor-profiles',
    path: '/devices/profiles',
    hub: { athleteCount: 1, sessionRunning: false },
    ready: heading('Sensor profiles'),
    act: async (page) => {
      await page.getByRole('button', { name: /^Learn with an example/ }).click();
      await page.getByText('saturation, %').first().waitFor();
    },
  },
  {
    name: 'computer',
    path: '/devices/computer',
    hub: { ...one, sessionRunning: false },
    ready: (page) => page.getByText(/^1 fault, 1 thing to look at/).waitFor(),
  },
  { name: 'backups', path: '/backups', hub: one, ready: heading('By the clock') },
  {
    name: 'recordings-empty',
    path: '/recordings',
    hub: { ...one, sessionRunning: false },
    ready: (page) => page.getByText(/Nothing recorded yet/).waitFor(),
  },
  {
    name: 'recording',
    path: '/recordings/evening',
    hub: { athleteCount: 2, sessionRunning: false },
    recorded,
    ready: (page) => page.getByText('Felt: comfortable').waitFor(),
  },
  {
    name: 'live-settings',
    path: '/live/athlete-1',
    hub: one,
    ready: heading('Marit Oduya'),
    act: async (page) => {
      await page.getByRole('button', { name: 'Options' }).click();
      await page.getByRole('button', { name: 'Floor and limits' }).click();
      await page.getByLabel(/Mark when saturation falls below/).waitFor();
    },
  },
  {
    name: 'wall-said',
    path: '/wall',
    hub: several(3),
    withDevices: true,
    prepare: async (hub) => {
      const { holds } = hub.hub.snapshotOf('athlete-1')!;
      hub.hub.rateHold('athlete-1', holds.at(-1)!.hold.holdId, { comfort: 2, note: 'cold hands' });
      // A phone that opens its page and says no more, as when it sleeps.
      const phone = await hub.joined('athlete', 'athlete-1', 'Mat 1 phone');
      phone.send(hello);
      await phone.until('welcome');
    },
    ready: (page) => page.getByText('Felt: uncomfortable').waitFor(),
    act: (page) => page.getByText('Mat 1 phone: page not answering').first().waitFor(),
  },
  { name: 'people', path: '/people', hub: several(3), ready: heading('People and sensors') },
  {
    name: 'course',
    path: '/course',
    hub: several(3),
    prepare: ({ hub }) => {
      hub.writeEmergencyCard(
        {
          number: '112',
          address: '4 Harbour Lane',
          oxygenPlace: 'By the door',
          helpers: [{ name: 'Ines Varga', phone: '' }],
        },
        '',
      );
      hub.papers.addStatement('athlete-1', {
        kind: 'consent',
        isGiven: true,
        onDay: '2026-05-12',
        by: '',
      });
      hub.papers.writeIncident(
        { atWallMs: wallMs(0), athleteId: null, what: 'A clip fell off', done: '', by: 'Ines' },
        '',
        null,
      );
    },
    ready: (page) => page.getByText('A clip fell off').waitFor(),
  },
  {
    name: 'wall-note',
    path: '/wall',
    hub: several(3),
    ready: heading('Wall'),
    act: async (page) => {
      await page.getByRole('button', { name: 'Note on Marit Oduya' }).click();
      await page.getByRole('group', { name: /Comfort of the last hold/ }).waitFor();
    },
  },
  { name: 'plans', path: '/plans', hub: one, ready: heading('Plans') },
  {
    name: 'plan-new',
    path: '/plans/new/interval',
    hub: { ...one, athleteCount: 3 },
    ready: (page) => page.getByRole('group', { name: 'How they start' }).waitFor(),
  },
  { name: 'plan-run-none', path: '/plan-run', hub: one, ready: heading(/plan/i) },
  { name: 'training', path: '/training', hub: one, ready: heading('Training log') },
  {
    name: 'import',
    path: '/import',
    hub: one,
    ready: (page) => page.getByRole('heading', { level: 1 }).waitFor(),
  },
  { name: 'help', path: '/help', hub: one, ready: heading('Chapters') },
  {
    name: 'help-search',
    path: '/help',
    hub: one,
    ready: heading('Chapters'),
    act: async (page) => {
      await page.getByRole('searchbox', { name: 'Search the handbook' }).fill('sound');
      await page.getByText(/^\d+ places$/).waitFor();
    },
  },
  {
    name: 'help-chapter',
    path: '/help/first-session',
    hub: one,
    ready: heading('The first session, alone'),
  },
  { name: 'help-alarms', path: '/help/alarms', hub: one, ready: heading('Below the floor') },
  { name: 'help-limits', path: '/help/limits', hub: one, ready: heading('Measured on real people') },
  {
    name: 'about',
    path: '/about',
    hub: one,
    whole: true,
    isKept: true,
    ready: heading('About and cautions'),
  },
  {
    name: 'no-session',
    path: '/live',
    hub: { ...one, sessionRunning: false },
    ready: heading('No session is running.'),
  },
  { name: 'not-found', path: '/nowhere', hub: one, ready: heading('There is no such page.') },
];

let shell: Browser;
let wholeBrowser: Browser | undefined;
let folder = '';
beforeAll(async () => {
  shell = await launchChromium();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-views-'));
});
afterAll(async () => {
  await shell.close();
  await wholeBrowser?.close();
  await (await sharedHub)?.close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});

async function openHub(view: ViewCase): Promise<PageHub> {
  const store = openStoreInMemory();
  for (const session of view.recorded ?? []) writeSession(store, session);
  const hub = await openPageHub({ ...view.hub, store, ...(view.withDevices && { lanIn: folder }) });
  await view.prepare?.(hub);
  return hub;
}

/** Of all views of `one` that change nothing in it. */
let sharedHub: Promise<PageHub> | undefined;
const onlyLooks = ({ hub, recorded, prepare, act, isKept }: ViewCase): boolean =>
  hub === one && recorded === undefined && prepare === undefined && (act?.length ?? 0) < 2 && isKept !== true;

test.each(views)('$name', async (view) => {
  const isShared = onlyLooks(view);
  if (isShared) sharedHub ??= openHub(view);
  const hub = isShared ? await sharedHub! : await openHub(view);
  if (view.whole === true) wholeBrowser ??= await launchChromium({ whole: true });
  const browser = view.whole === true ? wholeBrowser! : shell;
  const { page, context, faults } = await openPage(browser, hub.url + view.path, {
    theme: 'light',
    isKept: view.isKept === true,
  });
  try {
    await view.ready(page);
    await page.locator(`.link-state--live`).waitFor({ state: 'attached' });
    await view.act?.(page, hub);
    for (const theme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme: theme });
      await page.locator(`html[data-theme="${theme}"]`).waitFor();
      for (const width of Object.keys(widths) as WidthName[]) {
        await page.setViewportSize(widths[width]);
        await settled(page);
        const overflow = await page.evaluate(
          () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
        );
        expect(overflow, `${theme} ${width}: wider than the window`).toBeLessThanOrEqual(0);
        expect(await smallTargets(page), width).toEqual([]);
        if (width === 'phone') expect(await axeViolations(page), theme).toEqual([]);
        await keepScreenshot(page, `${view.name}-${theme}-${width}`);
      }
    }
    // That there is no such page is what the browser is told too.
    const isMeant = (fault: string): boolean => view.name === 'not-found' && fault.includes('404');
    expect(faults.filter((fault) => !isMeant(fault))).toEqual([]);
  } finally {
    await context.close();
    if (!isShared) await hub.close();
  }
});

/** Two frames after a change of size, charts have been drawn anew. */
async function settled(page: Page): Promise<void> {
  await page.evaluate(
    () =>
      new Promise<void>((resolve) => {
        let left = 10;
        const step = () => (--left === 0 ? resolve() : requestAnimationFrame(step));
        requestAnimationFrame(step);
      }),
  );
}
