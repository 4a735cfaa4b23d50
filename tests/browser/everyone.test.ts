// The four main journeys by keyboard alone, each control found by the role and name that the accessibility tree gives it;
// and alarms as Chromium shows them to people who see two colours only.

import type { Browser, CDPSession, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage, type WidthName } from '../support/chromium-page.ts';
import { type Rgb, rgbOf, seenBy } from '../support/colour-vision.ts';
import { openPageHub, type PageHub, type PageHubOptions, restingBody } from '../support/page-hub.ts';
import { writeSession } from '../support/written-sessions.ts';

let browser: Browser;
let hub: PageHub;
let page: Page;
let faults: string[];
let tree: CDPSession;

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
afterEach(async () => {
  for (const context of browser.contexts()) await context.close();
  await hub.close();
});

async function open(
  path: string,
  options: PageHubOptions,
  width: WidthName = 'phone',
  theme: 'light' | 'dark' = 'light',
): Promise<void> {
  hub = await openPageHub(options);
  const opened = await openPage(browser, hub.url + path, { width, theme });
  ({ page, faults } = opened);
  tree = await opened.context.newCDPSession(page);
  await page.locator('.link-state--live').waitFor({ state: 'attached' });
}

/** Role and name of what has the focus, as assistive programs are told. */
async function focused(): Promise<string> {
  const { result } = await tree.send('Runtime.evaluate', { expression: 'document.activeElement' });
  if (result.objectId === undefined) return '';
  const { nodes } = await tree.send('Accessibility.getPartialAXTree', {
    objectId: result.objectId,
    fetchRelatives: false,
  });
  return `${nodes[0]?.role?.value ?? ''} ${nodes[0]?.name?.value ?? ''}`;
}

/** Goes on by Tab to the control whose role and name fit, as somebody does who hears them. */
async function tabTo(control: RegExp): Promise<void> {
  const passed: string[] = [];
  for (let presses = 0; presses < 160; presses += 1) {
    const here = await focused();
    if (control.test(here)) return;
    passed.push(here);
    await page.keyboard.press('Tab');
  }
  throw new Error(`no way by Tab to ${control}; passed: ${[...new Set(passed)].join(' | ')}`);
}

async function press(control: RegExp, key = 'Enter'): Promise<void> {
  await tabTo(control);
  await page.keyboard.press(key);
}

describe('by keyboard and accessibility tree alone', () => {
  test('at home alone: sensor, sound, cautions, start, mark a hold, end', async () => {
    await open('/', { athleteCount: 1, sessionRunning: false });
    hub.hub.assignSensor('oximeter-1', null);
    // Until the page has heard of it, the name that is to be typed stands there already.
    await expect
      .poll(() => page.getByRole('combobox', { name: /^Finger clip 1 is worn by/i }).inputValue())
      .toBe('');
    await tabTo(/^combobox Finger clip 1 is worn by/i);
    await page.keyboard.type('Marit');
    await expect
      .poll(() => hub.hub.sensors.find(({ sensorId }) => sensorId === 'oximeter-1')?.athleteId)
      .toBe('athlete-1');
    await press(/^button Play the alarm/);
    await press(/^button I heard it/);
    await press(/^checkbox I have read these/, ' ');
    await press(/^button Start session/);
    await page.waitForURL('**/live/athlete-1');
    const phase = () => hub.hub.snapshotOf('athlete-1')?.phase;
    await press(/^button Hold starts/);
    await expect.poll(phase).toBe('holding');
    await tabTo(/^button Hold ends/);
    // A second press within a third of a second is a shaking hand's, not another mark.
    await expect
      .poll(async () => {
        if (phase() === 'holding') await page.keyboard.press('Enter');
        return phase();
      })
      .not.toBe('holding');
    await press(/^button Options/);
    await press(/^button End session/);
    await press(/^button End it/);
    await expect.poll(() => hub.hub.session).toBeNull();
    expect(await axeViolations(page)).toEqual([]);
    expect(faults).toEqual([]);
  });

  test('a coach: wall, alarm, acknowledge, athlete', async () => {
    await open('/wall', { athleteCount: 3, bodyOf: () => restingBody }, 'desktop', 'dark');
    hub.live(1, { spo2Percent: 85, heartRateBpm: 55 });
    hub.pass(5);
    await page
      .getByRole('heading', { name: /Below the floor/ })
      .first()
      .waitFor();
    const standing = () =>
      hub.hub
        .snapshotOf('athlete-2')!
        .alarms.filter(({ priority, acknowledged }) => priority === 'high' && !acknowledged).length;
    await tabTo(/^button Acknowledge ?, .*Below the floor/);
    // A press in an alarm's first moments is not meant for it.
    await expect
      .poll(async () => {
        await page.keyboard.press('Enter');
        return standing();
      })
      .toBe(0);
    await press(/^button Open Teo Lindqvist in full/);
    await page.waitForURL('**/live/athlete-2');
    expect(await axeViolations(page)).toEqual([]);
    expect(faults).toEqual([]);
  });

  test('looking back: open a recording, correct a hold, save the table', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      sessionId: 'evening',
      athleteId: 'athlete-1',
      athleteName: 'Marit Oduya',
      startedWallAtMs: Date.UTC(2026, 4, 3, 19, 12),
      title: 'Dry session',
      holdsS: [90],
    });
    await open('/recordings', { athleteCount: 1, sessionRunning: false, store }, 'desktop');
    await page.getByText('Dry session').first().waitFor();
    await press(/^link .*Dry session/);
    await page.locator('canvas').first().waitFor();
    await press(/^button Correct holds and marks/);
    await tabTo(/^slider End of hold 1/);
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('Enter');
    await page.getByText('1 correction in force').waitFor();
    await press(/^button (Done|Stop correcting|Finish)/i);
    await press(/^\w+ Files/);
    await tabTo(/^(link|button) Download CSV/);
    const download = page.waitForEvent('download');
    await page.keyboard.press('Enter');
    expect((await download).suggestedFilename()).toMatch(/\.csv$/);
    expect(await axeViolations(page)).toEqual([]);
    expect(faults).toEqual([]);
  });

  test('a plan: choose, look ahead, run, end', async () => {
    await open('/plans', { athleteCount: 1, bodyOf: () => restingBody }, 'tablet', 'dark');
    await press(/^link Starts on an interval/);
    await page.getByRole('img', { name: /Saturation expected over the plan/ }).waitFor();
    const choice = page.getByRole('checkbox', { name: 'Understood; start with this' });
    if (await choice.isVisible()) await press(/^checkbox Understood; start with this/, ' ');
    await press(/^button Start the plan/);
    await page.waitForURL('**/plan-run');
    await press(/^button Plan$/);
    await press(/^button End the plan/);
    await page.getByRole('link', { name: 'Planned beside actual' }).first().waitFor();
    expect(await axeViolations(page)).toEqual([]);
    expect(faults).toEqual([]);
  });
});

describe('alarms to people who see two colours', () => {
  /** The colour of the page at a point, as it comes out of the browser. */
  async function colourAt(x: number, y: number): Promise<Rgb> {
    const png = await page.screenshot({ clip: { x, y, width: 1, height: 1 } });
    return page.evaluate(async (base64) => {
      const image = new Image();
      image.src = `data:image/png;base64,${base64}`;
      await image.decode();
      const canvas = document.createElement('canvas');
      const context = canvas.getContext('2d')!;
      context.drawImage(image, 0, 0);
      return [...context.getImageData(0, 0, 1, 1).data].slice(0, 3) as unknown as Rgb;
    }, png.toString('base64'));
  }

  test.each([
    ['light', '#c4001a'],
    ['dark', '#ff5c4d'],
  ] as const)('in %s the browser shows the red as the model says', async (theme, red) => {
    await open('/recordings', { athleteCount: 1, bodyOf: () => restingBody }, 'desktop', theme);
    hub.live(0, { spo2Percent: 85, heartRateBpm: 55 });
    hub.pass(5);
    const high = page.locator('.alarm--high').first();
    await high.waitFor();
    // Where its corner is now: one more alarm moves it.
    const cornerColour = async () => {
      const box = (await high.boundingBox())!;
      return colourAt(box.x + box.width - 4, box.y + box.height - 4);
    };
    await expect.poll(cornerColour).toEqual(rgbOf(red));
    for (const vision of ['deuteranopia', 'protanopia', 'tritanopia'] as const) {
      await tree.send('Emulation.setEmulatedVisionDeficiency', { type: vision });
      const shown = await cornerColour();
      const expected = seenBy(rgbOf(red), vision);
      for (const [index, value] of shown.entries())
        expect(Math.abs(value - expected[index]!), `${vision} ${shown} ${expected}`).toBeLessThanOrEqual(4);
      await keepScreenshot(page, `alarm-${theme}-${vision}`);
    }
  });
});
