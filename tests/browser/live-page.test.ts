// The athlete's live page in a real browser: numbers and their truth, alarms seen and heard, marks, a silent hub.

import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { UpMessage } from '../../shared/messages/up.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage, pressUntilGone } from '../support/chromium-page.ts';
import { FakeHub, type FakeHubOptions } from '../support/fake-hub.ts';

let browser: Browser;
let hub: FakeHub;
let context: BrowserContext;
beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(async () => {
  await browser.close();
});
afterEach(async () => {
  await context.close();
  await hub.stop();
});

async function open(options: Partial<FakeHubOptions> = {}, prepare?: (made: FakeHub) => void): Promise<Page> {
  hub = new FakeHub({ athleteCount: 1, behindSeconds: 30, ...options });
  prepare?.(hub);
  await hub.start();
  const opened = await openPage(browser, 'about:blank');
  context = opened.context;
  // Counts pulses as the browser schedules them; the page itself has no hook for tests.
  await opened.page.addInitScript(() => {
    const counted = globalThis as unknown as { pulses: number };
    counted.pulses = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (when?: number) {
      counted.pulses += 1;
      start.call(this, when);
    };
  });
  await opened.page.goto(`${hub.url}/live/athlete-1`);
  await opened.page.getByRole('heading', { name: 'Marit Oduya' }).waitFor();
  return opened.page;
}

const pulses = (page: Page) => page.evaluate(() => (globalThis as unknown as { pulses: number }).pulses);

/** Waits for what the page has sent; polls, since a socket has no event here. */
async function sent<Type extends UpMessage['type']>(type: Type, count = 1) {
  const found = () =>
    hub.received.filter((message): message is Extract<UpMessage, { type: Type }> => message.type === type);
  await expect.poll(() => found().length, { timeout: 5_000 }).toBeGreaterThanOrEqual(count);
  return found();
}

async function passSoundCheck(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Play the alarm' }).click();
  await page.getByRole('button', { name: 'I heard it' }).click();
}

describe('numbers', () => {
  test('saturation, heart rate, margin and phase come on the screen', async () => {
    const page = await open({ still: true });
    hub.sendReading(0, hub.readout(94), hub.readout(61), 'holding');
    await page.locator('.reading--spo2 .reading-digits', { hasText: /^94$/ }).waitFor();
    await page.locator('.reading--heartRate .reading-digits', { hasText: /^61$/ }).waitFor();
    await page.getByText('+6 above floor 88').waitFor();
    await page.getByText('Holding', { exact: true }).waitFor();
  });

  test('a reading that gets no younger becomes stale, then is taken away', async () => {
    const page = await open({ still: true });
    hub.sendReading(0, hub.readout(94, 2_500), hub.readout(61));
    await page.locator('.reading--spo2.is-fresh').waitFor();
    await page.locator('.reading--spo2.is-stale').waitFor();
    await page.getByText(/STALE/).first().waitFor();
    await page.getByText('floor 88\u202f%, margin unknown').waitFor();
    // By shape as well: the digits are hollow.
    const fill = await page
      .locator('.reading--spo2 .reading-digits')
      .evaluate((element) => getComputedStyle(element).color);
    expect(fill).toBe('rgba(0, 0, 0, 0)');
    hub.sendReading(0, hub.readout(94, 11_000), hub.readout(61));
    await page.getByText(/NO READING · last 94/).waitFor();
    expect(await page.locator('.reading--spo2 .reading-digits').textContent()).not.toContain('94');
  });

  test('doubt is worded with its reason', async () => {
    const page = await open({ still: true });
    hub.sendReading(
      0,
      hub.readout(93, 0, 'suspect', ['lowPerfusion']),
      hub.readout(61, 0, 'bad', ['noContact']),
    );
    await page.getByText(/uncertain: weak pulse at the sensor/).waitFor();
    await page.getByText(/not trusted: no contact/).waitFor();
    await page.getByText('(61)').waitFor();
  });

  test('a message outside the contract is counted and said', async () => {
    const page = await open({ still: true });
    hub.broadcast({ type: 'latest', athleteId: 'athlete-1' });
    await page.getByText(/1 message from the hub could not be understood.*latest/).waitFor();
  });

  test('SIMULATED stands across the page when the hub says so, and not otherwise', async () => {
    let page = await open({ simulated: true });
    await page.locator('.simulated-band').getByText('SIMULATED').first().waitFor();
    await context.close();
    await hub.stop();
    page = await open();
    expect(await page.getByText('SIMULATED').count()).toBe(0);
  });
});

describe('alarms', () => {
  test('banner with instruction, bursts while it sounds, acknowledged by a tap', async () => {
    const page = await open();
    await passSoundCheck(page);
    expect((await sent('pageState')).length).toBeGreaterThan(0);
    await expect
      .poll(() => hub.received.some((message) => message.type === 'pageState' && message.soundReady))
      .toBe(true);
    const afterCheck = await pulses(page);
    expect(afterCheck).toBe(10);
    hub.raiseAlarm(0);
    await page.getByRole('alert').getByText('Breathe now.').waitFor();
    await expect.poll(() => pulses(page)).toBeGreaterThanOrEqual(afterCheck + 10);
    const colour = await page
      .locator('.alarm--high')
      .evaluate((element) => getComputedStyle(element).backgroundColor);
    expect(colour).toBe('rgb(196, 0, 26)');
    await keepScreenshot(page, 'journey-floor-alarm');
    await pressUntilGone(page.getByRole('button', { name: 'Acknowledge' }));
    expect((await sent('acknowledgeAlarms'))[0]!.athleteId).toBe('athlete-1');
    await page.getByText('Acknowledged').waitFor();
  });

  test('sound is paused for a while and can be had back', async () => {
    const page = await open({}, (made) => made.raiseAlarm(0));
    await page.getByRole('button', { name: 'Pause sound' }).click();
    await page.getByText(/Sound paused, \d+/).waitFor();
    await page.getByRole('button', { name: /Sound on again/ }).click();
    const asked = await sent('pauseAudio', 2);
    expect(asked.map((message) => message.paused)).toEqual([true, false]);
  });

  test('the page says that it cannot be heard until the sound check is passed', async () => {
    const page = await open();
    await page.getByText('Sound not checked here').waitFor();
    await passSoundCheck(page);
    await page.getByText('Sound not checked here').waitFor({ state: 'detached' });
  });
});

describe('a hub that falls silent', () => {
  test('the page alarms by itself within 2 to 3 seconds, with sound, then heals with nothing missing', async () => {
    const page = await open();
    await passSoundCheck(page);
    await page.locator('.reading--spo2.is-fresh').waitFor();
    const before = await pulses(page);
    const silentFrom = performance.now();
    hub.mute = true;
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    const afterMs = performance.now() - silentFrom;
    // The last heartbeat may be half a second old, and the watchdog looks five times a second.
    expect(afterMs).toBeGreaterThan(1_400);
    expect(afterMs).toBeLessThan(3_000);
    await expect.poll(() => pulses(page)).toBeGreaterThanOrEqual(before + 10);
    await page.locator('.reading--spo2.is-stale').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await keepScreenshot(page, 'journey-hub-silent');
    // A mark made meanwhile keeps its own time.
    await page.getByRole('button', { name: 'Hold starts' }).click();
    await page.getByText(/hold start, .*waiting for the hub/).waitFor();

    hub.mute = false;
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor({ state: 'detached' });
    const hellos = await sent('hello', 2);
    expect(hellos.at(-1)!.resume).toMatchObject({ sessionId: hub.session!.sessionId });
    await expect.poll(() => hub.marks.map((mark) => mark.kind)).toEqual(['holdStart']);
    await page.getByText(/waiting for the hub/).waitFor({ state: 'detached' });
    await page.locator('.reading--spo2.is-fresh').waitFor();
    expect(await page.getByText(/Trace has a hole/).count()).toBe(0);
  });

  test('a hub that is gone and back with the session is found again', async () => {
    const page = await open();
    await hub.stop();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    await hub.start();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor({ state: 'detached' });
  });

  test('a hub that is back without the session: the page alarms by itself until somebody has seen it', async () => {
    const page = await open();
    await hub.stop();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    hub.session = null;
    await hub.start();
    await page.getByRole('heading', { name: /^Monitoring stopped at/ }).waitFor();
    await page.getByText(/The hub no longer runs the session/).waitFor();
    await page.getByRole('link', { name: 'Open the recording' }).waitFor();
  });
});

describe('marks', () => {
  test('by tap: start, contraction, end, and the last one undone', async () => {
    const page = await open({ still: true });
    await page.getByRole('button', { name: 'Hold starts' }).click();
    const startedAtMs = performance.now();
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    await page.getByRole('button', { name: 'Contraction' }).click();
    await page.getByRole('button', { name: /Undo contraction/ }).click();
    expect((await sent('removeMark'))[0]!.markId).toBe('mark-2');
    await page.getByRole('button', { name: /Undo hold start/ }).waitFor();
    // A second press within 350 ms is taken for the same press of a shaking hand.
    await expect.poll(() => performance.now() - startedAtMs).toBeGreaterThan(400);
    await page.getByRole('button', { name: 'Hold ends' }).click();
    const marks = await sent('addMark', 3);
    expect(marks.map((mark) => mark.kind)).toEqual(['holdStart', 'contraction', 'holdEnd']);
    for (const mark of marks) expect(Math.abs(mark.atMs! - hub.nowMs())).toBeLessThan(20_000);
    expect(marks[0]!.atMs!).toBeLessThan(marks[2]!.atMs!);
  });

  test('how full the lungs will be: one tap before a hold, and what it means beforehand is said', async () => {
    const page = await open();
    const emptied = page.getByRole('button', { name: 'Emptied', exact: true });
    await emptied.click();
    const [mark] = await sent('addMark');
    expect(mark).toMatchObject({ kind: 'lungsEmptied', athleteId: 'athlete-1' });
    await page.getByText(/On emptied lungs .* too late\. Hold no longer than 0:\d\d/).waitFor();
    await expect.poll(() => emptied.getAttribute('aria-pressed')).toBe('true');
    expect((await emptied.boundingBox())!.height).toBeGreaterThanOrEqual(44);
    await keepScreenshot(page, 'live-lungs-said');
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole('button', { name: /^Undo lungs emptied/ }).click();
    await expect.poll(() => emptied.getAttribute('aria-pressed')).toBe('false');
  });

  test('by key, unless keys are turned off', async () => {
    const page = await open({ still: true });
    await page.keyboard.press('Space');
    await page.keyboard.press('c');
    const marks = await sent('addMark', 2);
    expect(marks.map((mark) => mark.kind)).toEqual(['holdStart', 'contraction']);
    await page.getByRole('button', { name: 'Options' }).click();
    await page.getByLabel('Shortcut keys on').uncheck();
    await page.getByRole('button', { name: 'Close' }).click();
    await page.keyboard.press('c');
    await page.getByRole('button', { name: 'Contraction', exact: true }).click();
    await sent('addMark', 3);
    expect(hub.received.filter((message) => message.type === 'addMark')).toHaveLength(3);
  });

  test('the big controls work by keyboard alone, once a press', async () => {
    const page = await open({ still: true });
    await page.getByRole('button', { name: 'Hold starts' }).focus();
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    expect(await sent('addMark')).toHaveLength(1);
  });

  test('an onlooker sees everything and is offered nothing to change', async () => {
    const page = await open({}, (made) => {
      made.role = 'onlooker';
      made.raiseAlarm(0);
    });
    await page.locator('.alarm').getByText('Breathe now.').waitFor();
    expect(await page.getByRole('button', { name: /Hold|Contraction|Acknowledge|Pause sound/ }).count()).toBe(
      0,
    );
    await page.keyboard.press('c');
    await sent('pageState', 2);
    expect(hub.received.some((message) => message.type === 'addMark')).toBe(false);
  });
});

test('the floor can be changed, and ending the session asks first', async () => {
  const page = await open();
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'Floor and limits' }).click();
  await page.getByRole('button', { name: 'Raise the floor by one percent' }).click();
  await page.getByRole('button', { name: 'Save' }).click();
  expect((await sent('changeSettings'))[0]!.settings.floorSpo2Percent).toBe(89);
  await page
    .getByText(/floor 89/)
    .first()
    .waitFor();
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'End session' }).click();
  await page.getByRole('button', { name: 'Cancel' }).click();
  expect(hub.received.some((message) => message.type === 'endSession')).toBe(false);
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'End session' }).click();
  await page.getByRole('button', { name: 'End it' }).click();
  await sent('endSession');
  await page.getByRole('link', { name: 'Open the recording' }).waitFor();
});

describe('after a hold', () => {
  test('comfort is asked for once the hold is over, said with one tap, noted, or skipped', async () => {
    const page = await open({ still: true });
    const boundary = page.locator('.zone--boundary');
    const asked = page.getByRole('group', { name: /How was that hold/ });
    await boundary.click();
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    expect(await asked.count()).toBe(0);
    // A second press soon after the first is taken for a shaking hand's: press until the zone has taken it.
    await expect
      .poll(async () => {
        await boundary.click();
        return boundary.textContent();
      })
      .toBe('Hold starts');
    await asked.waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole('button', { name: '4 Comfortable' }).click();
    await page.getByText('Noted: comfortable').waitFor();
    await page.getByRole('button', { name: 'Add a note' }).click();
    await page.getByRole('textbox').fill('warm hands');
    await page.getByRole('button', { name: 'Save note' }).click();
    const said = await sent('rateHold', 2);
    expect(said.map(({ feeling }) => feeling)).toEqual([
      { comfort: 4, note: null },
      { comfort: 4, note: 'warm hands' },
    ]);
    // The next hold asks again, and can be left unanswered.
    const press = async (times: number) => {
      // A press too soon after the last one is taken for a shaking hand.
      await expect
        .poll(async () => {
          await boundary.click();
          return hub.received.filter(({ type }) => type === 'addMark').length;
        })
        .toBe(times);
    };
    await press(3);
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    await press(4);
    await page.getByRole('button', { name: 'Skip' }).click();
    await asked.waitFor({ state: 'detached' });
    expect(await sent('rateHold')).toHaveLength(2);
  });
});
