// The page in its other languages: chosen by the browser or by a person, in the document's own attributes, and laid out
// without anything running over the edge: German, and a pseudo-language that is longer and runs from right to left.

import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openStoreInMemory, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { axeViolations } from '../support/axe-check.ts';
import {
  keepScreenshot,
  launchChromium,
  openPage,
  type WidthName,
  widths,
} from '../support/chromium-page.ts';
import { createFakeClock } from '../support/fake-clock.ts';
import { FakeHub, type FakeHubOptions } from '../support/fake-hub.ts';
import { serveTestHub } from '../support/serve-test-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;

interface PageCase {
  readonly name: string;
  readonly path: string;
  /** A hub speaking from a script, or what the real hub's store holds. */
  readonly hub: FakeHubOptions | ((store: SqliteStore) => void);
  readonly prepare?: (hub: FakeHub) => void;
  /** A selector that is there once the view has drawn what matters. */
  readonly ready: string;
}

const one: FakeHubOptions = { athleteCount: 1, simulated: true, behindSeconds: 180 };
const looking: FakeHubOptions = { athleteCount: 2, recordings: true, sessionRunning: false };

const dayMs = 86_400_000;
const looksBack = (store: SqliteStore): void => {
  for (const [sessionId, daysAgo] of [
    ['before', 9],
    ['evening', 2],
  ] as const) {
    writeSession(store, {
      athleteId: 'mira',
      athleteName: 'Mira',
      title: 'SIMULATED evening',
      sessionId,
      startedWallAtMs: Date.now() - daysAgo * dayMs,
      holdsS: [90, 110, 130],
      seed: daysAgo,
    });
  }
};

const pages: readonly PageCase[] = [
  {
    name: 'setup',
    path: '/',
    hub: { athleteCount: 3, sessionRunning: false },
    ready: 'input[type=checkbox]',
  },
  { name: 'live', path: '/live/athlete-1', hub: one, ready: '.reading--spo2.is-fresh' },
  {
    name: 'live-alarm',
    path: '/live/athlete-1',
    hub: one,
    prepare: (hub) => hub.raiseAlarm(0),
    ready: '.alarm',
  },
  {
    name: 'wall',
    path: '/wall',
    hub: { athleteCount: 8, simulated: true, behindSeconds: 240 },
    prepare: (hub) => hub.raiseAlarm(2),
    ready: '.tile',
  },
  { name: 'plans', path: '/plans', hub: one, ready: 'main h1' },
  { name: 'plan-new', path: '/plans/new/interval', hub: { ...one, athleteCount: 3 }, ready: '.plan-chart' },
  { name: 'training', path: '/training', hub: one, ready: 'main h1' },
  { name: 'recordings', path: '/recordings', hub: { ...one, recordings: true }, ready: 'main h1' },
  { name: 'recording', path: '/recordings/rec-3', hub: looking, ready: '.hold-list' },
  { name: 'holds', path: '/recordings/evening/holds/mira', hub: looksBack, ready: '.plot-line' },
  { name: 'report', path: '/recordings/evening/report/mira', hub: looksBack, ready: '.report-line' },
  { name: 'weeks', path: '/weeks/mira', hub: looksBack, ready: '.trend, .plot-line' },
  { name: 'devices', path: '/devices', hub: looksBack, ready: 'main h1' },
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
  view: Pick<PageCase, 'path' | 'hub' | 'prepare'>,
  options: Parameters<typeof openPage>[2],
  act: (page: Page, faults: readonly string[]) => Promise<void>,
): Promise<void> {
  const { url, stop } = await started(view);
  const { page, context, faults } = await openPage(browser, url + view.path, options);
  try {
    await act(page, faults);
  } finally {
    await context.close();
    await stop();
  }
}

async function started({
  hub: wanted,
  prepare,
}: Pick<PageCase, 'hub' | 'prepare'>): Promise<{ url: string; stop: () => Promise<void> }> {
  if (typeof wanted !== 'function') {
    const hub = new FakeHub(wanted);
    prepare?.(hub);
    await hub.start();
    return { url: hub.url, stop: () => hub.stop() };
  }
  const store = openStoreInMemory();
  wanted(store);
  const clock = createFakeClock(1_000, Date.now());
  const served = await serveTestHub({ webDirectory, store, clock, sourceKind: 'simulated' });
  // The page wants to hear from its hub.
  const beat = setInterval(() => clock.advance(250), 250);
  return {
    url: served.url,
    async stop() {
      clearInterval(beat);
      await served.close();
    },
  };
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
  await withPage({ path: '/recordings/rec-3', hub: looking }, { locale: 'de-AT' }, async (page) => {
    await page.getByRole('heading', { name: 'Apnoen' }).waitFor();
    expect(await page.locator('html').getAttribute('lang')).toBe('de');
    expect(await page.locator('main').innerText()).toMatch(/\d,\d\u202fs/);
  });
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
        return element.scrollWidth > element.clientWidth + 2;
      })
      .map(
        (element) => `${element.outerHTML.slice(0, 120)} ${element.scrollWidth} in ${element.clientWidth}`,
      ),
  );
}
