// Alarms where there is little room, against the real hub: a phone upright and on its side, and windows at 200 %. What an
// athlete reads and the button that acknowledges stand in view; others are folded; one cause is said and counted once.

import type { Page } from 'playwright-core';
import { describe, expect, test } from 'vitest';
import { HubError } from '../../hub/base/hub-error.ts';
import type { Store } from '../../hub/base/ports/store.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { said } from '../../shared/said.ts';
import { axeViolations } from '../support/axe-check.ts';
import { browserSuite } from '../support/browser-suite.ts';
import {
  keepNoPage,
  keepScreenshot,
  launchChromium,
  openPage,
  pressUntilGone,
} from '../support/chromium-page.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub, type PageHubOptions } from '../support/page-hub.ts';
import { isWholeInWindow, smallTargets } from '../support/seen-on-screen.ts';

const suite = browserSuite();
let hub: PageHub;

/** A window zoomed to 200 % has half the CSS pixels each way. */
const sizes = {
  phone: { width: 390, height: 844 },
  side: { width: 844, height: 390 },
  'laptop at 200 %': { width: 720, height: 450 },
  'phone at 200 %': { width: 195, height: 422 },
  'side at 200 %': { width: 422, height: 195 },
} as const;
type SizeName = keyof typeof sizes;

async function open(
  path: string,
  size: { width: number; height: number },
  options: Partial<PageHubOptions> = {},
  theme: 'light' | 'dark' = 'light',
): Promise<Page> {
  hub = suite.closeAfterTest(
    await openPageHub({ athleteCount: 12, behindSeconds: 30, simulated: true, ...options }),
  );
  const opened = await openPage(suite.browser, hub.url + path, { viewport: size, theme });
  suite.closeAfterTest(opened.context);
  await opened.page.locator('.link-state--live').waitFor({ state: 'attached' });
  return opened.page;
}

/** Several go below their floor, the first of them last. */
function fall(...athleteIndices: readonly number[]): void {
  for (const index of athleteIndices) hub.live(index, { spo2Percent: 86 - (index % 5), heartRateBpm: 55 });
  hub.pass(5);
}

/** Least distance of the button from every other control that is drawn, in CSS pixels. */
const spaceAround = (page: Page): Promise<number> =>
  page
    .locator('.alarm-acknowledge')
    .first()
    .evaluate((button) => {
      const own = button.getBoundingClientRect();
      const gaps = [...document.querySelectorAll('button, a')]
        .filter((other) => other !== button && other.getClientRects().length > 0 && !other.matches('.skip'))
        .map((other) => {
          const box = other.getBoundingClientRect();
          const across = Math.max(box.left - own.right, own.left - box.right);
          const down = Math.max(box.top - own.bottom, own.top - box.bottom);
          return Math.max(across, down);
        });
      return Math.min(...gaps);
    });

describe.each(Object.keys(sizes) as SizeName[])('%s', (name) => {
  test.each(['/wall', '/live/athlete-8', '/recordings'])(
    '%s with three in alarm: reading and Acknowledge in view, the others in one line',
    async (path) => {
      const page = await open(path, sizes[name]);
      fall(7, 9, 11);
      await page.locator('.alarm-title').first().waitFor();
      const acknowledge = page.locator('.alarm-acknowledge').first();
      await page.getByRole('button', { name: /2 more: / }).waitFor();
      expect(await isWholeInWindow(acknowledge)).toBe(true);
      const box = (await acknowledge.boundingBox())!;
      expect(Math.min(box.width, box.height)).toBeGreaterThanOrEqual(44);
      expect(await spaceAround(page)).toBeGreaterThanOrEqual(8);
      const title = (await page.locator('.alarm-title').textContent())!;
      const shownFirst = hub.athletes.find((athlete) => title.startsWith(athlete.name))!;
      const percentOf = (athleteId: string) => String(86 - ((Number(athleteId.split('-')[1]) - 1) % 5));
      // On an athlete's own page theirs comes first.
      if (path === '/live/athlete-8') expect(shownFirst.athleteId).toBe('athlete-8');
      // The athlete's page itself shows it large where it has the room; else, and everywhere else, the alarm does.
      const inFrame = page.locator('.alarm-reading strong');
      const shown = (await inFrame.count()) > 0 ? inFrame : page.locator('.reading--spo2 .reading-digits');
      expect(await shown.first().textContent()).toContain(percentOf(shownFirst.athleteId));
      expect(await isWholeInWindow(shown)).toBe(true);
      expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
      // Whatever makes room for the alarm, what the page is and is not stays to be read.
      for (const label of ['SIMULATED', 'Not a medical device'])
        expect(await isWholeInWindow(page.getByText(label).filter({ visible: true })), label).toBe(true);
      if (name === 'phone' && path === '/wall')
        expect((await page.locator('.alarms').boundingBox())!.height).toBeLessThanOrEqual(844 * 0.42);
      await keepScreenshot(page, `small-${name}-${path.split('/')[1]}`.replaceAll(/[ %]/gu, ''));
    },
  );
});

test.each(['light', 'dark'] as const)(
  'in %s a fold opens and closes, every control is large enough, axe is content, and all are presented',
  async (theme) => {
    const page = await open('/wall', sizes.phone, {}, theme);
    fall(7, 9, 11);
    const folded = page.getByRole('button', { name: /2 more: / });
    await folded.waitFor();
    const presented = () =>
      page
        .locator('[data-presents]')
        .evaluateAll((elements) => [
          ...new Set(
            elements.flatMap((element) =>
              (JSON.parse((element as HTMLElement).dataset.presents!) as [string, string][]).map((pair) =>
                pair.join(' '),
              ),
            ),
          ),
        ]);
    const standing = () =>
      hub.athletes.flatMap(({ athleteId }) =>
        hub.hub.snapshotOf(athleteId)!.alarms.map(({ alarmId }) => `${athleteId} ${alarmId}`),
      );
    await expect.poll(async () => (await presented()).sort()).toEqual(standing().sort());
    expect(await smallTargets(page)).toEqual([]);
    expect(await axeViolations(page)).toEqual([]);
    await folded.click();
    await expect.poll(() => page.locator('.alarm-row').count()).toBe(2);
    expect(await smallTargets(page)).toEqual([]);
    expect(await axeViolations(page)).toEqual([]);
    await keepScreenshot(page, `small-phone-unfolded-${theme}`);
    await pressUntilGone(page.locator('.alarm-row').last().locator('.alarm-acknowledge'));
    await page.locator('.alarm-folded').click();
    expect(await page.locator('.alarm-row').count()).toBe(0);
  },
);

describe('one cause', () => {
  test('that nothing sounds is nobody\u2019s own alarm: said once, counted for none', async () => {
    const page = await open('/wall', sizes.phone, { athleteCount: 3, loudspeaker: false });
    await page.locator('.alarm', { hasText: 'Alarms may go unheard' }).waitFor();
    await expect
      .poll(() =>
        hub.athletes.map(({ athleteId }) => hub.hub.snapshotOf(athleteId)!.alarms.map(({ kind }) => kind)),
      )
      .toEqual([['pageUnresponsive'], ['pageUnresponsive'], ['pageUnresponsive']]);
    await page.getByText(/3 athletes · \d holding · 0 in alarm/).waitFor();
    expect(
      await page.getByText('Alarms may go unheard').filter({ visible: true }).count(),
    ).toBeLessThanOrEqual(3);
    expect(await page.locator('.alarms li').count()).toBe(1);
    expect(await page.locator('.wall .sound-check').count()).toBe(0);
    // One of them in alarm by themselves is one.
    fall(1);
    await page.getByText(/3 athletes · \d holding · 1 in alarm/).waitFor();
  });

  test('that the disk is full is told by the alarm alone, with its reason', async () => {
    let isFull = false;
    const store = openStoreInMemory();
    const fillable = new Proxy<Store>(store, {
      get(_target, key) {
        if ((key === 'appendPacket' || key === 'commit') && isFull)
          return () => {
            throw new HubError('data.full', said('data.full', { path: '/disk' }));
          };
        const value = store[key as keyof Store];
        return typeof value === 'function' ? value.bind(store) : value;
      },
    });
    const page = await open('/wall', sizes.phone, { athleteCount: 3, store: fillable });
    isFull = true;
    hub.pass(3);
    await page.locator('.alarm', { hasText: 'The recording fails' }).waitFor();
    expect(hub.hub.notices.list.map(({ code }) => code)).toContain('notice.recordingFails');
    expect(await page.locator('.notices').textContent()).not.toContain('recording');
    await page.getByText(/· 0 in alarm/).waitFor();
  });

  test('a hub that is gone is one alarm, on a phone with its button in view', async () => {
    const page = await open('/wall', sizes.side, { athleteCount: 3 });
    await hub.crash();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    expect(await page.locator('.alarm').count()).toBe(1);
    expect(await isWholeInWindow(page.getByRole('button', { name: 'Pause sound 1 min' }))).toBe(true);
  });
});

describe('by touch', () => {
  /** A phone as a hand holds it: taps, and the text as large as its browser was told. */
  async function openPhone(viewport: { width: number; height: number }, path: string, isLarge = false) {
    hub = suite.closeAfterTest(await openPageHub({ athleteCount: 12, behindSeconds: 30, simulated: true }));
    const browser = isLarge ? suite.closeAfterTest(await launchChromium({ textPx: 32 })) : suite.browser;
    const context = suite.closeAfterTest(
      await browser.newContext({ viewport, hasTouch: true, isMobile: true, locale: 'en-GB' }),
    );
    await makeOwnBrowser(context, hub.url);
    await keepNoPage(context);
    const page = await context.newPage();
    await page.goto(hub.url + path);
    await page.locator('.link-state--live').waitFor({ state: 'attached' });
    return page;
  }

  const unseen = (): number =>
    hub.athletes
      .flatMap(({ athleteId }) => hub.hub.snapshotOf(athleteId)!.alarms)
      .filter((alarm) => !alarm.acknowledged).length;

  test('a frightened double tap acknowledges one alarm, not the next that comes up under the finger', async () => {
    const page = await openPhone(sizes.phone, '/wall');
    fall(7, 9, 11);
    const button = page.locator('.alarm-acknowledge').first();
    await button.waitFor();
    // Past the moments in which no press is meant for it.
    await page.waitForTimeout(500);
    expect(unseen()).toBe(3);
    const box = (await button.boundingBox())!;
    const tap = () => page.touchscreen.tap(box.x + box.width / 2, box.y + box.height / 2);
    await tap();
    await expect.poll(unseen).toBe(2);
    await tap();
    await page.waitForTimeout(300);
    expect(unseen()).toBe(2);
    // Who means the next one is heard.
    await page.waitForTimeout(600);
    await page.locator('.alarm-acknowledge').first().tap();
    await expect.poll(unseen).toBe(1);
  });

  test('on its side the same tap twice does not lead away from the readings', async () => {
    const page = await openPhone(sizes.side, '/live/athlete-8');
    fall(7);
    await page.locator('.alarm-acknowledge').waitFor();
    await page.waitForTimeout(500);
    await page.locator('.alarm-acknowledge').tap();
    const meaning = page.getByRole('link', { name: /What it means/ });
    await meaning.waitFor();
    await meaning.evaluate((link) => (link as HTMLElement).click());
    expect(new URL(page.url()).pathname).toBe('/live/athlete-8');
    await page.waitForTimeout(700);
    await meaning.tap();
    await expect.poll(() => new URL(page.url()).pathname).toBe('/help/alarms');
  });

  test('after acknowledging, keyboard and screen reader go on at the alarm, not at the top of the page', async () => {
    const page = await openPhone(sizes.phone, '/live/athlete-8');
    fall(7);
    const button = page.locator('.alarm-acknowledge');
    await button.waitFor();
    await page.waitForTimeout(500);
    await button.focus();
    await page.keyboard.press('Enter');
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.className))
      .toContain('is-acknowledged');
  });

  test('on its side the saturation and what a hand presses stand beside each other, before and after an alarm', async () => {
    const page = await openPhone(sizes.side, '/live/athlete-8');
    const number = page.locator('.reading--spo2 .reading-digits');
    const start = page.getByRole('button', { name: 'Hold starts' });
    await start.waitFor();
    expect(await isWholeInWindow(number)).toBe(true);
    expect(await isWholeInWindow(start)).toBe(true);
    fall(7);
    await page.waitForTimeout(800);
    await page.locator('.alarm-acknowledge').tap();
    await page.locator('.alarm.is-acknowledged').waitFor();
    expect(await isWholeInWindow(number)).toBe(true);
    expect(await isWholeInWindow(start)).toBe(true);
    await keepScreenshot(page, 'small-side-acknowledged');
  });

  test('with text twice as large no word leaves its button, and the alarm shows the reading', async () => {
    const page = await openPhone(sizes.phone, '/live/athlete-8', true);
    await page.getByRole('button', { name: 'Hold starts' }).waitFor();
    expect(await cutWords(page)).toEqual([]);
    fall(7);
    await page.locator('.alarm-acknowledge').first().waitFor();
    expect(await cutWords(page)).toEqual([]);
    expect(await isWholeInWindow(page.locator('.alarm-acknowledge').first())).toBe(true);
    expect(await isWholeInWindow(page.locator('.alarm-reading strong'))).toBe(true);
    expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
    await keepScreenshot(page, 'small-large-text');
  });
});

/** Buttons whose words are wider than they are, or that reach out of the window. */
const cutWords = (page: Page): Promise<string[]> =>
  page.locator('button:visible, a.button:visible').evaluateAll((controls) =>
    controls
      .filter((control) => !control.matches('.alarm-folded'))
      .filter(
        (control) =>
          control.scrollWidth > control.clientWidth + 1 ||
          control.getBoundingClientRect().right > innerWidth + 1,
      )
      .map((control) => control.textContent ?? ''),
  );

test('in the reader\u2019s own colours nothing covers the words around the large digits', async () => {
  hub = suite.closeAfterTest(await openPageHub({ athleteCount: 1, behindSeconds: 30, simulated: true }));
  const opened = await openPage(suite.browser, `${hub.url}/live/athlete-1`, { forcedColors: 'active' });
  suite.closeAfterTest(opened.context);
  const digits = opened.page.locator('.reading--spo2 .reading-number');
  await digits.waitFor();
  // The plate that a browser lays behind text is drawn unless the text says that it brings its own colours.
  expect(await digits.evaluate((element) => getComputedStyle(element).forcedColorAdjust)).toBe('none');
});

test.each(['en-GB', 'de-DE'])(
  'in %s the header of a laptop is one line, whole in the window',
  async (locale) => {
    hub = suite.closeAfterTest(await openPageHub({ athleteCount: 1, behindSeconds: 30, simulated: true }));
    const opened = await openPage(suite.browser, `${hub.url}/plans`, { width: 'desktop', locale });
    suite.closeAfterTest(opened.context);
    const page = opened.page;
    await page.locator('.link-state--live').waitFor();
    for (const width of [1380, 1440, 1920]) {
      await page.setViewportSize({ width, height: 900 });
      const tops = await page
        .locator('.top-bar .label-button, .top-bar .link-state, .top-bar nav > *')
        .evaluateAll((parts) =>
          parts.map((part) => {
            const range = document.createRange();
            range.selectNodeContents(part.matches('details') ? part.firstElementChild! : part);
            // A line each: text that wraps has more of them.
            return new Set([...range.getClientRects()].map(({ bottom }) => Math.round(bottom / 10))).size;
          }),
        );
      expect(Math.max(...tops)).toBe(1);
      expect((await page.locator('.top-bar').boundingBox())!.height).toBeLessThanOrEqual(56);
      expect(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth)).toBe(true);
    }
  },
);
