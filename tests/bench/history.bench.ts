// Looking back: a year of 150 sessions in the weeks view, and a recorded hour from a click to its first trace.

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { createHub, initialSettings } from '../../hub/hub.ts';
import { createRecordedSessions } from '../../hub/recorded-session.ts';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { startHttpServer } from '../../hub/server/http-server.ts';
import { summariesMadeBy } from '../../hub/session-summaries.ts';
import { systemClock } from '../../hub/system-clock.ts';
import type { HistoryBody } from '../../shared/history.ts';
import { pipelineFactory } from '../../src/pipeline.ts';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { testLog } from '../support/serve-test-hub.ts';
import { writeMonths, writeSession } from '../support/written-sessions.ts';

const webDirectory = new URL('../../dist/web', import.meta.url).pathname;
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
  });
  let nextId = 0;
  const makeId = () => {
    nextId += 1;
    return `id-${nextId}`;
  };
  const hub = createHub({
    clock: systemClock,
    pageClock: systemClock,
    store,
    sources: [],
    createPipeline: pipelineFactory(),
    log: testLog,
    makeId,
    hubVersion,
    timeScale: 1,
    simulated: true,
  });
  const recordings = createRecordedSessions(store, pipelineFactory());
  const server = await startHttpServer(
    { hub, store, recordings, clock: systemClock, log: testLog, hubVersion },
    { host: '127.0.0.1', port: 0, webDirectory, makeId },
  );
  await hub.start();
  const url = `http://127.0.0.1:${server.port}`;
  const history = async () => (await (await fetch(`${url}/api/athletes/mira/history`)).json()) as HistoryBody;

  // A few are worked out as a page would have it done; the rest get one of these, so that the bench ends today.
  const workingOut: number[] = [];
  for (let round = 0; round < 4; round += 1) {
    const begun = performance.now();
    await history();
    workingOut.push(performance.now() - begun);
  }
  const made = store.listSummaries('mira', summariesMadeBy(hubVersion));
  const one = [...made.values()].at(-1);
  for (const { session } of store.listSessions())
    if (!made.has(session.sessionId))
      store.saveSummary(session.sessionId, 'mira', summariesMadeBy(hubVersion), one);
  const answers: number[] = [];
  for (let round = 0; round < rounds; round += 1) {
    const begun = performance.now();
    const { sessions, missingCount } = await history();
    if (sessions.length !== sessionCount + 1 || missingCount !== 0) throw new Error('sessions are missing');
    answers.push(performance.now() - begun);
  }

  const advising = performance.now();
  await (await fetch(`${url}/api/athletes/mira/advice`)).json();
  const adviceMs = performance.now() - advising;

  const browser = await launchChromium();
  const { page } = await openPage(browser, `${url}/recordings`, { width: 'desktop' });
  await page.locator('a[href="/recordings/hour"]').waitFor();
  await page.waitForLoadState('networkidle');
  const weeks: number[] = [];
  for (let round = 0; round < rounds; round += 1) {
    weeks.push(await clickToDrawn(page, 'a[href="/weeks"]', '.trend .plot-dot'));
    await page.locator('#navigation a[href="/recordings"]').click();
    await page.locator('a[href="/recordings/hour"]').waitFor();
  }
  const opening: number[] = [];
  for (let round = 0; round < 4; round += 1) {
    if (round > 0) await page.locator('a[href="/recordings/hour"]').waitFor();
    opening.push(await clickToDrawn(page, 'a[href="/recordings/hour"]', '.review-detail canvas'));
    await page.locator('#navigation a[href="/recordings"]').click();
  }
  await browser.close();
  await hub.stop();
  await server.close();
  store.close();
  rmSync(directory, { recursive: true, force: true });
  return {
    sessions: sessionCount,
    workingOutASessionMs: median(workingOut),
    historyAnswerMs: median(answers),
    adviceAnswerMs: adviceMs,
    weeksClickToDrawnMs: median(weeks),
    recordedHourFirstTimeMs: opening[0]!,
    recordedHourAgainMs: median(opening.slice(1)),
  };
}
