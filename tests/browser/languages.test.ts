// The page in its other languages: chosen by the browser or by a person, in the document's own attributes, and laid out
// without anything running over the edge: German, and a pseudo-language that is longer and runs from right to left.

import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { axeViolations } from '../support/axe-check.ts';
import {
  keepScreenshot,
  launchChromium,
  openPage,
  type WidthName,
  widths,
} from '../support/chromium-page.ts';
import { holdsAgainAndAgain, openPageHub, type PageHub, type PageHubOptions } from '../support/page-hub.ts';
import { type SessionToWrite, writeSession } from '../support/written-sessions.ts';

interface PageCase {
  readonly name: string;
  readonly path: string;
  readonly hub: PageHubOptions;
  readonly recorded?: readonly SessionToWrite[];
  /** Before the page is opened. */
  readonly prepare?: (hub: PageHub) => void;
  /** A selector that is there once the view has drawn what matters. */
  readonly ready: string;
}

const one: PageHubOptions = {
  athleteCount: 1,
  simulated: true,
  behindSeconds: 180,
  bodyOf: holdsAgainAndAgain,
};
const looking: PageHubOptions = { athleteCount: 2, simulated: true, sessionRunning: false };

const marit = { athleteId: 'athlete-1', athleteName: 'Marit Oduya' };
const dayMs = 86_400_000;
const lately: readonly SessionToWrite[] = (
  [
    ['before', 9],
    ['evening', 2],
  ] as const
).map(([sessionId, daysAgo]) => ({
  ...marit,
  title: 'SIMULATED evening',
  sessionId,
  startedWallAtMs: Date.now() - daysAgo * dayMs,
  holdsS: [90, 110, 130],
  seed: daysAgo,
}));
const looksBack = { hub: looking, recorded: lately };
const recorded: readonly SessionToWrite[] = [
  {
    ...marit,
    sessionId: 'statics',
    others: [{ athleteId: 'athlete-2', athleteName: 'Teo Lindqvist' }],
    startedWallAtMs: Date.UTC(2026, 4, 12, 18, 30),
    title: 'Evening statics',
    holdsS: [150, 150, 130],
    clipSilentS: { fromS: 110, toS: 121 },
    note: { atS: 250, text: 'Felt easy, warm hands' },
    feeling: { comfort: 4, note: 'Warm hands, calm' },
  },
];

function fallBelowFloor(hub: PageHub, athleteIndex = 0): void {
  hub.live(athleteIndex, { spo2Percent: 86, heartRateBpm: 55 });
  hub.pass(4);
}

const pages: readonly PageCase[] = [
  {
    name: 'setup',
    path: '/',
    hub: { athleteCount: 3, sessionRunning: false },
    ready: 'input[type=checkbox]',
  },
  { name: 'live', path: '/live/athlete-1', hub: one, ready: '.reading--spo2.is-fresh' },
  { name: 'live-alarm', path: '/live/athlete-1', hub: one, prepare: fallBelowFloor, ready: '.alarm' },
  {
    name: 'wall',
    path: '/wall',
    hub: { ...one, athleteCount: 8, behindSeconds: 240 },
    prepare: (hub) => fallBelowFloor(hub, 2),
    ready: '.tile',
  },
  { name: 'plans', path: '/plans', hub: one, ready: 'main h1' },
  { name: 'plan-new', path: '/plans/new/interval', hub: { ...one, athleteCount: 3 }, ready: '.plan-chart' },
  { name: 'training', path: '/training', hub: one, ready: 'main h1' },
  { name: 'recordings', path: '/recordings', hub: one, recorded, ready: 'main h1' },
  { name: 'recording', path: '/recordings/statics', hub: looking, recorded, ready: '.hold-cards' },
  { name: 'holds', path: '/recordings/evening/holds/athlete-1', ...looksBack, ready: '.plot-line' },
  { name: 'report', path: '/recordings/evening/report/athlete-1', ...looksBack, ready: '.report-line' },
  {
    name: 'group report',
    path: '/recordings/statics/report',
    hub: looking,
    recorded,
    ready: '.report-table',
  },
  { name: 'weeks', path: '/weeks/athlete-1', ...looksBack, ready: '.trend, .plot-line' },
  { name: 'devices', path: '/devices', ...looksBack, ready: 'main h1' },
  { name: 'import', path: '/import', hub: one, ready: 'main h1' },
  { name: 'about', path: '/about', hub: one, ready: 'main h1' },
];

let browser: Browser;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(async () => {
  await browser.close();
});

async function withPage(
  view: Pick<PageCase, 'path' | 'hub' | 'recorded' | 'prepare'>,
  options: Parameters<typeof openPage>[2],
  act: (page: Page, faults: readonly string[]) => Promise<void>,
): Promise<void> {
  const store = openStoreInMemory();
  for (const session of view.recorded ?? []) writeSession(store, session);
  const hub = await openPageHub({ ...view.hub, store });
  view.prepare?.(hub);
  const { page, context, faults } = await openPage(browser, hub.url + view.path, options);
  try {
    await act(page, faults);
  } finally {
    await context.close();
    await hub.close();
  }
}

for (const language of ['de', 'ar-XB'] as const) {
  test.each(pages)(`${language}: $name stays within the window`, async (view) => {
    await withPage(view, { theme: 'light', language }, async (page, faults) => {
      await page.locator(view.ready).first().waitFor();
      await page.locator('.link-state--live').waitFor({ state: 'attached' });
      expect(await page.locator('html').getAttribute('lang')).toBe(language);
      expect(await page.locator('html').getAttribute('dir')).toBe(language === 'de' ? 'ltr' : 'rtl');
      for (const width of Object.keys(widths) as WidthName[]) {
        await page.setViewportSize(widths[width]);
        await settled(page);
        await keepScreenshot(page, `${language}-${view.name}-${width}`);
        expect(await overflowing(page), `${width}: outside the window`).toEqual([]);
        expect(await cutOff(page), `${width}: text cut off`).toEqual([]);
      }
      if (language === 'de') expect(await axeViolations(page)).toEqual([]);
      expect(faults).toEqual([]);
    });
  });
}

test('a browser that asks for German first gets German, with German numbers and dates', async () => {
  await withPage(
    { path: '/recordings/statics', hub: looking, recorded },
    { locale: 'de-AT' },
    async (page) => {
      await page.getByRole('heading', { name: 'Apnoen' }).waitFor();
      expect(await page.locator('html').getAttribute('lang')).toBe('de');
      // Measures come after the holds, once they are worked out.
      await expect.poll(() => page.locator('main').innerText()).toMatch(/\d,\d\u202fs/);
    },
  );
});

test('a browser that asks for a language there is not gets English', async () => {
  await withPage({ path: '/about', hub: one }, { locale: 'fr-FR' }, async (page) => {
    await page.getByRole('heading', { name: 'About and cautions' }).waitFor();
    expect(await page.locator('html').getAttribute('lang')).toBe('en');
  });
});

test('a language chosen in the page is taken at once and kept', async () => {
  await withPage({ path: '/about', hub: one }, { width: 'desktop' }, async (page) => {
    await page.getByText('Display', { exact: true }).click();
    await page.getByRole('combobox', { name: 'Language' }).selectOption('de');
    await page.getByRole('heading', { name: 'Über das Programm und Warnhinweise' }).waitFor();
    expect(await page.title()).toContain('Über das Programm');
    await page.reload();
    await page.getByRole('heading', { name: 'Über das Programm und Warnhinweise' }).waitFor();
    await page.getByText('Anzeige', { exact: true }).click();
    await page.getByRole('combobox', { name: 'Sprache' }).selectOption('en');
    await page.getByRole('heading', { name: 'About and cautions' }).waitFor();
  });
});

/** Ten frames after a change of size, charts have been drawn anew. */
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

/** What can be seen and lies beyond an edge of the window, unless a scrolling box around it holds it. */
function overflowing(page: Page): Promise<string[]> {
  return page.evaluate(() => {
    const found: string[] = [];
    const { clientWidth, scrollWidth } = document.documentElement;
    if (scrollWidth > clientWidth) found.push(`the page: ${scrollWidth} of ${clientWidth}`);
    for (const element of document.querySelectorAll('body *')) {
      const { left, right, width } = element.getBoundingClientRect();
      if (width === 0 || (left >= -1 && right <= clientWidth + 1)) continue;
      if (element.closest('.visually-hidden, .skip') !== null) continue;
      let around = element.parentElement;
      while (around !== null && getComputedStyle(around).overflowX === 'visible')
        around = around.parentElement;
      if (around !== null && around !== document.body && around !== document.documentElement) continue;
      found.push(`${element.outerHTML.slice(0, 90)} ${Math.round(left)} to ${Math.round(right)}`);
    }
    return found;
  });
}

/** Boxes with text of their own that is wider than they are and is not scrolled to: buttons, labels, headings. */
function cutOff(page: Page): Promise<string[]> {
  return page.evaluate(() =>
    [...document.querySelectorAll('button, a, label, h1, h2, h3, p, li, dt, dd, span, strong')]
      .filter((element) => {
        if (element.closest('.visually-hidden, .skip, svg, .trace') !== null) return false;
        const style = getComputedStyle(element);
        if (style.visibility === 'hidden' || style.display === 'inline' || element.clientWidth <= 1)
          return false;
        if (style.overflowX === 'auto' || style.overflowX === 'scroll') return false;
        return element.scrollWidth > element.clientWidth + 1;
      })
      .map(
        (element) => `${element.outerHTML.slice(0, 120)} ${element.scrollWidth} in ${element.clientWidth}`,
      ),
  );
}
