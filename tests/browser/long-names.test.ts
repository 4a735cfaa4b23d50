// Names of 29 letters, with accents, and from right to left, on every page where a name stands: none leaves its place, and
// none turns what stands beside it round.

import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { keepScreenshot, launchChromium, openPage, widths } from '../support/chromium-page.ts';
import { openPageHub, type PageHub } from '../support/page-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

/** Invented. The first is one word of 29 letters, the third begins as the second does. */
const names = [
  'Hohenlindenbrunnwaldschreiner',
  'Maximiliana Vondergrafenstein',
  'Maximiliana Þóra-Łękawšćížková',
  'نورا بنت عبد الرحمن الزهرانية',
  'שחרית בן־אבינועם הלוי־שמשוני',
];
const rightToLeft = names.slice(3);

let browser: Browser;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());

interface Misplaced {
  readonly text: string;
  readonly why: string;
}

/** Each place in the page where a name is drawn and is not as it should be. */
const misplaced = (page: Page): Promise<Misplaced[]> =>
  page.evaluate(
    ({ names, rightToLeft }) => {
      const found: { text: string; why: string }[] = [];
      const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
      for (let node = walker.nextNode(); node !== null; node = walker.nextNode()) {
        const text = node.textContent ?? '';
        const parent = node.parentElement!;
        const words = names.flatMap((name) => [name, ...name.split(' ')]);
        if (!words.some((word) => word.length > 3 && text.includes(word))) continue;
        if (
          parent.closest('.visually-hidden, option, title, script') !== null ||
          parent.getClientRects().length === 0
        )
          continue;
        const range = document.createRange();
        range.selectNodeContents(node);
        const box = range.getBoundingClientRect();
        // Where a box cuts what does not fit, nothing is over it.
        let right = box.right;
        let left = box.left;
        for (let element: Element | null = parent; element !== null; element = element.parentElement) {
          const { overflowX } = getComputedStyle(element);
          if (overflowX === 'visible') continue;
          const bounds = element.getBoundingClientRect();
          right = Math.min(right, bounds.right);
          left = Math.max(left, bounds.left);
        }
        const place = parent.closest(
          'article, li, td, th, tr, label, button, a, .alarm, header, section, p, h1, h2, h3',
        )!;
        const outer = place.getBoundingClientRect();
        if (right > outer.right + 1.5 || left < outer.left - 1.5)
          found.push({ text, why: `outside ${place.tagName}.${place.className}` });
        if (right > innerWidth + 1) found.push({ text, why: 'outside the window' });
        const name = rightToLeft.find((one) => text.includes(one));
        if (name === undefined) continue;
        // By itself in an element of its own direction, or marked within a sentence: digits after it would move otherwise.
        const isIsolated =
          new RegExp(`\u2068[^\u2069]*${name}`, 'u').test(text) ||
          (text.trim() === name &&
            ['isolate', 'plaintext', 'isolate-override'].includes(getComputedStyle(parent).unicodeBidi));
        if (!isIsolated) found.push({ text, why: 'not isolated' });
      }
      return found;
    },
    { names, rightToLeft },
  );

/** No tile's name lies over another tile. */
const tilesApart = (page: Page): Promise<boolean> =>
  page.evaluate(() => {
    const tiles = [...document.querySelectorAll('.tile, .far-tile')].map((tile) =>
      tile.getBoundingClientRect(),
    );
    return tiles.every((one, index) =>
      tiles.every(
        (other, at) =>
          at === index ||
          one.right <= other.left + 1 ||
          other.right <= one.left + 1 ||
          one.bottom <= other.top + 1 ||
          other.bottom <= one.top + 1,
      ),
    );
  });

const paths = [
  '/',
  '/wall',
  '/live',
  '/live/athlete-4',
  '/plans/new/interval',
  '/recordings',
  '/recordings/evening',
  '/recordings/evening/report',
  '/training',
  '/weeks',
  '/devices',
  '/people',
];

test.each(['phone', 'desktop'] as const)('on a %s every name keeps to its place', async (width) => {
  const store = openStoreInMemory();
  writeSession(store, {
    sessionId: 'evening',
    athleteId: 'athlete-4',
    athleteName: names[3]!,
    others: [{ athleteId: 'athlete-1', athleteName: names[0]! }],
    startedWallAtMs: Date.UTC(2026, 4, 12, 18, 30),
    title: 'Evening statics',
    holdsS: [150],
  });
  const hub: PageHub = await openPageHub({ athleteCount: 5, names, behindSeconds: 20, store });
  for (const index of [3, 0]) hub.live(index, { spo2Percent: 84, heartRateBpm: 55 });
  hub.pass(5);
  const { page, context } = await openPage(browser, `${hub.url}/about`, { width, theme: 'light' });
  try {
    const seen: Record<string, Misplaced[]> = {};
    const look = async (name: string) => {
      const wrong = await misplaced(page);
      if (wrong.length > 0) seen[name] = wrong;
      expect(await tilesApart(page), name).toBe(true);
      expect(
        await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth),
        `${name}: wider than the window`,
      ).toBe(true);
      await keepScreenshot(page, `long-names-${name}-${width}`);
    };
    for (const path of paths) {
      await page.goto(hub.url + path);
      await page.locator('.link-state--live').waitFor({ state: 'attached' });
      await page.locator('h1').first().waitFor();
      await page.locator('.alarm-title').first().waitFor();
      // What the view asks of the hub has come.
      await page.waitForLoadState('networkidle').catch(() => undefined);
      await look(path.replaceAll('/', '_'));
    }
    await page.goto(`${hub.url}/wall`);
    await page.getByRole('button', { name: 'Places' }).click();
    await look('places');
    await page.keyboard.press('Escape');
    await page.getByRole('button', { name: 'Seen from afar' }).click();
    await page.locator('.far-tile').nth(4).waitFor();
    // Two of one first name are called by more of it.
    expect(await page.locator('.called-name-first').allTextContents()).toEqual([
      names[0],
      names[1],
      names[2],
      'نورا',
      'שחרית',
    ]);
    await look('far');
    expect(seen).toEqual({});
  } finally {
    await context.close();
    await hub.close();
  }
});

test('the search for misplaced names can fail', async () => {
  const hub = await openPageHub({ athleteCount: 1, names: [names[3]!], behindSeconds: 5 });
  const { page, context } = await openPage(browser, `${hub.url}/about`, { viewport: widths.phone });
  try {
    await page.getByRole('heading', { name: 'About and cautions' }).waitFor();
    await page.evaluate((name) => {
      const bare = document.createElement('p');
      bare.textContent = `${name} 12:30`;
      const wide = document.createElement('p');
      wide.style.cssText = 'width: 90px; white-space: nowrap';
      wide.textContent = name;
      document.querySelector('main article')!.append(bare, wide);
    }, names[3]!);
    const wrong = await misplaced(page);
    expect(wrong.filter(({ why }) => why === 'not isolated')).toHaveLength(1);
    expect(wrong.some(({ why }) => why.startsWith('outside'))).toBe(true);
  } finally {
    await context.close();
    await hub.close();
  }
});
