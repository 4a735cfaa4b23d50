// A plan from nothing to its review on a phone: built in under ten actions, previewed, run at sixty times real time
// with a simulated athlete through its holds and one abort, and read beside what was planned.

import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { Clock } from '../../hub/base/ports/clock.ts';
import { systemClock } from '../../hub/base/system-clock.ts';
import { Hub } from '../../hub/live/hub.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { noFaults } from '../../hub/sensors/simulated/faults.ts';
import { type ScenarioAthlete, scenarioAthletes } from '../../hub/sensors/simulated/scenario.ts';
import { SimulatedSource } from '../../hub/sensors/simulated/simulated-source.ts';
import { type HttpServer, startHttpServer } from '../../hub/server/http-server.ts';
import { processMs, wallMs } from '../../shared/units.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { axeViolations } from '../support/axe-check.ts';
import { keepScreenshot, launchChromium, openPage } from '../support/chromium-page.ts';
import { inlineReview } from '../support/inline-review.ts';
import { joiningOfTests, ownCookie, rememberOwnCookie } from '../support/own-person.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
const speed = 60;

/** Real time until told to hurry, so that a slow start of the page costs the plan no minutes. */
function hurryingClock(): Clock & { hurry(): void } {
  let scale = 1;
  let sinceRealMs = systemClock.nowMs() as number;
  let sinceMs = sinceRealMs;
  const wallStartMs = systemClock.wallNowMs();
  const startMs = sinceMs;
  const nowMs = () => sinceMs + (systemClock.nowMs() - sinceRealMs) * scale;
  return {
    nowMs: () => processMs(nowMs()),
    wallNowMs: () => wallMs(wallStartMs + nowMs() - startMs),
    every: (intervalMs, callback) => systemClock.every(Math.max(1, intervalMs / speed), callback),
    after: (delayMs, callback) => systemClock.after(delayMs / scale, callback),
    soon: (callback) => systemClock.soon(callback),
    hurry() {
      sinceMs = nowMs();
      sinceRealMs = systemClock.nowMs();
      scale = speed;
    },
  };
}

/** Two holds with full lungs, one after breathing out that goes through the floor. */
const athlete: ScenarioAthlete = {
  ...scenarioAthletes(1, 7)[0]!,
  script: [
    { kind: 'rest', durationMs: 60_000 },
    { kind: 'prepare', durationMs: 62_000 },
    { kind: 'hold', durationMs: 70_000 },
    { kind: 'recover', durationMs: 60_000 },
    { kind: 'prepare', durationMs: 50_000 },
    { kind: 'hold', durationMs: 70_000 },
    { kind: 'recover', durationMs: 60_000 },
    { kind: 'prepare', durationMs: 50_000 },
    { kind: 'hold', durationMs: 170_000, lungs: 'relaxed', endAtReadingPercent: 85 },
    { kind: 'recover', durationMs: 600_000 },
  ],
  faults: noFaults,
  linkLossesPerHour: 0,
};

let browser: Browser;
let hub: Hub;
let server: HttpServer;
let clock: ReturnType<typeof hurryingClock>;
let page: Page;
let faults: string[];
let close: () => Promise<void>;

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
beforeEach(async () => {
  clock = hurryingClock();
  const store = openStoreInMemory();
  store.saveAthlete({
    athleteId: athlete.athleteId,
    name: athlete.name,
    simulated: true,
    settings: initialSettings,
  });
  for (const sensorId of [athlete.strapSensorId, athlete.oximeterSensorId])
    store.assignSensor(sensorId, athlete.athleteId);
  const log = {
    info: () => undefined,
    warn: () => undefined,
    error: (...parts: unknown[]) => console.error(...parts),
  };
  let nextId = 0;
  const makeId = () => {
    nextId += 1;
    return `id-${nextId}`;
  };
  hub = new Hub({
    clock,
    pageClock: systemClock,
    store,
    sources: [new SimulatedSource({ clock, athletes: [athlete] })],
    createPipeline: pipelineFactory(),
    log,
    makeId,
    timeScale: speed,
    simulated: true,
  });
  server = await startHttpServer(
    {
      hub,
      store,
      recordings: new RecordedSessions(store, inlineReview),
      clock: systemClock,
      log,
      hubVersion: 'test',
    },
    { host: '127.0.0.1', port: 0, webDirectory, makeId, joining: joiningOfTests(systemClock, makeId) },
  );
  rememberOwnCookie(`http://127.0.0.1:${server.port}`, ownCookie);
  await hub.start();
  const opened = await openPage(browser, `http://127.0.0.1:${server.port}/plans`, { width: 'phone' });
  ({ page, faults } = opened);
  close = () => opened.context.close();
});
afterEach(async () => {
  await close();
  await hub.stop();
  await server.close();
});

describe('a plan on a phone', () => {
  test('built, previewed, run with one abort, reviewed', async () => {
    let actions = 0;
    const act = async (action: Promise<unknown>) => {
      actions += 1;
      await action;
    };
    await act(page.getByRole('link', { name: 'Starts on an interval' }).click());
    await page.getByRole('img', { name: /Saturation expected over the plan/ }).waitFor();
    // 3 starts, one every 3:00.
    await act(page.getByRole('slider', { name: 'Starts' }).fill('3'));
    await act(page.getByRole('slider', { name: 'One every' }).fill('180'));
    await act(page.getByRole('slider', { name: 'Longest comfortable hold' }).fill('80'));
    await act(page.getByRole('button', { name: 'Save', exact: true }).click());
    await page.getByText('Saved.').waitFor();
    expect(await page.getByRole('row').count()).toBe(4);
    await page.getByRole('heading', { name: '3 starts, one every 3:00' }).waitFor();
    await keepScreenshot(page, 'plan-built-phone');
    expect(await axeViolations(page)).toEqual([]);
    const choice = page.getByRole('checkbox', { name: 'Understood; start with this' });
    if (await choice.isVisible()) await act(choice.check());
    const assume = page.getByRole('checkbox', { name: /let the clock say/ });
    if (await assume.isChecked()) await act(assume.uncheck());
    hub.startSession([athlete.athleteId], 'SIMULATED evening');
    await act(page.getByRole('button', { name: 'Start the plan' }).click());
    await page.waitForURL('**/plan-run');
    clock.hurry();
    expect(actions).toBeLessThan(10);

    await page.getByRole('heading', { name: athlete.name, exact: true }).first().waitFor();
    await page.locator('.athlete-run--holding').waitFor();
    await keepScreenshot(page, 'plan-run-holding-phone');
    await page.locator('.athlete-run--stopped').waitFor();
    await page.getByText('Stop here for today.').waitFor();
    await page.getByRole('region', { name: 'Alarms' }).getByRole('heading').first().waitFor();
    await keepScreenshot(page, 'plan-run-stopped-phone');
    expect(await axeViolations(page)).toEqual([]);
    await page.getByRole('button', { name: 'End now' }).click();
    await page.getByRole('link', { name: 'Planned beside actual' }).click();

    const rows = page.getByRole('row');
    await rows.nth(3).waitFor();
    const cells = await rows.evaluateAll((elements) =>
      elements.slice(1).map((element) => [...element.children].map((cell) => cell.textContent ?? '')),
    );
    await keepScreenshot(page, 'plan-run-review-phone');
    expect(await axeViolations(page)).toEqual([]);
    expect(cells.map((row) => row[0])).toEqual(['Hold 1', 'Hold 2', 'Hold 3']);
    expect(cells.map((row) => row[2])).toEqual(['2:00', '5:00', '8:00']);
    expect(cells[0]?.[1]).toMatch(/^done/);
    expect(cells[1]?.[1]).toMatch(/^done/);
    expect(cells[2]?.[1]).toMatch(/^called off/);
    // The simulated holds are 70 s long; the detector says within a few seconds.
    for (const row of cells.slice(0, 2)) {
      const [minutes, seconds] = (row[5] ?? '').split(':').map(Number);
      expect(Math.abs((minutes ?? 0) * 60 + (seconds ?? 0) - 70)).toBeLessThan(20);
    }
    expect(faults).toEqual([]);
  });

  test('library, a table in light, and a plan file that is wrong', async () => {
    await page.emulateMedia({ colorScheme: 'light' });
    await page.getByRole('link', { name: 'Carbon-dioxide table' }).waitFor();
    expect(await axeViolations(page)).toEqual([]);
    await page.getByLabel('Bring a plan file').setInputFiles({
      name: 'wrong.json',
      mimeType: 'application/json',
      buffer: Buffer.from(
        '{"format":"slackwater-plan","version":1,"title":"T","kind":"timedSwim","lengthSeconds":5}',
      ),
    });
    await page.getByText('wrong.json:1:88 lengthSeconds: must be at least 60').waitFor();
    await page.getByText('poolLengthMeters: is missing').waitFor();
    await page.getByRole('link', { name: 'Oxygen table' }).click();
    await page.getByRole('img', { name: /Saturation expected over the plan/ }).waitFor();
    await page.getByText(/Row by row \(4\)/).click();
    await page.getByRole('slider', { name: 'Hold 4, longest' }).fill('300');
    await page.getByRole('heading', { name: /growing up to 5:00/ }).waitFor();
    await page
      .getByText(/go below the floor of 88/)
      .first()
      .waitFor();
    await keepScreenshot(page, 'plan-table-light-phone');
    expect(await axeViolations(page)).toEqual([]);
    const scrolls = await page.evaluate(() => document.documentElement.scrollWidth > innerWidth);
    expect(scrolls).toBe(false);
    expect(faults).toEqual([]);
  });

  test('the training log wants a buddy in water, cautions a maximal walk alone, and gives advice with its source', async () => {
    await page.goto(page.url().replace('/plans', '/training'));
    await page.getByRole('button', { name: 'Save the entry' }).click();
    await page.getByRole('alert').getByText('Name your buddy').waitFor();
    await page.getByLabel('Buddy').fill('Ilvo');
    await page.getByLabel('Comfort').selectOption('1');
    await page.getByRole('button', { name: 'Save the entry' }).click();
    await page.getByText(/8 × 50/).waitFor();
    await page
      .getByText(/Source: common practice, no source/)
      .first()
      .waitFor();
    await page.getByRole('combobox', { name: 'What' }).selectOption('apneaWalk');
    await page.getByRole('checkbox', { name: 'To the end of comfort' }).check();
    await page.getByText(/A maximal walk alone/).waitFor();
    await keepScreenshot(page, 'training-phone');
    expect(await axeViolations(page)).toEqual([]);
    expect(faults).toEqual([]);
  });
});
