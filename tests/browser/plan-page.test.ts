// A running plan as people meet it, against the real hub: one page with the live one, nothing below the fold; cues that go on
// when it is left; a plan that nobody watches says so and asks first; twelve, in waves.

import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage, widths } from '../support/chromium-page.ts';
import { openPageHub, type PageHub, type PageHubOptions } from '../support/page-hub.ts';
import { isWholeInWindow, smallTargets } from '../support/seen-on-screen.ts';

let browser: Browser;
let hub: PageHub;
let context: BrowserContext;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
afterEach(async () => {
  await context.close();
  await hub.close();
});

async function open(path: string, options: PageHubOptions): Promise<Page> {
  hub = await openPageHub({ simulated: true, ...options });
  const opened = await openPage(browser, hub.url + path, { theme: 'light' });
  context = opened.context;
  await opened.page.locator('.link-state--live').waitFor({ state: 'attached' });
  return opened.page;
}

/** Starts a plan as a page would; answers with what the hub said. */
const startPlan = (page: Page, offsetsMs: readonly number[], leadInSeconds: number): Promise<number> =>
  page.evaluate(
    async ({ plan, athletes }) => {
      const answer = await fetch('/api/plan-runs', {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body: JSON.stringify({
          plan,
          longestHoldMs: 90_000,
          options: {
            athletes,
            oneAtATime: false,
            assumeFromCues: false,
            acceptedWarnings: ['previewCrossesFloor'],
          },
        }),
      });
      return answer.status;
    },
    {
      plan: { ...makeIntervalSeries(3, 240), leadInSeconds },
      athletes: offsetsMs.map((offsetMs, index) => ({
        athleteId: hub.athletes[index]!.athleteId,
        offsetMs,
      })),
    },
  );

interface CurrentRun {
  readonly run: {
    readonly sessionId: string | null;
    readonly options: { readonly athletes: readonly { readonly offsetMs: number }[] };
  } | null;
}
const currentRun = (page: Page): Promise<CurrentRun> =>
  page.evaluate(async () => (await (await fetch('/api/plan-runs/current?since=0')).json()) as CurrentRun);

/** Moves the run on to a time of its own, and has pages told of it: by themselves they go by their own clock. */
async function passTo(page: Page, runSeconds: number): Promise<void> {
  const { nowMs } = await page.evaluate(
    async () => (await (await fetch('/api/plan-runs/current?since=0')).json()) as { readonly nowMs: number },
  );
  hub.pass(Math.max(0, Math.floor(runSeconds - nowMs / 1_000)));
  await tellPages(page);
}

const tellPages = (page: Page): Promise<unknown> =>
  page.evaluate(
    async (athleteId) =>
      (
        await fetch('/api/plan-runs/current/events', {
          method: 'POST',
          headers: { 'content-type': 'application/json' },
          body: JSON.stringify({ event: { type: 'ready', atMs: 0, athleteId } }),
        })
      ).status,
    hub.athletes[0]!.athleteId,
  );

/** Nothing of the view is scrolled to, and nothing is wider than the window. */
const hidden = (page: Page): Promise<readonly number[]> =>
  page.evaluate(() => {
    const main = document.querySelector('main')!;
    return [
      main.scrollHeight - main.clientHeight,
      document.documentElement.scrollHeight - innerHeight,
      document.documentElement.scrollWidth - innerWidth,
    ].map((px) => Math.max(0, px));
  });

/** A finger that lives: a reading that stands still is an alarm of its own. */
const living = (spo2Percent: number, holding: boolean) => (second: number) => ({
  spo2Percent: spo2Percent + (second % 2),
  heartRateBpm: 60 + (second % 5),
  holding,
});

describe('one athlete: the plan is on the live page', () => {
  test('clock, countdown, trace and alarm are in the window in every state and size', async () => {
    const page = await open('/plans', {
      athleteCount: 1,
      behindSeconds: 100,
      bodyOf: () => living(97, false),
    });
    expect(await startPlan(page, [0], 60)).toBe(201);
    await page.goto(`${hub.url}/plan-run`);
    const strip = page.locator('.plan-strip');
    const look = async (state: string, alsoSeen: readonly string[]) => {
      for (const [size, viewport] of Object.entries(widths)) {
        await page.setViewportSize(viewport);
        await expect.poll(() => hidden(page), { message: `${state} ${size}` }).toEqual([0, 0, 0]);
        for (const selector of [
          '.reading--spo2 .reading-digits',
          '.hold-time',
          '.plan-strip-phase',
          '.trace-row--spo2 .trace',
          ...alsoSeen,
        ])
          expect(await isWholeInWindow(page.locator(selector)), `${state} ${size} ${selector}`).toBe(true);
        const trace = (await page.locator('.trace-row--spo2').boundingBox())!;
        expect(trace.height, `${state} ${size}: trace`).toBeGreaterThanOrEqual(40);
        expect(await smallTargets(page), `${state} ${size}`).toEqual([]);
        await keepScreenshot(page, `plan-live-${state}-${size}`);
      }
      await page.setViewportSize(widths.phone);
      expect(await axeViolations(page), state).toEqual([]);
    };
    await strip.getByText('Calm breathing').waitFor();
    await look('waiting', ['.plan-strip-clock', '.zone--holdStart']);
    await passTo(page, 62);
    await strip.getByText('Start when you are ready').waitFor();
    hub.live(0, living(97, true));
    hub.pass(40);
    await strip.getByText('Breathe whenever you like').waitFor();
    await look('holding', ['.zone--holdEnd']);
    hub.live(0, living(95, false));
    hub.pass(3);
    await strip.getByText('Recovery').waitFor();
    await look('recovery', ['.plan-strip-clock', '.feeling-scale .button']);
    // Said once, to the recording and to the run.
    await page.getByRole('button', { name: '4 Comfortable' }).click();
    await expect.poll(() => hub.hub.snapshotOf('athlete-1')!.holds[0]?.feeling?.comfort).toBe(4);
    await page.locator('.plan-strip').getByRole('button', { name: 'Plan' }).click();
    await page.getByRole('dialog').getByText('done').first().waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.keyboard.press('Escape');
    hub.pass(100);
    hub.live(0, (second) => ({ ...living(84, true)(second), spo2Percent: 83 + (second % 2) }));
    hub.pass(6);
    await page.locator('.alarm--high').waitFor();
    await look('alarm', ['.alarm-acknowledge']);
    await page.getByText('Stop here for today.').waitFor();
  });

  test('the live page of somebody in a plan carries it; of somebody else not', async () => {
    const page = await open('/live/athlete-1', { athleteCount: 2, behindSeconds: 30 });
    await page.locator('.zone--holdStart').waitFor();
    expect(await page.locator('.plan-strip').count()).toBe(0);
    await startPlan(page, [0], 60);
    await page.locator('.plan-strip').waitFor();
    await page.goto(`${hub.url}/live/athlete-2`);
    await page.locator('.zone--holdStart').waitFor();
    expect(await page.locator('.plan-strip').count()).toBe(0);
    await page.getByRole('link', { name: 'Running plan' }).first().waitFor();
  });
});

describe('cues', () => {
  test('go on when the page of the plan is left, and after a reload; a page that never led stays quiet', async () => {
    const page = await open('/plans', { athleteCount: 1, behindSeconds: 10 });
    await page.addInitScript(() => {
      const counted = globalThis as unknown as { tones: number };
      counted.tones = 0;
      const start = OscillatorNode.prototype.start;
      OscillatorNode.prototype.start = function (when?: number) {
        counted.tones += 1;
        start.call(this, when);
      };
    });
    const tones = () => page.evaluate(() => (globalThis as unknown as { tones: number }).tones);
    await startPlan(page, [0], 120);
    await page.goto(`${hub.url}/plan-run`);
    await page.locator('.plan-strip').waitFor();
    await page.getByRole('button', { name: 'Menu' }).click();
    await page.getByRole('navigation').getByRole('link', { name: 'Recordings' }).click();
    await page.getByRole('heading', { name: 'Recordings' }).waitFor();
    const before = await tones();
    await passTo(page, 57);
    await page.locator('.plan-cue', { hasText: 'One minute to the next start' }).waitFor();
    await expect.poll(tones).toBeGreaterThan(before);
    await page.reload();
    await page.getByRole('heading', { name: 'Recordings' }).waitFor();
    await page.locator('.plan-cue').waitFor();
    // Any touch lets the browser sound again.
    await page.getByRole('heading', { name: 'Recordings' }).click();
    const afterReload = await tones();
    await passTo(page, 107);
    await expect.poll(tones).toBeGreaterThan(afterReload);
    const other = await context.newPage();
    await other.goto(`${hub.url}/recordings`);
    await other.locator('.link-state--live').waitFor({ state: 'attached' });
    expect(await other.locator('.plan-cue').count()).toBe(0);
  });
});

describe('a plan that nobody watches', () => {
  const choose = async (page: Page) => {
    await page.getByRole('button', { name: 'All 3' }).click();
    const choice = page.getByRole('checkbox', { name: 'Understood; start with this' });
    await page.getByRole('img', { name: /Saturation expected over the plan/ }).waitFor();
    if (await choice.isVisible()) await choice.check();
    await page.getByRole('button', { name: 'Start the plan' }).click();
    await page.getByRole('dialog', { name: 'Start without monitoring?' }).waitFor();
  };

  test('asks first; without: a band on every view, until monitoring is begun from it', async () => {
    const page = await open('/plans/new/interval', { athleteCount: 3, sessionRunning: false });
    await choose(page);
    const without = page.getByRole('button', { name: 'Start without monitoring' });
    expect(await without.isDisabled()).toBe(true);
    await page.getByText('I have read these').click();
    expect(await axeViolations(page)).toEqual([]);
    expect(await smallTargets(page)).toEqual([]);
    await keepScreenshot(page, 'plan-ask-monitoring');
    await without.click();
    await page.waitForURL('**/plan-run');
    const band = page.getByRole('complementary', { name: 'NOT MONITORED' });
    await band.waitFor();
    for (const [size, viewport] of Object.entries(widths)) {
      await page.setViewportSize(viewport);
      await expect.poll(() => hidden(page), { message: size }).toEqual([0, 0, 0]);
      expect(await isWholeInWindow(band)).toBe(true);
      for (let index = 0; index < 3; index += 1)
        expect(await isWholeInWindow(page.locator('.far-tile').nth(index)), `${size} ${index}`).toBe(true);
      expect(await page.locator('.far-unwatched').count()).toBe(3);
      expect(await smallTargets(page), size).toEqual([]);
      await keepScreenshot(page, `plan-not-monitored-${size}`);
    }
    await page.setViewportSize(widths.phone);
    expect(await axeViolations(page)).toEqual([]);
    // What an athlete's page would offer is behind their tile.
    await page.getByRole('button', { name: 'Open Teo Lindqvist in full' }).click();
    await page.getByRole('dialog').getByRole('button', { name: 'I have begun' }).click();
    await page.keyboard.press('Escape');
    await page.locator('.far-tile.athlete-run--holding').waitFor();
    for (const path of ['recordings', 'plans', '']) {
      await page.goto(`${hub.url}/${path}`);
      await band.waitFor();
    }
    await band.getByRole('button', { name: 'Start monitoring' }).click();
    await band.waitFor({ state: 'detached' });
    expect(hub.hub.session?.athleteIds).toEqual(hub.athletes.map(({ athleteId }) => athleteId));
    await expect.poll(async () => (await currentRun(page)).run?.sessionId).toBe(hub.hub.session?.sessionId);
  });

  test('with: a session of everybody begins, then the plan', async () => {
    const page = await open('/plans/new/interval', { athleteCount: 3, sessionRunning: false });
    await choose(page);
    await page.getByText('I have read these').click();
    await page.getByRole('button', { name: 'Start with monitoring' }).click();
    await page.waitForURL('**/plan-run');
    await page.locator('.far-tile .reading-digits').nth(2).waitFor();
    expect(hub.hub.session?.athleteIds).toHaveLength(3);
    expect(await page.getByText('NOT MONITORED').count()).toBe(0);
    hub.hub.endSession();
    await page.getByRole('complementary', { name: 'NOT MONITORED' }).waitFor();
  });
});

test('a page opened after a plan’s end names everyone in it, watched or not', async () => {
  const page = await open('/plans', { athleteCount: 2, behindSeconds: 30 });
  expect(await startPlan(page, [0, 45_000], 60)).toBe(201);
  const status = await page.evaluate(async () => {
    const answer = await fetch('/api/plan-runs/current/events', {
      method: 'POST',
      headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ event: { type: 'end', atMs: 0, athleteId: null } }),
    });
    return answer.status;
  });
  expect(status).toBeLessThan(300);
  const names = hub.athletes.map(({ name }) => name);
  const shown = () => page.locator('.far-tile .called-name').allTextContents();
  await page.goto(`${hub.url}/plan-run`);
  await expect.poll(shown).toEqual(names);
  hub.hub.endSession();
  await page.goto(`${hub.url}/plan-run`);
  await expect.poll(shown).toEqual(names);
});

describe('twelve', () => {
  test('all of them, in waves that are shown before and while it runs; everyone whole in the window', async () => {
    const page = await open('/plans/new/interval', { athleteCount: 12, behindSeconds: 30 });
    await page.setViewportSize(widths.desktop);
    const people = page.getByRole('checkbox', { name: /^[A-Z]\S+ \S+$/ });
    await expect.poll(() => people.count()).toBe(12);
    for (const box of await people.all()) expect(await box.isChecked()).toBe(true);
    await page.getByRole('radio', { name: 'In waves: one group after the other' }).check();
    await page.getByRole('slider', { name: 'How many waves' }).fill('3');
    await page.getByRole('radio', { name: 'By time' }).check();
    await page.getByRole('slider', { name: 'Apart', exact: true }).fill('90');
    await page.getByText('first start at 5:00').waitFor();
    await page.getByRole('combobox', { name: 'Wave of Oskar Vale' }).selectOption('Wave 1');
    expect(await smallTargets(page)).toEqual([]);
    expect(await axeViolations(page)).toEqual([]);
    await keepScreenshot(page, 'plan-waves-chosen', { fullPage: true });
    const choice = page.getByRole('checkbox', { name: 'Understood; start with this' });
    await page.getByRole('img', { name: /Saturation expected over the plan/ }).waitFor();
    if (await choice.isVisible()) await choice.check();
    await page.getByRole('button', { name: 'Start the plan' }).click();
    await page.waitForURL('**/plan-run');
    const { run } = await currentRun(page);
    const offsets = run!.options.athletes.map(({ offsetMs }) => offsetMs / 1_000);
    expect(offsets).toEqual([0, 0, 0, 0, 90, 90, 90, 90, 180, 180, 180, 0]);
    await page.getByText('Waves of 5 + 4 + 3').waitFor();
    for (const [size, viewport] of Object.entries({ ...widths, fourK: { width: 3840, height: 2160 } })) {
      await page.setViewportSize(viewport);
      await expect.poll(() => hidden(page), { message: size }).toEqual([0, 0, 0]);
      for (let index = 0; index < 12; index += 1)
        expect(await isWholeInWindow(page.locator('.far-tile').nth(index)), `${size} ${index}`).toBe(true);
      expect(await page.locator('.far-wave').filter({ visible: true }).count()).toBe(12);
      await keepScreenshot(page, `plan-twelve-${size}`);
    }
    await page.setViewportSize(widths.phone);
    expect(await axeViolations(page)).toEqual([]);
  });
});
