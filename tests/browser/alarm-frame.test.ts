// Alarms in the frame of every page, against the real hub: shown, sounded, told to the hub, one key, dialogs, the tab; a
// hub that dies in a session; what an alarm says and when.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepNoPage, keepScreenshot, launchChromium, pressUntilGone } from '../support/chromium-page.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { type ServedTestHub, serveTestHub } from '../support/serve-test-hub.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
let browser: Browser;
let context: BrowserContext;
let served: ServedTestHub;
/** What the oximeter reads while the clock walks; null is silence. */
let spo2Percent: number | null = 97;
let walking: NodeJS.Timeout | undefined;

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
beforeEach(async () => {
  spo2Percent = 97;
  served = await serveTestHub({ webDirectory });
});
afterEach(async () => {
  clearInterval(walking);
  await context?.close();
  await served.close().catch(() => undefined);
});

/** The hub lives at the pace of the browser, with a reading each half second. */
function walk(): void {
  let odd = false;
  walking = setInterval(() => {
    // A living finger does not stand still.
    odd = !odd;
    if (spo2Percent !== null) served.source.oximetry(spo2Percent, odd ? 60 : 62);
    served.source.heartRate(60);
    served.clock.advance(500);
  }, 500);
}

function seconds(count: number, percent: number): void {
  for (let i = 0; i < count; i += 1) {
    served.source.oximetry(percent, 60 + (i % 3));
    served.source.heartRate(60);
    served.clock.advance(1_000);
  }
}

/** In a hold, some seconds below the floor. */
function fallBelowFloor(others: readonly string[] = []): void {
  served.hub.startSession(['mira', ...others], 'evening');
  seconds(20, 97);
  served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
  seconds(20, 96);
  for (let percent = 95; percent >= 84; percent -= 1) seconds(1, percent);
  spo2Percent = 84;
}

const desktop = { width: 1440, height: 900 };

async function open(
  path: string,
  viewport = desktop,
  {
    isKept = false,
    ...more
  }: {
    colorScheme?: 'light' | 'dark';
    forcedColors?: 'active';
    reducedMotion?: 'reduce';
    isKept?: boolean;
  } = {},
): Promise<Page> {
  context = await browser.newContext({ viewport, locale: 'en-GB', timezoneId: 'UTC', ...more });
  await makeOwnBrowser(context, served.url);
  if (!isKept) await keepNoPage(context);
  const page = await context.newPage();
  await page.goto(served.url + path);
  return page;
}

const drawn = (page: Page) =>
  page.evaluate('new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve)))');
const alarms = (page: Page) => page.getByRole('region', { name: 'Alarms' });
const standing = () => served.hub.snapshotOf('mira')?.alarms ?? [];
const unacknowledged = () => standing().filter(({ acknowledged }) => !acknowledged);

describe('on every view', () => {
  test.each(['recordings', 'plans', 'training', 'weeks', 'devices', 'about', 'wall', 'live/mira', ''])(
    '/%s shows whose alarm it is, what it is, and the way on; the tab says so too',
    async (path) => {
      fallBelowFloor();
      served.hub.addAthlete('Teo');
      walk();
      const page = await open(`/${path}`);
      await alarms(page).getByRole('heading', { name: 'Below the floor' }).waitFor();
      await alarms(page)
        .getByRole('button', { name: /^Acknowledge ?, .*Below the floor/ })
        .waitFor();
      if (path === 'recordings')
        await alarms(page)
          .getByText(/Reads 84/)
          .waitFor();
      const way = alarms(page).getByRole('link', { name: 'Go to Mira' });
      expect(await way.count()).toBe(path === 'live/mira' ? 0 : 1);
      expect(await page.title()).toMatch(/^▲ .*Below the floor/);
      expect(await page.locator('link[rel="icon"]').getAttribute('href')).toBe('/alarm.svg');
      // It stands above whatever else there is, at the head of the window.
      const box = await alarms(page).boundingBox();
      expect(box!.y).toBe(0);
      expect(box!.height).toBeLessThanOrEqual(900 * 0.63);
    },
  );

  test('one key acknowledges it, but not while a name is being typed; then the tab is calm', async () => {
    fallBelowFloor();
    walk();
    const page = await open('/wall');
    await alarms(page).getByRole('heading', { name: 'Below the floor' }).waitFor();
    await alarms(page).getByText('Key').waitFor();
    // Long enough to have been seen, so that only the field keeps a key from counting.
    await page.waitForTimeout(500);
    await page.getByRole('button', { name: 'Note on Mira' }).click();
    await page.getByRole('dialog').getByRole('textbox').pressSequentially('a hand that shakes');
    expect(unacknowledged().some(({ kind }) => kind === 'floorBreached')).toBe(true);
    await page.keyboard.press('Escape');
    await page.getByRole('dialog').waitFor({ state: 'detached' });
    await page.locator('h1').first().click();
    await expect
      .poll(async () => {
        await page.keyboard.press('a');
        return unacknowledged().filter(({ priority }) => priority === 'high').length;
      })
      .toBe(0);
    spo2Percent = 97;
    await expect.poll(() => page.title()).not.toMatch(/Below the floor/);
  });

  test('above an open dialog, and not dead behind it', async () => {
    served.hub.startSession(['mira'], '');
    walk();
    const page = await open('/recordings');
    await page.getByRole('button', { name: /Not a medical device/ }).click();
    const dialog = page.getByRole('dialog');
    await dialog.waitFor();
    served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    spo2Percent = 80;
    const acknowledge = page.getByRole('button', { name: /^Acknowledge ?, .*(Below the floor|No sign)/ });
    await acknowledge.waitFor();
    expect(await dialog.locator('.alarms').count()).toBe(1);
    // Told once: there is one of it.
    expect(await page.locator('.alarms').count()).toBe(1);
    await keepScreenshot(page, 'alarm-over-dialog');
    await pressUntilGone(acknowledge);
    expect(standing().find(({ kind }) => kind === 'floorBreached')?.acknowledged).toBe(true);
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    await expect.poll(() => page.locator('.frame > div > .alarms-host').count()).toBe(1);
  });

  test('a screen reader hears it once, and its end', async () => {
    served.hub.startSession(['mira'], '');
    walk();
    const page = await open('/recordings');
    await page.evaluate(`
      window.heard = [];
      const watch = (role) => new MutationObserver(() => {
        const text = document.querySelector('.alarms [role=' + role + '].visually-hidden')?.textContent ?? '';
        if (text !== '') window.heard.push(role + ': ' + text);
      }).observe(document.querySelector('.alarms'), { childList: true, subtree: true, characterData: true });
      watch('alert'); watch('status');`);
    served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    spo2Percent = 82;
    await alarms(page).getByRole('heading', { name: 'Below the floor' }).waitFor();
    // It gets worse meanwhile, which is not said again.
    spo2Percent = 81;
    await page.waitForTimeout(2_500);
    spo2Percent = 97;
    served.hub.addMark({ athleteId: 'mira', kind: 'holdEnd', atMs: null, text: null });
    await expect
      .poll(() =>
        standing().some(({ conditionPresent, kind }) => kind === 'floorBreached' && !conditionPresent),
      )
      .toBe(true);
    served.hub.acknowledge('mira');
    await expect
      .poll(() => page.evaluate<string[]>('window.heard'))
      .toContainEqual(expect.stringMatching(/^status: .*Over: .*elow the floor/));
    const heard = await page.evaluate<string[]>('window.heard');
    const below = [
      ...new Set(
        heard.filter(
          (text) =>
            text.startsWith('alert: High. ') && text.includes('. ') && /Mira: Below the floor/.test(text),
        ),
      ),
    ];
    expect(below).toHaveLength(1);
  });

  test('the page tells the hub what it shows and sounds, and stops counting when it shows nothing', async () => {
    fallBelowFloor();
    walk();
    const page = await open('/recordings');
    await page.getByRole('button', { name: 'Play the alarm' }).click();
    await page.getByRole('button', { name: 'I heard it' }).click();
    await expect.poll(() => unacknowledged().map(({ kind }) => kind)).not.toContain('pageUnresponsive');
    expect(unacknowledged().map(({ kind }) => kind)).toContain('floorBreached');
    // Whatever hides it: a fault of ours in a style, a broken component.
    await page.addStyleTag({ content: '.alarms { display: none }' }).catch(() => undefined);
    await page.evaluate(
      `document.querySelector('.alarms').hidden = true; document.querySelector('.alarms').style.display = 'none'`,
    );
    await expect
      .poll(() => unacknowledged().map(({ kind, detail }) => `${kind} ${detail}`))
      .toContain('pageUnresponsive noPage');
  });
});

describe('one cause for all', () => {
  test('that alarms may go unheard is said once, with the way out, and not on every tile', async () => {
    const others = ['Teo', 'Sana'].map((name) => {
      const added = served.hub.addAthlete(name);
      if (!added.ok) throw new Error('refused');
      return added.value.athleteId;
    });
    served.hub.startSession(['mira', ...others], '');
    walk();
    const page = await open('/wall');
    await page.locator('.alarm', { hasText: 'Alarms may go unheard' }).waitFor();
    await expect
      .poll(() => served.hub.snapshotOf(others[1]!)?.alarms.map(({ kind }) => kind))
      .toContain('pageUnresponsive');
    expect(
      await page.getByText('Alarms may go unheard').filter({ visible: true }).count(),
    ).toBeLessThanOrEqual(3);
    expect(await page.locator('.tile-alarm', { hasText: 'unheard' }).count()).toBe(0);
    expect(await alarms(page).locator('li').count()).toBe(1);
    await pressUntilGone(alarms(page).getByRole('button', { name: /^Acknowledge ?, / }));
    for (const athleteId of ['mira', ...others])
      expect(served.hub.snapshotOf(athleteId)?.alarms.every(({ acknowledged }) => acknowledged)).toBe(true);
  });
});

describe('monitoring that ends', () => {
  test('a hub that died: every page holds the alarm with its time; one tap goes on with the same people', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'slackwater-died-'));
    await served.close();
    served = await serveTestHub({ webDirectory, store: openSqliteStore({ directory: folder }) });
    served.hub.startSession(['mira'], 'evening');
    seconds(15, 97);
    served.store.commit();
    served.store.close();
    const dead = served;
    served = await serveTestHub({ webDirectory, store: openSqliteStore({ directory: folder }) });
    walk();
    const page = await open('/plans', { width: 390, height: 844 }, { isKept: true });
    await alarms(page)
      .getByRole('heading', { name: /^Monitoring stopped at .*:\d\d/ })
      .waitFor();
    await alarms(page).getByText('Nobody has watched Mira since.').waitFor();
    expect(await page.title()).toMatch(/^▲ Monitoring stopped/);
    await keepScreenshot(page, 'alarm-monitoring-stopped-phone');
    await alarms(page).getByRole('button', { name: 'Go on watching Mira' }).click();
    await page.waitForURL('**/live/mira');
    await alarms(page)
      .getByRole('heading', { name: /Monitoring stopped/ })
      .waitFor({ state: 'detached' });
    expect(served.hub.session).toMatchObject({ title: 'evening', athleteIds: ['mira'] });
    await dead.server.close().catch(() => undefined);
    await context.close();
    clearInterval(walking);
    await served.close();
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
    served = await serveTestHub({ webDirectory });
  });

  test('a page that lost its hub still alarms after a reload, and holds it when a new hub knows nothing', async () => {
    served.hub.startSession(['mira'], '');
    walk();
    const page = await open('/recordings', desktop, { isKept: true });
    await page.locator('.link-state--live').waitFor();
    await page.waitForTimeout(1_500);
    // The page itself goes on being served; only its hub is gone.
    await page.route('**/ws', (route) => route.abort());
    await page.evaluate(`
      const Real = WebSocket;
      sessionStorage.setItem('blocked', 'yes');`);
    await page.addInitScript(
      `if (sessionStorage.getItem('blocked') === 'yes') window.WebSocket = class { constructor() { setTimeout(() => this.onclose?.({ code: 1006 }), 10); } close() {} send() {} addEventListener(type, f) { if (type === 'close') setTimeout(() => f({ code: 1006 }), 10); } };`,
    );
    await page.reload();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    const port = new URL(served.url).port;
    expect(Number(port)).toBeGreaterThan(0);
    // Back comes a hub that runs nothing and remembers nothing.
    served.hub.endSession();
    Object.assign(served.hub, { wasEnded: () => false });
    await page.evaluate(`sessionStorage.removeItem('blocked')`);
    await page.reload();
    await alarms(page)
      .getByRole('heading', { name: /^Monitoring stopped at/ })
      .waitFor();
    await pressUntilGone(alarms(page).getByRole('button', { name: /^Acknowledge ?, Monitoring stopped/ }));
  });

  test('a session that a person ended elsewhere while the page slept is no alarm', async () => {
    served.hub.startSession(['mira'], '');
    walk();
    const page = await open('/recordings', desktop, { isKept: true });
    await page.locator('.link-state--live').waitFor();
    await page.waitForTimeout(1_000);
    await context.setOffline(true);
    served.hub.endSession();
    await page.reload().catch(() => undefined);
    await context.setOffline(false);
    await page.goto(`${served.url}/recordings`);
    await page.locator('.link-state--live').waitFor();
    await page.waitForTimeout(500);
    expect(await page.getByText(/Monitoring stopped/).count()).toBe(0);
  });
});

describe('step by step', () => {
  test('a fall that nobody stops: every word shown, in the order of need, none beside one that it contradicts', async () => {
    served.hub.startSession(['mira'], '');
    seconds(30, 98);
    served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    const page = await open('/live/mira');
    const shown: {
      readPercent: number;
      titles: string[];
      alarmWords: string;
      forecast: string;
    }[] = [];
    // 98 % for 40 s, then a quarter of a point a second, and nobody breathes.
    const readings = [
      ...Array.from({ length: 40 }, () => 98),
      ...Array.from({ length: 52 }, (_, index) => 98 - Math.floor(index / 4)),
      ...Array.from({ length: 24 }, () => 85),
    ];
    for (const [index, percent] of readings.entries()) {
      served.source.oximetry(percent, 60 + (index % 3));
      served.source.heartRate(60 + (index % 3));
      served.clock.advance(1_000);
      // What the page has drawn of this second.
      await page
        .locator('.reading--spo2 .reading-digits')
        .filter({ hasText: String(percent) })
        .waitFor();
      await drawn(page);
      const now = await page.evaluate(() => ({
        titles: [...document.querySelectorAll('.alarms .alarm-title, .alarms .alarm-row strong')].map(
          (element) => element.textContent ?? '',
        ),
        alarmWords: [...document.querySelectorAll('.alarms .alarm')]
          .map((element) => element.textContent ?? '')
          .join(' | '),
        forecast: document.querySelector('.forecast-main')?.textContent ?? '',
      }));
      shown.push({ readPercent: percent, ...now });
      if (index === readings.length - 1) await keepScreenshot(page, 'alarm-fall-that-nobody-stops');
    }
    // To breathe, then to answer, then to rescue; each once, and none comes back when a later one has been said.
    const steps = shown
      .map(({ titles }) =>
        titles.find((title) => /^(Floor ahead|Answer needed|No sign of breathing)/.test(title)),
      )
      .filter((title, at, all) => title !== undefined && title !== all[at - 1]);
    expect(steps).toEqual(['Floor ahead', 'Answer needed', 'No sign of breathing']);
    for (const { readPercent, titles, alarmWords, forecast } of shown) {
      // Words of rescue only with low saturation, or where no answer came, which these readings leave no time for.
      if (readPercent >= 90) expect(alarmWords).not.toMatch(/emergency number|airway|first aid/);
      // No seconds are promised beside an alarm that says to breathe now.
      if (titles.some((title) => /Floor ahead|Below the floor|breathing|Answer needed/.test(title)))
        expect(forecast).toBe('Breathe now');
    }
    expect(shown.at(-1)!.alarmWords).toMatch(/emergency number/);
    // The floor's own alarm stands under it, and below the floor nothing is ahead any more.
    expect(standing().map(({ kind }) => kind)).toContain('floorBreached');
    expect(standing().map(({ kind }) => kind)).not.toContain('floorForecast');
  });

  test('one wording for one state; an answer is asked for before any word of rescue, and one tap gives it', async () => {
    served.hub.startSession(['mira'], '');
    served.hub.changeSettings('mira', { ...served.hub.athletes[0]!.settings, maxHoldDurationMs: 10_000 });
    seconds(20, 97);
    served.hub.addMark({ athleteId: 'mira', kind: 'holdStart', atMs: null, text: null });
    seconds(11, 97);
    walk();
    const page = await open('/live/mira');
    await page.locator('.alarm', { hasText: 'Hold limit reached' }).waitFor();
    expect(await page.getByText(/Breathe within/).count()).toBe(0);
    const asked = alarms(page).getByRole('heading', { name: 'Answer needed' });
    // The seconds until then as fast as the page draws them, and not one more.
    clearInterval(walking);
    for (
      let waited = 0;
      waited < 30 && !standing().some(({ detail }) => detail === 'answerAsked');
      waited += 1
    ) {
      seconds(1, 97);
      await drawn(page);
    }
    walk();
    await asked.waitFor();
    await keepScreenshot(page, 'alarm-answer-needed');
    expect(await page.getByText(/emergency number|airway/).count()).toBe(0);
    await alarms(page).getByRole('button', { name: 'They answer' }).click();
    await asked.waitFor({ state: 'detached' });
    expect(served.hub.snapshotOf('mira')?.marks.map(({ kind }) => kind)).toContain('answered');
  });
});

describe('seen by everyone', () => {
  const sizes = {
    phone: { width: 390, height: 844 },
    side: { width: 844, height: 390 },
    tablet: { width: 820, height: 1180 },
    desktop: { width: 1440, height: 900 },
  };
  test.each(Object.entries(sizes))(
    'on a %s the reading stands whole beside the alarm',
    async (name, size) => {
      fallBelowFloor();
      walk();
      const page = await open('/live/mira', size);
      await alarms(page).getByRole('heading').first().waitFor();
      const digits = page.locator('.reading--spo2 .reading-digits');
      await digits.filter({ hasText: '84' }).waitFor();
      const isWhole = await page.evaluate<boolean>(`(() => {
      const element = document.querySelector('.reading--spo2 .reading-digits');
      const { left, right, top, bottom, width, height } = element.getBoundingClientRect();
      const shows = (x, y) => element.contains(document.elementFromPoint(x, y));
      return bottom <= innerHeight && shows(left + width / 4, top + height / 2) &&
        shows(right - width / 4, top + height / 2) && shows(left + width / 2, bottom - height / 8);
    })()`);
      expect(isWhole).toBe(true);
      await keepScreenshot(page, `alarm-live-${name}`);
    },
  );

  test.each(['light', 'dark'] as const)(
    'in %s it passes axe, and does not flash where motion is reduced',
    async (colorScheme) => {
      fallBelowFloor();
      walk();
      const page = await open('/recordings', sizes.desktop, { colorScheme, reducedMotion: 'reduce' });
      await alarms(page).getByRole('heading').first().waitFor();
      expect(await axeViolations(page)).toEqual([]);
      // Asked again: an entry that is drawn anew in between is out of the document and has no style at all.
      const animation = () =>
        page
          .locator('.alarm .beacon')
          .first()
          .evaluate((element) => getComputedStyle(element).animationName);
      await expect.poll(animation).toBe('none');
    },
  );

  test('in forced colours the high alarm keeps its own fill, band, shape and words', async () => {
    fallBelowFloor();
    walk();
    const page = await open('/recordings', sizes.desktop, { forcedColors: 'active' });
    const high = page.locator('.alarm--high').first();
    await high.waitFor();
    const drawn = await high.evaluate((element) => {
      const { forcedColorAdjust, backgroundColor, color, borderImageSource } = getComputedStyle(element);
      return { forcedColorAdjust, backgroundColor, color, band: borderImageSource };
    });
    expect(drawn).toMatchObject({
      forcedColorAdjust: 'none',
      backgroundColor: 'rgb(168, 0, 22)',
      color: 'rgb(255, 255, 255)',
    });
    expect(drawn.band).toMatch(/^repeating-linear-gradient/);
    expect(await axeViolations(page)).toEqual([]);
    expect(await high.getByRole('img', { name: 'High' }).count()).toBe(1);
    await keepScreenshot(page, 'alarm-forced-colours');
  });
});
