// Whole journeys with the real program in a real browser: at home alone, a coach with eight, a hub that dies mid-hold,
// a network that goes and one that is slow.

import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { RecordingBody, SessionsBody, TraceBody } from '../../shared/http.ts';
import { protocolVersion } from '../../shared/protocol-version.ts';
import { axeViolations } from '../support/axe-check.ts';
import {
  keepScreenshot,
  launchChromium,
  momentOfPageAlarm,
  openPage,
  sharedNowMs,
  widths,
} from '../support/chromium-page.ts';
import { type HubProcess, startHub } from '../support/hub-process.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { openSlowProxy, type SlowProxy } from '../support/slow-proxy.ts';
import { hello, openTestPage } from '../support/test-page.ts';

let browser: Browser;
let folder = '';
const hubs: HubProcess[] = [];
const proxies: SlowProxy[] = [];
beforeAll(async () => {
  browser = await launchChromium();
  folder = mkdtempSync(join(tmpdir(), 'slackwater-journeys-'));
});
afterAll(async () => {
  await browser.close();
  rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
});
afterEach(async () => {
  for (const context of browser.contexts()) await context.close();
  for (const proxy of proxies.splice(0)) await proxy.close();
  for (const hub of hubs.splice(0)) await hub.stop();
});

let dataNumber = 0;
async function demo(...args: string[]): Promise<HubProcess> {
  dataNumber += 1;
  const hub = await startHub(['demo', '--port', '0', '--data', join(folder, String(dataNumber)), ...args]);
  hubs.push(hub);
  return hub;
}

const freePort = () =>
  new Promise<number>((resolve) => {
    const probe = createServer();
    probe.listen(0, '127.0.0.1', () => {
      const { port } = probe.address() as { port: number };
      probe.close(() => resolve(port));
    });
  });

async function startFromPage(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'Play the alarm' }).click();
  await page.getByRole('button', { name: 'I heard it' }).click();
  await page.getByText('I have read these').click();
  await page.getByRole('button', { name: 'Start session' }).click();
}

async function read<Body>(url: string, path: string): Promise<Body> {
  return (await (await fetchAsOwn(`${url}api/${path}`)).json()) as Body;
}
async function onlyRecording(url: string): Promise<RecordingBody> {
  const { sessions } = await read<SessionsBody>(url, 'sessions');
  expect(sessions).toHaveLength(1);
  return read(url, `sessions/${sessions[0]!.session.sessionId}`);
}

const silent = (page: Page) => page.getByText('HUB NOT ANSWERING', { exact: true }).first();

describe('at home alone', () => {
  test('from the first page to the recording: no coach, no account, comfort said with one tap', async () => {
    const hub = await demo('--speed', '3');
    const { page, faults } = await openPage(browser, hub.url, { isKept: true });
    await startFromPage(page);
    await page.waitForURL('**/live/**');
    await page.getByText('Holding', { exact: true }).first().waitFor();
    await page.getByRole('button', { name: '4 Comfortable' }).click();
    await page.getByText('Noted: comfortable').waitFor();
    // Nothing went wrong that a person has to be told of: whatever the hub keeps of a hold, it could.
    expect(await page.locator('.notice').allTextContents()).toEqual([]);
    await page.getByRole('button', { name: 'Options' }).click();
    await page.getByRole('button', { name: 'End session' }).click();
    await page.getByRole('button', { name: 'End it' }).click();
    await page.getByRole('link', { name: 'Open the recording' }).click();
    await page.getByText('Felt: comfortable').waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await keepScreenshot(page, 'journey-home-recording-phone');
    // What sticks out to the right of the window, outermost first; what scrolls inside its own box does not.
    const wide = await page.evaluate(() =>
      document.documentElement.scrollWidth <= document.documentElement.clientWidth
        ? []
        : [...document.querySelectorAll('main *')]
            .filter((element) => element.getBoundingClientRect().right > innerWidth + 1)
            .map((element) => `${element.tagName} ${element.className}`)
            .slice(0, 12),
    );
    expect(wide).toEqual([]);
    const recording = await onlyRecording(hub.url);
    expect(recording.athletes[0]!.holds[0]!.hold.feeling).toEqual({ comfort: 4, note: null });
    expect(faults).toEqual([]);
  });
});

describe('a coach with eight', () => {
  test('two in alarm keep their places; an onlooker marks nothing; a phone that sleeps is seen on the wall', async () => {
    const hub = await demo(
      ...['--athletes', '8', '--speed', '16'],
      ...['--lan', '--lan-host', '127.0.0.1', '--lan-port', '0'],
    );
    const { page, faults } = await openPage(browser, hub.url, {
      width: 'tablet',
      theme: 'light',
      isKept: true,
    });
    const { athletes } = await read<{ athletes: { athleteId: string; name: string }[] }>(hub.url, 'athletes');
    // The first falls below the floor by the scenario; the other's floor is set high.
    const alarmed = [athletes[0]!, athletes[3]!];
    const floor = page.getByRole('group', { name: `Floor for ${alarmed[1]!.name}` });
    for (let step = 88; step < 95; step += 1)
      await floor.getByRole('button', { name: 'Raise the floor' }).click();
    await startFromPage(page);
    await page.waitForURL('**/wall');
    const watcher = openTestPage(hub.url.slice(0, -1));
    watcher.send(hello);
    for (const { name } of alarmed)
      await page
        .getByRole('article', { name })
        .locator('.tile-alarm')
        .filter({ hasText: 'Below the floor' })
        .waitFor();
    // Everybody keeps their place.
    expect(await page.locator('.tile-name').allTextContents()).toEqual(athletes.map(({ name }) => name));
    await keepScreenshot(page, 'journey-wall-two-alarms-tablet');
    const [first] = alarmed;
    const heardBefore = watcher.received.length;
    // Acknowledged while it lasts, or gone where its condition had passed before; a new one may sound again at once.
    const isQuiet = () =>
      watcher.received
        .slice(heardBefore)
        .some(
          (message) =>
            message.type === 'alarms' &&
            message.athleteId === first!.athleteId &&
            message.alarms.every(({ kind, acknowledged }) => kind !== 'floorBreached' || acknowledged),
        );
    const press = page.getByRole('button', { name: `Acknowledge alarms of ${first!.name}` });
    await press.click();
    // Pressed again where a press came in the alarm's first moments, which is not meant for it.
    await expect
      .poll(async () => {
        if (!isQuiet()) await press.click({ timeout: 1_000 }).catch(() => undefined);
        return isQuiet();
      })
      .toBe(true);
    expect(await axeViolations(page)).toEqual([]);

    // An onlooker and an athlete's phone, each in a browser of its own.
    const lan = (await read<{ lan: { addresses: string[] } }>(hub.url, 'devices')).lan;
    const lanUrl = lan.addresses.find((address) => address.includes('127.0.0.1'))!;
    const joined = async (role: string, athleteId: string | null, name: string) => {
      const { code } = (await (
        await fetchAsOwn(`${hub.url}api/join-codes`, {
          method: 'POST',
          headers: { 'content-type': 'application/json' },
          body: JSON.stringify({ role, athleteId }),
        })
      ).json()) as { code: string };
      const context = await browser.newContext({ viewport: widths.phone, ignoreHTTPSErrors: true });
      const device = await context.newPage();
      await device.goto(new URL(`/join#${code}`, lanUrl).href);
      await device.getByLabel('Name of this device').fill(name);
      await device.getByRole('button', { name: 'Join', exact: true }).click();
      await device.locator('.link-state--live').waitFor({ state: 'attached' });
      return device;
    };
    const onlooker = await joined('onlooker', null, 'Visitor');
    const answer = await onlooker.evaluate(
      ({ version, athleteId }) =>
        new Promise<unknown>((resolve) => {
          const socket = new WebSocket(`wss://${location.host}/ws`);
          socket.onopen = () =>
            socket.send(JSON.stringify({ type: 'hello', protocolVersion: version, resume: null }));
          socket.onmessage = ({ data }) => {
            const message = JSON.parse(data) as { type: string; code?: string };
            if (message.type === 'welcome')
              socket.send(
                JSON.stringify({
                  type: 'addMark',
                  requestId: 'x',
                  athleteId,
                  kind: 'holdStart',
                  atMs: null,
                  text: null,
                }),
              );
            if (message.type === 'refused') resolve(message.code);
          };
        }),
      { version: protocolVersion, athleteId: athletes[0]!.athleteId },
    );
    expect(answer).toBe('notAllowed');
    expect(watcher.received.filter(({ type }) => type === 'marked')).toEqual([]);

    const phone = await joined('athlete', athletes[2]!.athleteId, 'Mat 3 phone');
    await phone.evaluate(() => {
      Object.defineProperty(document, 'visibilityState', { value: 'hidden', configurable: true });
      document.dispatchEvent(new Event('visibilitychange'));
    });
    const tile = page.getByRole('article', { name: athletes[2]!.name });
    await tile.getByText('Mat 3 phone: page in the background').waitFor();
    await phone.context().close();
    await tile.getByText('Mat 3 phone: no page open').waitFor();
    watcher.close();
    expect(faults).toEqual([]);
  });
});

describe('a coach with three on a plan', () => {
  test('an alarm of all stands in the frame, not on each card; every control is large enough', async () => {
    const hub = await demo('--athletes', '3', '--speed', '8');
    const { page, faults } = await openPage(browser, hub.url, {
      width: 'tablet',
      theme: 'light',
      isKept: true,
    });
    await page.getByText('Start without sound on this device').click();
    await page.getByText('I have read these').click();
    await page.getByRole('button', { name: 'Start session' }).click();
    await page.waitForURL('**/wall');
    await page.getByRole('link', { name: 'Run a plan' }).click();
    await page.getByRole('link', { name: 'Starts on an interval' }).click();
    const choice = page.getByRole('checkbox', { name: 'Understood; start with this' });
    await page.getByRole('img', { name: /Saturation expected over the plan/ }).waitFor();
    if (await choice.isVisible()) await choice.check();
    await page.getByRole('button', { name: 'Start the plan' }).click();
    // Nobody hears an alarm here, which is an alarm of every athlete.
    await page.getByRole('region', { name: 'Alarms' }).getByText('Alarms may go unheard').first().waitFor();
    await page.locator('.athlete-run').nth(2).waitFor();
    expect(await page.locator('.athlete-run .alarm').count()).toBe(0);
    const athleteRuns = await page.locator('.athlete-run').evaluateAll((elements) =>
      elements.map((athleteRun) => {
        const { right } = athleteRun.getBoundingClientRect();
        const inside = [...athleteRun.querySelectorAll('*')];
        return {
          // The rest of a long name is cut with its box.
          sticksOut: inside.filter(
            (element) =>
              element.closest('.called-name, .far-words') === null &&
              element.getBoundingClientRect().right > right + 1,
          ).length,
          small: inside
            .filter((element) => element.matches('a, button, summary'))
            .map((element) => element.getBoundingClientRect())
            .filter(({ width, height }) => width > 0 && (width < 43.5 || height < 43.5)).length,
        };
      }),
    );
    expect(athleteRuns).toEqual(Array.from({ length: 3 }, () => ({ sticksOut: 0, small: 0 })));
    await keepScreenshot(page, 'journey-plan-three-athletes-tablet');
    expect(await axeViolations(page)).toEqual([]);
    expect(faults).toEqual([]);
  });
});

describe('when things break', () => {
  test('the hub is killed in a hold and started again: the page alarms, heals, and nothing is missing', async () => {
    const args = ['demo', '--port', String(await freePort()), '--data', join(folder, 'killed')];
    const first = await startHub(args);
    const watcher = openTestPage(first.url.slice(0, -1));
    watcher.send(hello);
    const { page } = await openPage(browser, first.url, { isKept: true });
    await startFromPage(page);
    await page.waitForURL('**/live/**');
    await page.locator('.zone--holdStart').click();
    await watcher.until('hold', (message) => message.hold?.start.source === 'mark');
    const markedAtMs = (await watcher.until('marked')).mark.atMs;
    // A few readings of the hold, so that there is something to lose.
    await watcher.until('trace', (message) => message.toMs > markedAtMs + 4_000);
    const seenAtMs = await momentOfPageAlarm(page);
    await first.kill();
    const killedAtMs = sharedNowMs();
    await silent(page).waitFor();
    // 2 s of silence by the rule, and what a loaded machine needs to draw it.
    expect((await seenAtMs()) - killedAtMs).toBeLessThan(4_000);
    await keepScreenshot(page, 'hub-not-answering-phone');
    const seen = watcher.received.flatMap((message) =>
      message.type === 'trace'
        ? message.traces
            .filter(({ channel }) => channel === 'spo2Percent')
            .flatMap(({ atMs, value }) => atMs.map((at, index) => `${at} ${value[index]}`))
        : [],
    );
    expect(seen.length).toBeGreaterThan(3);

    const second = await startHub(args);
    hubs.push(second);
    await page.getByText('interrupted', { exact: false }).first().waitFor();
    await silent(page).waitFor({ state: 'detached' });
    const recording = await onlyRecording(second.url);
    expect(recording.session.status).toBe('interrupted');
    const { athlete, marks, holds } = recording.athletes[0]!;
    expect(marks.map(({ kind, atMs }) => [kind, atMs])).toEqual([['holdStart', markedAtMs]]);
    expect(holds.at(-1)!.hold).toMatchObject({ start: { atMs: markedAtMs, source: 'mark' }, end: null });
    const trace = await read<TraceBody>(
      second.url,
      `sessions/${recording.session.sessionId}/athletes/${athlete.athleteId}/trace?fromMs=0&toMs=${recording.durationMs}&points=5000`,
    );
    const kept = new Set(
      trace.traces
        .filter(({ channel }) => channel === 'spo2Percent')
        .flatMap(({ atMs, value }) => atMs.map((at, index) => `${at} ${value[index]}`)),
    );
    // Every reading that any page was ever shown is in the recording.
    expect(seen.filter((sample) => !kept.has(sample))).toEqual([]);
    watcher.close();
  });

  test('the network goes and comes back: the page alarms, then has what it missed', async () => {
    const hub = await demo('--speed', '2');
    const proxy = await openSlowProxy(hub.url);
    proxies.push(proxy);
    const { page } = await openPage(browser, proxy.url, { isKept: true });
    await startFromPage(page);
    await page.waitForURL('**/live/**');
    await page.locator('.reading--spo2.is-fresh').waitFor();
    const seenAtMs = await momentOfPageAlarm(page);
    proxy.cut();
    const cutAtMs = sharedNowMs();
    await silent(page).waitFor();
    expect((await seenAtMs()) - cutAtMs).toBeLessThan(4_500);
    await page.locator('.reading--spo2.is-stale, .reading--spo2.is-lost').waitFor();
    // A press during the outage is kept, said to wait, and delivered at its own time.
    await page.locator('.zone--holdStart').click();
    await page.getByText(/waiting for the hub/).waitFor();
    proxy.mend();
    await silent(page).waitFor({ state: 'detached' });
    await page.getByText(/Undo hold start/).waitFor();
    await page.locator('.reading--spo2.is-fresh').waitFor();
    expect(await page.getByText(/Trace has a hole/).count()).toBe(0);
    await page.getByRole('button', { name: 'Options' }).click();
    await page.getByRole('button', { name: 'End session' }).click();
    await page.getByRole('button', { name: 'End it' }).click();
    await page.getByText('The session has ended.').first().waitFor();
    const { marks } = (await onlyRecording(hub.url)).athletes[0]!;
    expect(marks.map(({ kind }) => kind)).toEqual(['holdStart']);
  });

  test('a slow link: the page opens, keeps up, and shows the alarm', async () => {
    const hub = await demo('--athletes', '4', '--speed', '16');
    // A crowded 2G cell.
    const proxy = await openSlowProxy(hub.url, { delayMs: 250, bytesPerSecond: 32_000 });
    proxies.push(proxy);
    const coach = await openPage(browser, hub.url, { width: 'tablet', isKept: true });
    await startFromPage(coach.page);
    await coach.page.waitForURL('**/wall');
    const { page } = await openPage(browser, `${proxy.url}live/simulated-1`, { isKept: true });
    await page.locator('.link-state--live').waitFor({ state: 'attached' });
    await page.getByRole('alert').filter({ hasText: 'Below the floor' }).first().waitFor();
    expect(await silent(page).count()).toBe(0);
  });
});
