// Every view in light and dark: no axe violation, no page fault, nothing wider than the window, a picture a width.

import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { monotonicMs } from '../../shared/units.ts';
import { axeViolations } from '../support/axe-check.ts';
import {
  keepScreenshot,
  launchChromium,
  openPage,
  type WidthName,
  widths,
} from '../support/chromium-page.ts';
import { FakeHub, type FakeHubOptions } from '../support/fake-hub.ts';

interface ViewCase {
  readonly name: string;
  readonly path: string;
  readonly hub: FakeHubOptions;
  /** Present when the view has drawn what the test is about. */
  readonly ready: (page: Page) => Promise<unknown>;
  readonly prepare?: (hub: FakeHub) => void;
  readonly act?: (page: Page, hub: FakeHub) => Promise<unknown>;
}

const one: FakeHubOptions = { athleteCount: 1, simulated: true, behindSeconds: 180 };
const heading = (name: string | RegExp) => (page: Page) =>
  page.getByRole('heading', { name }).first().waitFor();

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
    prepare: (hub) => hub.raiseAlarm(0),
    ready: heading('Below the floor'),
  },
  {
    name: 'live-acknowledged',
    path: '/live/athlete-1',
    hub: one,
    prepare: (hub) => hub.raiseAlarm(0, { acknowledged: true }),
    ready: heading('Below the floor'),
  },
  {
    name: 'live-passed',
    path: '/live/athlete-1',
    hub: one,
    prepare: (hub) => hub.raiseAlarm(0, { conditionPresent: false, passedAtMs: monotonicMs(1_000) }),
    ready: heading('Was below the floor'),
  },
  {
    name: 'live-stale',
    path: '/live/athlete-1',
    hub: { ...one, still: true },
    ready: heading('Marit Oduya'),
    act: async (page, hub) => {
      hub.sendReading(0, hub.readout(91, 5_000), hub.readout(58, 14_000));
      await page.getByText(/STALE/).first().waitFor();
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
      const zones = await page.locator('.zones').boundingBox();
      // Down to the foot of the window, so that a hand finds them without looking.
      expect(zones!.y + zones!.height).toBeGreaterThan(widths.phone.height - 20);
      expect(zones!.height).toBeGreaterThan(widths.phone.height / 2);
    },
  },
  {
    name: 'live-after-hold',
    path: '/live/athlete-1',
    hub: { ...one, behindSeconds: 240 },
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
    hub: { athleteCount: 8, simulated: true, behindSeconds: 240 },
    prepare: (hub) => {
      hub.raiseAlarm(2);
      hub.raiseAlarm(5, {
        kind: 'sensorLost',
        priority: 'medium',
        message: 'The finger clip has been silent for 6 s.',
        instruction: 'Look at the athlete and the clip.',
      });
      hub.raiseAlarm(4, {
        kind: 'batteryLow',
        priority: 'low',
        message: 'The strap has 8 % left.',
        instruction: 'Change it after this hold.',
      });
    },
    ready: heading('Wall'),
  },
  {
    name: 'recordings',
    path: '/recordings',
    hub: { ...one, recordings: true },
    ready: (page) => page.getByText('Evening statics').waitFor(),
  },
  {
    name: 'recordings-empty',
    path: '/recordings',
    hub: one,
    ready: (page) => page.getByText(/Nothing recorded yet/).waitFor(),
  },
  {
    name: 'recording',
    path: '/recordings/rec-3',
    hub: { athleteCount: 2, recordings: true, sessionRunning: false },
    ready: heading('Holds'),
  },
  {
    name: 'live-settings',
    path: '/live/athlete-1',
    hub: one,
    ready: heading('Marit Oduya'),
    act: async (page) => {
      await page.getByRole('button', { name: 'Options' }).click();
      await page.getByRole('button', { name: 'Floor and limits' }).click();
      await page.getByLabel(/Mark when saturation falls through/).waitFor();
    },
  },
  {
    name: 'wall-said',
    path: '/wall',
    hub: { athleteCount: 3, simulated: true, behindSeconds: 240 },
    prepare: (hub) => {
      for (const hold of hub.stateOf(hub.athletes[0]!, 0).holds)
        hub.feelingOf.set(hold.holdId, { comfort: 2, note: 'cold hands' });
    },
    ready: (page) => page.getByText('Felt: uncomfortable').waitFor(),
    act: async (page, hub) => {
      hub.broadcast({
        type: 'presence',
        pages: [
          {
            pageId: 'p1',
            deviceId: 'd1',
            name: 'Mat 1 phone',
            role: 'athlete',
            athleteId: 'athlete-1',
            state: 'silent',
            soundReady: false,
          },
        ],
      });
      await page.getByText('Mat 1 phone: page not answering').first().waitFor();
    },
  },
  {
    name: 'wall-note',
    path: '/wall',
    hub: { athleteCount: 3, simulated: true, behindSeconds: 240 },
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
  { name: 'about', path: '/about', hub: one, ready: heading('About and cautions') },
  {
    name: 'no-session',
    path: '/live',
    hub: { ...one, sessionRunning: false },
    ready: heading('No session is running.'),
  },
  { name: 'not-found', path: '/nowhere', hub: one, ready: heading('There is no such page.') },
];

let browser: Browser;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(async () => {
  await browser.close();
});

test.each(views)('$name', async (view) => {
  const hub = new FakeHub(view.hub);
  view.prepare?.(hub);
  await hub.start();
  const { page, context, faults } = await openPage(browser, hub.url + view.path, { theme: 'light' });
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
    expect(faults).toEqual([]);
  } finally {
    await context.close();
    await hub.stop();
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

/** Controls smaller than 44 by 44 CSS pixels (links within a sentence are exempt, as in WCAG 2.2, 2.5.8). */
function smallTargets(page: Page): Promise<string[]> {
  return page.evaluate(() =>
    [...document.querySelectorAll('button, a, select, input, summary')]
      .filter((element) => {
        const target = element.closest('label') ?? element;
        const { width, height } = target.getBoundingClientRect();
        const style = getComputedStyle(element);
        if (width === 0 || style.visibility === 'hidden' || element.matches('.skip')) return false;
        return width < 43.5 || height < 43.5;
      })
      .map(
        (element) => `${element.outerHTML.slice(0, 100)} ${JSON.stringify(element.getBoundingClientRect())}`,
      ),
  );
}
