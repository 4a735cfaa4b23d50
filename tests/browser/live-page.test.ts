// The athlete's live page in a real browser: numbers and their truth, alarms seen and heard, marks, a silent hub.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { type UpMessage, upMessageSchema } from '../../shared/messages/up.ts';
import { axeViolations } from '../support/axe-check.ts';
import {
  keepScreenshot,
  launchChromium,
  momentOfPageAlarm,
  openPage,
  pressUntilGone,
  sharedNowMs,
} from '../support/chromium-page.ts';
import { type FaultProxy, openFaultProxy } from '../support/fault-proxy.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { openPageHub, type PageHub, type PageHubOptions, silentBody } from '../support/page-hub.ts';

let browser: Browser;
let hub: PageHub;
let path: FaultProxy;
let context: BrowserContext;
let folder = '';
beforeAll(async () => {
  browser = await launchChromium();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-live-'));
});
afterAll(async () => {
  await browser.close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});
afterEach(close);

async function close(): Promise<void> {
  await context.close();
  await path.close();
  await hub.close();
}

async function open(options: Partial<PageHubOptions> = {}, prepare?: (made: PageHub) => void): Promise<Page> {
  hub = await openPageHub({ athleteCount: 1, behindSeconds: 30, ...options });
  prepare?.(hub);
  path = await openFaultProxy(hub.url);
  const opened = await openPage(browser, 'about:blank');
  context = opened.context;
  await makeOwnBrowser(context, path.url);
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
  await opened.page.goto(`${path.url}/live/athlete-1`);
  await opened.page.getByRole('heading', { name: 'Marit Oduya' }).waitFor();
  return opened.page;
}

const pulses = (page: Page) => page.evaluate(() => (globalThis as unknown as { pulses: number }).pulses);

/** What the page has sent, each within the contract. */
function asked<Type extends UpMessage['type']>(type: Type) {
  return path.asked
    .map((text) => upMessageSchema.parse(JSON.parse(text)))
    .filter((message): message is Extract<UpMessage, { type: Type }> => message.type === type);
}

/** Waits for it; polls, since a frame passing by has no event here. */
async function sent<Type extends UpMessage['type']>(type: Type, count = 1) {
  await expect.poll(() => asked(type).length).toBeGreaterThanOrEqual(count);
  return asked(type);
}

/** What the hub holds of the athlete now. */
const standing = () => hub.hub.snapshotOf('athlete-1')!;
const markKinds = () => standing().marks.map(({ kind }) => kind);

/** Readings below the floor for longer than the alarm waits for. */
function fallBelowFloor(made: PageHub): void {
  made.live(0, { spo2Percent: 86, heartRateBpm: 55 });
  made.pass(4);
}

async function passSoundCheck(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Play the alarm' }).click();
  await page.getByRole('button', { name: 'I heard it' }).click();
}

describe('numbers', () => {
  test('saturation, heart rate, margin and phase come on the screen', async () => {
    const page = await open();
    hub.live(0, { spo2Percent: 94, heartRateBpm: 61, holding: true });
    await page.locator('.reading--spo2 .reading-digits', { hasText: /^94$/ }).waitFor();
    await page.locator('.reading--heartRate .reading-digits', { hasText: /^61$/ }).waitFor();
    await page.getByText('+6 above floor 88').waitFor();
    await page.getByText('Holding', { exact: true }).waitFor();
  });

  test('a reading that gets no younger becomes stale, then is taken away', async () => {
    const page = await open();
    hub.live(0, { spo2Percent: 94, heartRateBpm: 61 });
    hub.live(0, silentBody);
    await page.locator('.reading--spo2 .reading-digits', { hasText: /^94$/ }).waitFor();
    await page.locator('.reading--spo2.is-fresh').waitFor();
    await page.locator('.reading--spo2.is-stale').waitFor();
    await page.getByText(/STALE/).first().waitFor();
    await page.getByText('floor 88\u202f%, margin unknown').waitFor();
    // By shape as well: the digits are hollow.
    const fill = await page
      .locator('.reading--spo2 .reading-digits')
      .evaluate((element) => getComputedStyle(element).color);
    expect(fill).toBe('rgba(0, 0, 0, 0)');
    hub.pass(7);
    await page.getByText(/NO READING · last 94/).waitFor();
    expect(await page.locator('.reading--spo2 .reading-digits').textContent()).not.toContain('94');
  });

  test('doubt is worded with its reason', async () => {
    const page = await open();
    hub.live(0, { spo2Percent: 93, heartRateBpm: 61, lowPerfusion: true, skinContact: false });
    await page.getByText(/uncertain: weak pulse at the sensor/).waitFor();
    await page.getByText(/not trusted: no contact/).waitFor();
    await page.getByText('(61)').waitFor();
  });

  test('a message outside the contract is counted and said', async () => {
    const page = await open();
    path.inject(JSON.stringify({ type: 'latest', athleteId: 'athlete-1' }));
    await page.getByText(/1 message from the hub could not be understood.*latest/).waitFor();
  });

  test('SIMULATED stands across the page when the hub says so, and not otherwise', async () => {
    let page = await open({ simulated: true });
    await page.locator('.simulated-band').getByText('SIMULATED').first().waitFor();
    await close();
    page = await open();
    expect(await page.getByText('SIMULATED').count()).toBe(0);
  });
});

describe('alarms', () => {
  test('banner with instruction, bursts while it sounds, acknowledged by a tap', async () => {
    const page = await open();
    await passSoundCheck(page);
    await expect.poll(() => asked('pageState').some(({ soundReady }) => soundReady)).toBe(true);
    const afterCheck = await pulses(page);
    expect(afterCheck).toBe(10);
    fallBelowFloor(hub);
    await page.getByRole('alert').getByText('Breathe now.').waitFor();
    await expect.poll(() => pulses(page)).toBeGreaterThanOrEqual(afterCheck + 10);
    const colour = await page
      .locator('.alarm--high')
      .evaluate((element) => getComputedStyle(element).backgroundColor);
    // The fill of a high alarm on a dark ground (styles/tokens.css, tests/web/alarm-colours.test.ts).
    expect(colour).toBe('rgb(255, 92, 77)');
    await keepScreenshot(page, 'journey-floor-alarm');
    await pressUntilGone(page.getByRole('button', { name: 'Acknowledge' }));
    expect(standing().alarms).toMatchObject([{ kind: 'floorBreached', acknowledged: true }]);
    await page.getByText('Acknowledged').waitFor();
  });

  test('sound is paused for a while and can be had back', async () => {
    const page = await open({}, fallBelowFloor);
    await page.getByRole('button', { name: 'Pause sound' }).click();
    await page.getByText(/Sound paused, \d+/).waitFor();
    expect(standing().sound.audioPausedUntilMs).toBeGreaterThan(hub.hub.sessionNowMs!);
    await page.getByRole('button', { name: /Sound on again/ }).click();
    await expect.poll(() => standing().sound.audioPausedUntilMs).toBeNull();
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
    const seenAtMs = await momentOfPageAlarm(page);
    const silentFrom = sharedNowMs();
    path.mute = true;
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    const afterMs = (await seenAtMs()) - silentFrom;
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

    path.mute = false;
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor({ state: 'detached' });
    const hellos = await sent('hello', 2);
    expect(hellos.at(-1)!.resume).toMatchObject({ sessionId: hub.hub.session!.sessionId });
    await expect.poll(markKinds).toEqual(['holdStart']);
    await page.getByText(/waiting for the hub/).waitFor({ state: 'detached' });
    await page.locator('.reading--spo2.is-fresh').waitFor();
    expect(await page.getByText(/Trace has a hole/).count()).toBe(0);
  });

  test('a hub out of reach and back with the session is found again', async () => {
    const page = await open();
    path.refusing = true;
    path.drop();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    path.refusing = false;
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor({ state: 'detached' });
    await page.locator('.reading--spo2.is-fresh').waitFor();
  });

  test('what comes late on the way is shown as old as it is, and is no silence', async () => {
    const page = await open();
    const age = page.locator('.reading--spo2').getByText(/s old/);
    await page.locator('.reading--spo2.is-fresh').waitFor();
    await expect.poll(() => age.textContent()).toContain('0\u202fs old');
    path.delayMs = 1_500;
    // With a reading a second the oldest fresh one is a second old, without the delay.
    await expect.poll(() => age.textContent(), { interval: 50 }).toContain('2\u202fs old');
    expect(await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).count()).toBe(0);
  });

  test('a hub whose machine died mid-session says so when it is back and has another version, and the recording is there', async () => {
    const store = openSqliteStore({ directory: folder });
    const page = await open({ store });
    await page.locator('.reading--spo2.is-fresh').waitFor();
    path.refusing = true;
    path.drop();
    await hub.crash();
    store.close();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    hub = await openPageHub({
      athleteCount: 1,
      sessionRunning: false,
      store: openSqliteStore({ directory: folder }),
      hubVersion: 'another',
    });
    path.leadTo(hub.url);
    path.refusing = false;
    await page.getByRole('heading', { name: /^Monitoring stopped at/ }).waitFor();
    await page.getByText(/Nobody has watched Marit Oduya since. The hub ended without warning/).waitFor();
    await page.getByText(/another version than before/).waitFor();
    await page.getByRole('link', { name: 'Open the recording' }).click();
    await page.getByText(/^Interrupted: the hub stopped/).waitFor();
  });

  test('a hub whose machine died mid-session goes on with it when it is back', async () => {
    const store = openSqliteStore({ directory: `${folder}/goes-on` });
    const page = await open({ store });
    await page.locator('.reading--spo2.is-fresh').waitFor();
    path.refusing = true;
    path.drop();
    await hub.crash();
    store.close();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor();
    hub = await openPageHub({
      athleteCount: 1,
      sessionRunning: false,
      store: openSqliteStore({ directory: `${folder}/goes-on` }),
    });
    path.leadTo(hub.url);
    path.refusing = false;
    await page.getByText(/^Watched again since .*, after a gap of/).waitFor();
    await page.getByRole('heading', { name: 'HUB NOT ANSWERING' }).waitFor({ state: 'detached' });
    await page.locator('.reading--spo2.is-fresh').waitFor();
    await pressUntilGone(page.getByRole('button', { name: 'Acknowledge' }));
  });

  test('a hub started anew in another folder knows of no session: the page alarms by itself until somebody has seen it', async () => {
    const page = await open();
    await page.locator('.reading--spo2.is-fresh').waitFor();
    path.refusing = true;
    path.drop();
    await hub.crash();
    hub = await openPageHub({ athleteCount: 1, sessionRunning: false });
    path.leadTo(hub.url);
    path.refusing = false;
    await page.getByRole('heading', { name: /^Monitoring stopped at/ }).waitFor();
    await page.getByText(/Marit Oduya.*The hub no longer runs the session/).waitFor();
    await pressUntilGone(page.getByRole('button', { name: 'Acknowledge' }));
    await page.getByRole('heading', { name: /^Monitoring stopped at/ }).waitFor({ state: 'detached' });
  });
});

describe('marks', () => {
  test('by tap: start, contraction, end, and the last one undone', async () => {
    const page = await open();
    await page.getByRole('button', { name: 'Hold starts' }).click();
    const startedAtMs = performance.now();
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    await page.getByRole('button', { name: 'Contraction' }).click();
    await page.getByRole('button', { name: /Undo contraction/ }).click();
    await expect.poll(markKinds).toEqual(['holdStart']);
    await page.getByRole('button', { name: /Undo hold start/ }).waitFor();
    // A second press within 350 ms is taken for the same press of a shaking hand.
    await expect.poll(() => performance.now() - startedAtMs).toBeGreaterThan(400);
    await page.getByRole('button', { name: 'Hold ends' }).click();
    await expect.poll(markKinds).toEqual(['holdStart', 'holdEnd']);
    const [start, end] = standing().marks;
    for (const { atMs } of [start!, end!]) expect(hub.hub.sessionNowMs! - atMs).toBeLessThan(20_000);
    expect(start!.atMs).toBeLessThan(end!.atMs);
    expect(standing().holds.map(({ hold }) => [hold.start.atMs, hold.end?.atMs])).toEqual([
      [start!.atMs, end!.atMs],
    ]);
  });

  test('how full the lungs will be: one tap before a hold, and what it means beforehand is said', async () => {
    const page = await open();
    const emptied = page.getByRole('button', { name: 'Emptied', exact: true });
    await emptied.click();
    await expect.poll(markKinds).toEqual(['lungsEmptied']);
    await page.getByText(/On emptied lungs .* too late\. Hold no longer than 0:\d\d/).waitFor();
    await expect.poll(() => emptied.getAttribute('aria-pressed')).toBe('true');
    expect((await emptied.boundingBox())!.height).toBeGreaterThanOrEqual(44);
    await keepScreenshot(page, 'live-lungs-said');
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole('button', { name: /^Undo lungs emptied/ }).click();
    await expect.poll(() => emptied.getAttribute('aria-pressed')).toBe('false');
  });

  const probableEnd = () => standing().holds.at(-1)?.hold.probableEnd;

  /** Saturation goes down by 6 points, slowly, and back again from second 155 on: nobody marks the end. */
  const openProbablyOver = async () => {
    const page = await open({
      behindSeconds: 180,
      bodyOf: () => (second) => {
        const fallen = Math.min(6, Math.max(0, (second - 70) / 13));
        const back = Math.min(fallen, Math.max(0, (second - 155) / 3));
        const wobble = Math.sin(second * 1.7);
        return {
          holding: second >= 60,
          spo2Percent: Math.round(98 - fallen + back + 0.3 * wobble),
          heartRateBpm: Math.round(62 + 3 * wobble),
        };
      },
    });
    for (let second = 0; probableEnd() === undefined && second < 60; second++) hub.pass(1);
    return page;
  };

  test('a marked hold that saturation shows to be over: probably over, and one tap ends it then', async () => {
    const page = await openProbablyOver();
    const endMs = probableEnd()!.atMs;
    const bar = page.getByRole('region', { name: 'Probably over' });
    await bar.getByText(/This hold probably ended after \d:\d\d, \d:\d\d ago\./).waitFor();
    await bar.getByText(/Without an answer it counts as over in 0:\d\d/).waitFor();
    await page.getByText(/^probably over · /).waitFor();
    const accept = bar.getByRole('button', { name: 'It ended then' });
    expect((await accept.boundingBox())!.height).toBeGreaterThanOrEqual(44);
    await accept.scrollIntoViewIfNeeded();
    await keepScreenshot(page, 'live-probably-over');
    expect(await axeViolations(page)).toEqual([]);
    await accept.click();
    await expect.poll(() => standing().holds.at(-1)?.hold.end?.atMs).toBe(endMs);
    expect(standing().holds.at(-1)?.hold.end?.source).toBe('mark');
    await bar.waitFor({ state: 'detached' });
  });

  test('asked whether it has ended: still holding, by one tap or H, and the hold goes on', async () => {
    const page = await openProbablyOver();
    const bar = page.getByRole('region', { name: 'Probably over' });
    const still = bar.getByRole('button', { name: 'Still holding' });
    expect((await still.boundingBox())!.height).toBeGreaterThanOrEqual(44);
    await still.click();
    await expect.poll(markKinds).toContain('stillHolding');
    await bar.waitFor({ state: 'detached' });
    expect(probableEnd()).toBeUndefined();
    expect(standing().holds.at(-1)?.hold.end).toBeUndefined();
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    // Nothing is asked now: the key says nothing.
    await page.keyboard.press('h');
    await page.keyboard.press('c');
    await expect.poll(markKinds).toContain('contraction');
    expect(markKinds().filter((kind) => kind === 'stillHolding')).toHaveLength(1);
  });

  test('by H, when it is asked', async () => {
    const page = await openProbablyOver();
    const bar = page.getByRole('region', { name: 'Probably over' });
    await bar.waitFor();
    await page.keyboard.press('h');
    await expect.poll(markKinds).toContain('stillHolding');
    await bar.waitFor({ state: 'detached' });
  });

  test('by key, unless keys are turned off', async () => {
    const page = await open();
    await page.keyboard.press('Space');
    await page.keyboard.press('c');
    await expect.poll(markKinds).toEqual(['holdStart', 'contraction']);
    await page.getByRole('button', { name: 'Options' }).click();
    await page.getByLabel('Shortcut keys on').uncheck();
    await page.getByRole('button', { name: 'Close' }).click();
    await page.keyboard.press('c');
    await page.getByRole('button', { name: 'Contraction', exact: true }).click();
    await expect.poll(markKinds).toEqual(['holdStart', 'contraction', 'contraction']);
  });

  test('the big controls work by keyboard alone, once a press', async () => {
    const page = await open();
    await page.getByRole('button', { name: 'Hold starts' }).focus();
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    await expect.poll(markKinds).toEqual(['holdStart']);
    expect(asked('addMark')).toHaveLength(1);
  });

  test('an onlooker sees everything and is offered nothing to change', async () => {
    hub = await openPageHub({ athleteCount: 1, behindSeconds: 30, lanIn: folder });
    fallBelowFloor(hub);
    path = await openFaultProxy(hub.url);
    const cookie = await hub.joinedCookie('onlooker', null, 'Bystander');
    context = await browser.newContext({ ignoreHTTPSErrors: true, locale: 'en-GB' });
    await context.addCookies([{ ...cookie, url: hub.lanUrl }]);
    const page = await context.newPage();
    await page.goto(`${hub.lanUrl}/live/athlete-1`);
    await page.locator('.alarm').getByText('Breathe now.').waitFor();
    expect(await page.getByRole('button', { name: /Hold|Contraction|Acknowledge|Pause sound/ }).count()).toBe(
      0,
    );
    await page.keyboard.press('c');
    await page.keyboard.press('a');
    // The page says its state every second: what it had sent before has come.
    await expect.poll(() => page.locator('.link-state--live').count()).toBe(1);
    hub.pass(1);
    expect(markKinds()).toEqual([]);
    expect(standing().alarms.map(({ acknowledged }) => acknowledged)).toEqual([false]);
  });
});

test('the floor can be changed, and ending the session asks first', async () => {
  const page = await open();
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'Floor and limits' }).click();
  await page.getByRole('button', { name: 'Raise the floor by one percent' }).click();
  await page.getByRole('button', { name: 'Save' }).click();
  await expect.poll(() => hub.hub.athletes[0]!.settings.floorSpo2Percent).toBe(89);
  await page
    .getByText(/floor 89/)
    .first()
    .waitFor();
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'End session' }).click();
  await page.getByRole('button', { name: 'Cancel' }).click();
  expect(asked('endSession')).toEqual([]);
  expect(hub.hub.session).not.toBeNull();
  await page.getByRole('button', { name: 'Options' }).click();
  await page.getByRole('button', { name: 'End session' }).click();
  await page.getByRole('button', { name: 'End it' }).click();
  await page.getByRole('link', { name: 'Open the recording' }).waitFor();
  expect(hub.hub.session).toBeNull();
});

describe('after a hold', () => {
  test('comfort is asked for once the hold is over, said with one tap, noted, or skipped', async () => {
    const page = await open();
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
    const feelings = () => standing().holds.map(({ feeling }) => feeling);
    await expect.poll(feelings).toEqual([{ comfort: 4, note: 'warm hands' }]);
    // The next hold asks again, and can be left unanswered.
    const press = async (times: number) => {
      // A press too soon after the last one is taken for a shaking hand.
      await expect
        .poll(async () => {
          await boundary.click();
          return standing().marks.length;
        })
        .toBe(times);
    };
    await press(3);
    await page.getByRole('button', { name: 'Hold ends' }).waitFor();
    await press(4);
    await page.getByRole('button', { name: 'Skip' }).click();
    await asked.waitFor({ state: 'detached' });
    expect(feelings()).toEqual([{ comfort: 4, note: 'warm hands' }, undefined]);
  });
});

test('once the session has ended its last figures are not shown as if they were of now', async () => {
  const page = await open();
  await page.locator('.reading--spo2.is-fresh').waitFor();
  await page.getByText('above floor').waitFor();
  await page.getByRole('heading', { name: 'Forecast' }).waitFor();
  hub.hub.endSession();
  await page.getByText('The session has ended.').waitFor();
  await page.locator('.reading--spo2.is-stale').waitFor();
  await page.locator('.reading--heartRate.is-stale').waitFor();
  expect(await page.locator('.live-phase').textContent()).toBe('No longer watched');
  expect(await page.getByText('above floor').count()).toBe(0);
  expect(await page.getByRole('heading', { name: 'Forecast' }).count()).toBe(0);
  expect(await axeViolations(page)).toEqual([]);
  await keepScreenshot(page, 'live-ended');
});
