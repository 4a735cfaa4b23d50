// Weeks of 300 recorded hours the first time, again, and after one more; and a list of 10,000 recordings. With the recorder and
// the working out in threads of their own, as the program has them. Part of `npm run bench history`.

import { mkdtempSync, rmSync } from 'node:fs';
import { availableParallelism, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { systemClock } from '../../hub/base/system-clock.ts';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openSqliteStore, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { openThreadedStore } from '../../hub/recorder/thread/threaded-store.ts';
import { RecordedSessions } from '../../hub/recordings/recorded-sessions.ts';
import { createReviewPool } from '../../hub/recordings/review/review-pool.ts';
import { createReviewThread } from '../../hub/recordings/review/review-thread.ts';
import { summariesMadeBy } from '../../hub/recordings/session-summaries.ts';
import { summaryThreads } from '../../hub/recordings/summary-work.ts';
import type { HistoryBody } from '../../shared/history.ts';
import type { FoundRecordingsBody } from '../../shared/http.ts';
import { monotonicMs, wallMs } from '../../shared/units.ts';
import { trendMeasures } from '../../src/sessions/session-summary.ts';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { testLog } from '../support/serve-test-hub.ts';
import { writeSession } from '../support/written-sessions.ts';
import { serveArchive } from './archive-hub.ts';

const dist = (name: string): string => new URL(`../../dist/hub/${name}`, import.meta.url).pathname;
const mira = { athleteId: 'mira', athleteName: 'Mira' };
const day = 86_400_000;
const hours = 300;
const listed = 10_000;
const anHour = [120, 120, 130, 130, 140, 140, 150, 150, 150, 150, 150, 160];

const median = (values: readonly number[]): number =>
  values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]!;

function writeHour(store: SqliteStore, index: number, startedWallAtMs: number): void {
  writeSession(store, {
    ...mira,
    sessionId: `hour-${index}`,
    title: 'SIMULATED hour',
    startedWallAtMs,
    holdsS: anHour.map((seconds) => seconds + (index % 7)),
    seed: index,
  });
}

/** Without packets. */
export function writeLines(store: SqliteStore, count: number): void {
  const boundary = (atMs: number) => ({
    atMs: monotonicMs(atMs),
    uncertaintyMs: 0,
    declaredAtMs: monotonicMs(atMs),
    source: 'mark' as const,
    evidence: [],
  });
  store.syncOnlyOnCommit = true;
  for (let index = 0; index < count; index += 1) {
    const sessionId = `line-${index}`;
    store.startSession({
      sessionId,
      startedWallAtMs: wallMs(Date.now() - 2_000 * day + index * 3_600_000),
      simulated: true,
      source: 'simulated',
      title: `SIMULATED ${index}`,
      athletes: [
        {
          athlete: { athleteId: 'oda', name: 'Oda', simulated: true, settings: initialSettings },
          sensors: [],
        },
      ],
    });
    for (let hold = 0; hold < 4; hold += 1)
      store.saveHold(sessionId, {
        athleteId: 'oda',
        withdrawn: false,
        hold: {
          holdId: `h${hold}`,
          start: boundary(hold * 200_000),
          end: boundary(hold * 200_000 + 90_000),
          contractionCount: 0,
          firstContractionAtMs: null,
          lowestSpo2: null,
        },
      });
    store.endSession(sessionId, monotonicMs(900_000));
  }
  store.commit();
}

/** Of all but the newest ones, which the hub has to work out while the list is looked at. */
function writeSummaries(store: SqliteStore, count: number): void {
  const column = Array.from({ length: 12 }, (_, hold) => 100.5 + hold);
  const body = {
    figures: { holdCount: 12, longestHoldMs: 111_500, lowestSpo2Percent: 81 },
    holdIds: column.map((_, hold) => `h${hold}`),
    startAtMs: column.map((seconds) => 1_000 * seconds),
    durationUncertaintyS: column,
    measures: Object.fromEntries(trendMeasures.map(({ key }) => [key, column])),
    lungs: column.map(() => null),
    comfort: column.map(() => null),
  };
  store.syncOnlyOnCommit = true;
  for (let index = 0; index < count; index += 1)
    store.saveSummary(`line-${index}`, 'oda', summariesMadeBy('bench'), body);
  store.commit();
}

async function serve(directory: string) {
  const warn = testLog.warn;
  const store = await openThreadedStore({
    directory,
    clock: systemClock,
    warn,
    entry: dist('recorder/thread/recorder-worker.js'),
  });
  const review = () =>
    createReviewThread({ clock: systemClock, warn, entry: dist('recordings/review/review-worker.js') });
  const recordings = new RecordedSessions(
    store,
    review(),
    () => [],
    createReviewPool(Array.from({ length: summaryThreads }, () => review)),
  );
  const served = await serveArchive(store, recordings, 'bench');
  return {
    url: served.url,
    async close() {
      await served.close();
      await store.close();
    },
  };
}

async function timed<Value>(work: () => Promise<Value>): Promise<[number, Value]> {
  const begun = performance.now();
  const value = await work();
  return [performance.now() - begun, value];
}

async function benchHours(): Promise<Record<string, number>> {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-weeks-bench-'));
  const written = openSqliteStore({ directory });
  written.saveAthlete({ athleteId: 'mira', name: 'Mira', simulated: true, settings: initialSettings });
  written.syncOnlyOnCommit = true;
  for (let index = 0; index < hours; index += 1)
    writeHour(written, index, Date.now() - (hours - index) * day);
  written.close();
  let served = await serve(directory);
  const history = async (): Promise<HistoryBody> =>
    (await (await fetchAsOwn(`${served.url}/api/athletes/mira/history`)).json()) as HistoryBody;
  const loop = monitorEventLoopDelay({ resolution: 1 });
  loop.enable();
  const begun = performance.now();
  const cpuBefore = process.cpuUsage();
  let firstAnswerMs = 0;
  for (;;) {
    const { missingCount } = await history();
    firstAnswerMs ||= performance.now() - begun;
    if (missingCount === 0) break;
    await new Promise((resolve) => setTimeout(resolve, 400));
  }
  const coldMs = performance.now() - begun;
  const { user, system } = process.cpuUsage(cpuBefore);
  loop.disable();
  const warm: number[] = [];
  for (let round = 0; round < 5; round += 1) warm.push((await timed(history))[0]);
  await served.close();

  const again = openSqliteStore({ directory });
  writeHour(again, hours, Date.now() - 3_600_000);
  again.close();
  served = await serve(directory);
  await (await fetchAsOwn(`${served.url}/api/athletes`)).text();
  const [afterOneMoreMs, after] = await timed(history);
  if (after.missingCount !== 0 || after.sessions.length !== hours + 1) throw new Error('one is missing');
  await served.close();
  rmSync(directory, { recursive: true, force: true });
  return {
    weeksHours: hours,
    weeksFirstTimeMs: coldMs,
    // Of all threads: what it takes on a machine with nothing else to do, divided by its cores.
    weeksFirstTimeProcessorMs: (user + system) / 1_000,
    weeksFirstAnswerMs: firstAnswerMs,
    weeksHubThreadHeldUpWorstMs: loop.max / 1e6,
    weeksAgainMs: median(warm),
    weeksAfterOneMoreMs: afterOneMoreMs,
  };
}

async function benchList(): Promise<Record<string, number>> {
  const directory = mkdtempSync(join(tmpdir(), 'slackwater-list-bench-'));
  const written = openSqliteStore({ directory });
  writeLines(written, listed);
  writeSummaries(written, listed - 100);
  written.close();
  const served = await serve(directory);
  const look = async (query: string): Promise<FoundRecordingsBody> =>
    (await (await fetchAsOwn(`${served.url}/api/recordings?${query}`)).json()) as FoundRecordingsBody;
  const [firstMs, first] = await timed(() => look('page=0'));
  if (first.wholeCount !== listed) throw new Error('recordings are missing');
  const pages: number[] = [];
  const searches: number[] = [];
  for (let round = 0; round < 5; round += 1) {
    pages.push((await timed(() => look(`page=${round}`)))[0]);
    searches.push((await timed(() => look(`search=${9_000 + round}`)))[0]);
  }
  const browser = await launchChromium();
  const { page } = await openPage(browser, `${served.url}/weeks`, { width: 'desktop', isKept: true });
  await page.waitForLoadState('networkidle');
  const drawn: number[] = [];
  for (let round = 0; round < 5; round += 1) {
    drawn.push(
      // As text: what the bundler adds to a function does not exist in the page.
      await page.evaluate<number>(`new Promise((resolve) => {
        const begun = performance.now();
        document.querySelector('#navigation a[href="/recordings"]').click();
        const look = () => {
          if (document.querySelector('.recording-list li') === null) requestAnimationFrame(look);
          else requestAnimationFrame(() => resolve(performance.now() - begun));
        };
        look();
      })`),
    );
    await page.locator('#navigation a[href="/weeks"]').click();
    await page.waitForLoadState('networkidle');
  }
  await browser.close();
  await served.close();
  rmSync(directory, { recursive: true, force: true });
  return {
    listRecordings: listed,
    listFirstTimeMs: firstMs,
    listPageMs: median(pages),
    listSearchMs: median(searches),
    listClickToDrawnMs: median(drawn),
  };
}

export async function benchWeeks(): Promise<Record<string, number>> {
  const loadBefore = loadavg()[0]!;
  const figures = { ...(await benchHours()), ...(await benchList()) };
  return { cores: availableParallelism(), loadBefore, loadAfter: loadavg()[0]!, ...figures };
}
