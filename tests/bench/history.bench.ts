// Looking back: a year of 150 sessions in the weeks view, weeks of 300 hours and 10,000 recordings (weeks.bench.ts), and a recorded hour with a 100 Hz wave from a click to its
// first trace and to its measures, and the frames of zooming and moving it.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import type { Page } from 'playwright-core';
import { systemClock } from '../../hub/base/system-clock.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { createReviewThread } from '../../hub/recordings/review/review-thread.ts';
import type { HistoryBody } from '../../shared/history.ts';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { testLog } from '../support/serve-test-hub.ts';
import { writeMonths, writeSession } from '../support/written-sessions.ts';
import { serveArchive } from './archive-hub.ts';
import { benchWeeks } from './weeks.bench.ts';

/** As built: run from the sources it would start a compiler too. */
const reviewEntry = new URL('../../dist/hub/recordings/review/review-worker.js', import.meta.url).pathname;
const hubVersion = 'bench';
const sessionCount = 150;
const rounds = 7;

const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]!;

/** From a click on a link until what it leads to has been drawn, by the page's own clock. */
function clickToDrawn(page: Page, link: string, drawn: string): Promise<number> {
  // As text: what the bundler adds to a function does not exist in the page.
  return page.evaluate<number>(`new Promise((resolve) => {
    const begun = performance.now();
    document.querySelector(${JSON.stringify(link)}).click();
    const look = () => {
      if (document.querySelector(${JSON.stringify(drawn)}) === null) requestAnimationFrame(look);
      else requestAnimationFrame(() => resolve(performance.now() - begun));
    };
    look();
  })`);
}

/** From the click in the list until the traces stand there, and until the measures do. */
function openHour(page: Page): Promise<{ drawn: number; measured: number }> {
  return page.evaluate<{ drawn: number; measured: number }>(`new Promise((resolve) => {
    const begun = performance.now();
    let drawn = null;
    document.querySelector('a[href="/recordings/hour"]').click();
    const look = () => {
      if (drawn === null && document.querySelector('.review-detail[aria-busy="false"] canvas') !== null)
        requestAnimationFrame(() => { drawn ??= performance.now() - begun; });
      if (drawn === null || document.querySelector('table.measures') === null) requestAnimationFrame(look);
      else resolve({ drawn, measured: performance.now() - begun });
    };
    look();
  })`);
}

/** A turn of the wheel in every frame: the time from frame to frame, and what the page worked in each. */
function frames(
  page: Page,
  wheel: { ctrlKey?: boolean; deltaX?: number; deltaY?: number },
): Promise<{ intervalP95: number; workP95: number }> {
  return page.evaluate<{ intervalP95: number; workP95: number }>(`new Promise((resolve) => {
    const trace = document.querySelector('.review-detail .trace');
    const { left, width, top, height } = trace.getBoundingClientRect();
    const p95 = (values) => values.sort((a, b) => a - b)[Math.floor(values.length * 0.95)];
    const intervals = [];
    const work = [];
    let before = null;
    const frame = (now) => {
      if (before !== null) intervals.push(now - before);
      before = now;
      const begun = performance.now();
      const done = new MessageChannel();
      // Comes after the frame has been laid out and painted.
      done.port1.onmessage = () => work.push(performance.now() - begun);
      trace.dispatchEvent(new WheelEvent('wheel', {
        ...${JSON.stringify(wheel)}, bubbles: true, cancelable: true,
        clientX: left + width / 2, clientY: top + height / 2,
      }));
      done.port2.postMessage(null);
      if (intervals.length < 180) requestAnimationFrame(frame);
      else setTimeout(() => resolve({ intervalP95: p95(intervals), workP95: p95(work) }), 50);
    };
    requestAnimationFrame(frame);
  })`);
}

export async function benchHistory(): Promise<Record<string, number>> {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-history-bench-'));
  const store = openSqliteStore({ directory });
  const mira = { athleteId: 'mira', name: 'Mira' };
  store.saveAthlete({ ...mira, simulated: true, settings: initialSettings });
  writeMonths(store, mira, sessionCount, Date.now() - 3_600_000);
  writeSession(store, {
    ...mira,
    athleteName: mira.name,
    sessionId: 'hour',
    title: 'SIMULATED hour',
    startedWallAtMs: Date.now() - 2 * 3_600_000,
    holdsS: [120, 120, 130, 130, 140, 140, 150, 150, 150, 150, 150, 160],
    wave: true,
  });
  const recordings = new RecordedSessions(
    store,
    createReviewThread({ clock: systemClock, warn: testLog.warn, entry: reviewEntry }),
  );
  const served = await serveArchive(store, recordings, hubVersion);
  const { url } = served;
  const history = async () =>
    (await (await fetchAsOwn(`${url}/api/athletes/mira/history`)).json()) as HistoryBody;

  // All of them as a page has it done: it asks until nothing is missing.
  const workingOutBegun = performance.now();
  while ((await history()).missingCount > 0) await new Promise((resolve) => setTimeout(resolve, 100));
  const workingOutMs = performance.now() - workingOutBegun;
  const answers: number[] = [];
  for (let round = 0; round < rounds; round += 1) {
    const begun = performance.now();
    const { sessions, missingCount } = await history();
    if (sessions.length !== sessionCount + 1 || missingCount !== 0) throw new Error('sessions are missing');
    answers.push(performance.now() - begun);
  }

  const advising = performance.now();
  await (await fetchAsOwn(`${url}/api/athletes/mira/advice`)).json();
  const adviceMs = performance.now() - advising;

  const browser = await launchChromium();
  const { page } = await openPage(browser, `${url}/recordings`, { width: 'desktop', isKept: true });
  await page.locator('a[href="/recordings/hour"]').waitFor();
  await page.waitForLoadState('networkidle');
  const weeks: number[] = [];
  for (let round = 0; round < rounds; round += 1) {
    weeks.push(await clickToDrawn(page, 'a[href="/weeks"]', '.trend .plot-dot'));
    await page.locator('#navigation a[href="/recordings"]').click();
    await page.locator('a[href="/recordings/hour"]').waitFor();
  }
  // The hub's own thread, which also drives the browser here: longest time it was not free.
  const heldUp = monitorEventLoopDelay({ resolution: 1 });
  heldUp.enable();
  // Each first time with a hub that has not seen the recording and a page that has listed it.
  const first: { drawn: number; measured: number }[] = [];
  for (let round = 0; round < rounds; round += 1) {
    recordings.forget('hour');
    await page.reload();
    await page.locator('a[href="/recordings/hour"]').waitFor();
    await page.waitForLoadState('networkidle');
    first.push(await openHour(page));
    await page.locator('#navigation a[href="/recordings"]').click();
    await page.locator('a[href="/recordings/hour"]').waitFor();
  }
  heldUp.disable();
  const again: { drawn: number; measured: number }[] = [];
  for (let round = 0; round < rounds; round += 1) {
    again.push(await openHour(page));
    if (round < rounds - 1) {
      await page.locator('#navigation a[href="/recordings"]').click();
      await page.locator('a[href="/recordings/hour"]').waitFor();
    }
  }
  await page.waitForLoadState('networkidle');
  const zoom = await frames(page, { ctrlKey: true, deltaY: -12 });
  await page.waitForLoadState('networkidle');
  const pan = await frames(page, { deltaX: 25 });
  await browser.close();
  await served.close();
  store.close();
  rmSync(directory, { recursive: true, force: true });
  return {
    sessions: sessionCount,
    workingOutASessionMs: workingOutMs / (sessionCount + 1),
    historyAnswerMs: median(answers),
    adviceAnswerMs: adviceMs,
    weeksClickToDrawnMs: median(weeks),
    hourFirstTimeToTraceMs: median(first.map(({ drawn }) => drawn)),
    hourFirstTimeToTraceWorstMs: Math.max(...first.map(({ drawn }) => drawn)),
    hourFirstTimeToMeasuresMs: median(first.map(({ measured }) => measured)),
    hubThreadHeldUpWorstMs: heldUp.max / 1e6,
    hourAgainToTraceMs: median(again.map(({ drawn }) => drawn)),
    hourAgainToMeasuresMs: median(again.map(({ measured }) => measured)),
    zoomFrameP95Ms: zoom.intervalP95,
    zoomWorkP95Ms: zoom.workP95,
    panFrameP95Ms: pan.intervalP95,
    panWorkP95Ms: pan.workP95,
    ...(await benchWeeks()),
  };
}
