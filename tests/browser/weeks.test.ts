// Same against same in a real browser: weeks narrowed to sessions alike, points that open recordings, a fall of comfort that is
// said, session against session, two side by side with consent, notes on a session, and a part given to whom it belongs.

import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { initialSettings } from '../../hub/live/initial-settings.ts';
import { openStoreInMemory, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { saveDetails } from '../../hub/recordings/session-details.ts';
import { noDetails, type SessionDetails } from '../../shared/session-details.ts';
import { makeTableFromRows } from '../../src/plans/generate-plan.ts';
import { launchChromium, openPage, type WidthName } from '../support/chromium-page.ts';
import { looksRight } from '../support/looks-right.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import type { ServedTestHub } from '../support/serve-test-hub.ts';
import { serveWritten } from '../support/serve-written.ts';
import { writePlanRun } from '../support/written-runs.ts';
import { writeSession } from '../support/written-sessions.ts';

const day = 86_400_000;
const mira = { athleteId: 'mira', athleteName: 'Mira' };
const oda = { athleteId: 'oda', athleteName: 'Oda' };

let browser: Browser;
let served: ServedTestHub;
let page: Page;
let faults: string[];
let close: () => Promise<void>;

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());
afterEach(() => close());

async function open(store: SqliteStore, path: string, width: WidthName = 'phone'): Promise<void> {
  served = await serveWritten(store);
  const opened = await openPage(browser, `${served.url}${path}`, { width });
  ({ page, faults } = opened);
  close = async () => {
    await opened.context.close();
    await served.close();
  };
}

/** Without faults so far, too. */
async function looksAsItShould(name: string): Promise<void> {
  await looksRight(page, `weeks-${name}`);
  expect(faults).toEqual([]);
}

const table = makeTableFromRows(
  'Evening table',
  [60, 70, 80].map((ceilingSeconds) => ({ ceilingSeconds, recoverySeconds: 150 })),
);

/** Written sessions begin their first hold at 1:30 and rest 2:30 between holds: the run follows them. */
function writeByPlan(
  store: SqliteStore,
  sessionId: string,
  daysAgo: number,
  holdsS: number[],
  comfort: number,
) {
  const startedWallAtMs = Date.now() - daysAgo * day;
  writeSession(store, { ...mira, sessionId, startedWallAtMs, title: 'SIMULATED', holdsS, seed: daysAgo });
  let fromS = 90;
  writePlanRun(store, {
    runId: `run-${sessionId}`,
    sessionId,
    athleteId: mira.athleteId,
    startedWallAtMs,
    plan: { ...table, leadInSeconds: 90 },
    holdsS: holdsS.map((lengthS) => {
      const span = [fromS, fromS + lengthS] as const;
      fromS += lengthS + 150;
      return span;
    }),
    comfort,
  });
}

const note = (store: SqliteStore, sessionId: string, part: Partial<SessionDetails>, athleteId = 'mira') =>
  saveDetails(store, sessionId, athleteId, { ...noDetails, ...part });

/** Nine evenings: seven by a plan, every other day, with comfort from 5 to 1; two free ones, one of eight weeks ago. */
function writeEvenings(): SqliteStore {
  const store = openStoreInMemory();
  for (const [sessionId, daysAgo] of [
    ['free-old', 57],
    ['free', 20],
  ] as const) {
    const startedWallAtMs = Date.now() - daysAgo * day;
    writeSession(store, {
      ...mira,
      sessionId,
      startedWallAtMs,
      title: 'SIMULATED',
      holdsS: [75, 85],
      seed: daysAgo,
    });
  }
  [5, 5, 4, 3, 3, 2, 1].forEach((comfort, index) => {
    writeByPlan(store, `plan-${index}`, 13 - 2 * index, [55 + index, 66 + index, 77 + index], comfort);
    note(store, `plan-${index}`, {
      place: index % 2 === 0 ? 'Studio' : 'Home',
      tags: index > 3 ? ['new mat'] : [],
    });
  });
  return store;
}

describe('the weeks', () => {
  test('narrowed by place and plan; a fall of comfort is said; a point opens its recording by finger and by keys', async () => {
    await open(writeEvenings(), '/weeks/mira', 'phone');
    const duration = () => page.getByRole('img', { name: /^Duration over/ });
    await page.getByRole('img', { name: 'Duration over 9 sessions' }).waitFor();
    const comfort = page.locator('.trend', { hasText: 'Comfort, 1 to 5' });
    await comfort
      .getByText('Fell from 5.0 to 1.0 within 12 days, over 7 sessions. That is little data.')
      .waitFor();
    await looksAsItShould('weeks');

    await page.getByRole('combobox', { name: 'Place' }).selectOption('Studio');
    await page.getByText('4 of 9 sessions.').waitFor();
    expect(await duration().locator('.plot-dot').count()).toBe(4);
    await page.getByRole('combobox', { name: 'Tag' }).selectOption('new mat');
    await page.getByText('2 of 9 sessions.').waitFor();
    await page.getByRole('button', { name: 'Show all again' }).click();
    await page.getByRole('combobox', { name: 'Plan' }).selectOption('Evening table');
    await page.getByText('7 of 9 sessions.').waitFor();

    // Beside the dot, as a thumb does.
    const figure = page.locator('.trend-figure').first();
    await figure.scrollIntoViewIfNeeded();
    const box = (await figure.boundingBox())!;
    const dot = figure.locator('.plot-dot').last();
    const [x, y] = [Number(await dot.getAttribute('cx')), Number(await dot.getAttribute('cy'))];
    await page.mouse.click(box.x + x + 6, box.y + y + 8);
    await page.waitForURL(/\/recordings\/plan-6$/);
    await page.goBack();
    const link = page.getByRole('link', { name: /Open the recording/ }).first();
    await link.waitFor({ state: 'attached' });
    // One stop for the keyboard a plot; along it by arrows.
    const stop = page.locator('.trend-figure').first().locator('a[tabindex="0"]');
    await stop.focus();
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Enter');
    await page.waitForURL(/\/recordings\/plan-4$/);
    expect(faults).toEqual([]);
  });

  test('session against session: rows of the plan, the same plan last time, eight weeks before', async () => {
    const store = writeEvenings();
    await open(store, '/weeks/mira', 'desktop');
    await page.getByRole('link', { name: 'Session against session' }).click();
    await page.getByText('Rows of “Evening table”.').waitFor();
    const rows = page.locator('.session-pair-table tbody tr');
    expect(await rows.count()).toBe(3);
    const first = rows.first().locator('td').first();
    await expect.poll(() => first.innerText()).toMatch(/A 1:01\s+B 1:00\s+difference \+1/);
    expect(
      await page.getByRole('button', { name: 'Same plan, last time' }).getAttribute('aria-pressed'),
    ).toBe('true');
    await looksAsItShould('pair');
    await page.getByRole('button', { name: 'Eight weeks before' }).click();
    await page.getByText('Holds in their order: not run by the same plan.').waitFor();
    await page.getByText('not done').first().waitFor();
    await page.getByRole('combobox', { name: 'Session' }).selectOption('free-old');
    await page.getByText('No earlier session by the same plan.').waitFor();
    expect(faults).toEqual([]);
  });

  test('two side by side: two plans of one athlete at once, two athletes only when each has agreed', async () => {
    const store = writeEvenings();
    store.saveAthlete({ athleteId: 'oda', name: 'Oda', simulated: true, settings: initialSettings });
    writeSession(store, {
      ...oda,
      sessionId: 'odas',
      startedWallAtMs: Date.now() - 5 * day,
      title: 'SIMULATED',
      holdsS: [120, 130],
    });
    await open(store, '/weeks/mira/beside', 'tablet');
    const side = (name: string) => page.getByRole('group', { name });
    await side('Left').getByRole('combobox', { name: 'Place' }).selectOption('Studio');
    await side('Right').getByRole('combobox', { name: 'Place' }).selectOption('Home');
    await page
      .getByText(/^Median .*, 4 sessions$/)
      .first()
      .waitFor();
    await page
      .getByText(/^Median .*, 3 sessions$/)
      .first()
      .waitFor();
    const axis = async (which: number) =>
      page.locator('.beside-measure').first().locator('svg').nth(which).locator('.plot-text').allInnerTexts();
    expect(await axis(0)).toEqual(await axis(1));
    await looksAsItShould('beside');

    await side('Right').getByRole('combobox', { name: 'Athlete' }).selectOption('oda');
    await page.getByText(/Nothing is shown of .*Oda.* until they have agreed/).waitFor();
    expect(await page.locator('.beside-measure').count()).toBe(0);
    await side('Left').getByRole('checkbox').check();
    await side('Right').getByRole('checkbox').check();
    await page.locator('.beside-measure').first().waitFor();
    await page
      .getByText(/^Median 2:05, 1 session$/)
      .first()
      .waitFor();
    const { entries } = (await (await fetchAsOwn(`${served.url}/api/audit`)).json()) as {
      entries: { action: string; athleteId: string }[];
    };
    expect(
      entries
        .filter(({ action }) => action === 'sharingChanged')
        .map((each) => each.athleteId)
        .sort(),
    ).toEqual(['mira', 'oda']);
    await side('Right').getByRole('checkbox').uncheck();
    await page.locator('.beside-measure').first().waitFor({ state: 'detached' });
    expect(faults).toEqual([]);
  });
});

describe('notes on a session', () => {
  test('kept as a draft until saved, in short in the heading, with cautions; the part given to whom it belongs, and back', async () => {
    const store = openStoreInMemory();
    store.saveAthlete({ athleteId: 'oda', name: 'Oda', simulated: true, settings: initialSettings });
    writeSession(store, {
      ...mira,
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      title: 'SIMULATED',
      holdsS: [60, 70],
    });
    await open(store, '/recordings/evening');
    await page.getByText('Notes on this session: Nothing noted yet').click();
    await page.getByRole('combobox', { name: 'How hard it was, as a whole' }).selectOption('hard');
    await page.getByRole('combobox', { name: 'With them' }).selectOption('alone');
    await page.getByText(/Have someone beside you for hard holds/).waitFor();
    await page.getByRole('combobox', { name: 'Health' }).selectOption('ill');
    await page.getByText(/Hold no breath while ill/).waitFor();
    await page.getByLabel('Tags, with commas between').pressSequentially('warm, new mat');
    await page.getByLabel('Place').fill('Studio');
    await looksAsItShould('notes');
    await page.reload();
    await page.getByText('This is what you had not saved').waitFor();
    expect(await page.getByLabel('Tags, with commas between').inputValue()).toBe('warm, new mat');
    await page.getByRole('button', { name: 'Save the notes' }).click();
    await page.getByRole('status').getByText('Noted.').waitFor();
    await page
      .getByText(/Notes on this session: ill · effort hard · nobody there · .*Studio.* · #warm · #new mat/)
      .waitFor();
    // What was noted counts for the advice.
    const advice = (await (await fetchAsOwn(`${served.url}/api/athletes/mira/advice`)).json()) as {
      advice: { key: string }[];
    };
    expect(advice.advice.map(({ key }) => key)).toContain('notAlone');

    await page.getByRole('button', { name: 'Belongs to somebody else' }).click();
    await page.getByRole('combobox', { name: 'To', exact: true }).selectOption('oda');
    const hers = ['details', 'trace'].map((what) =>
      page.waitForResponse((response) => response.url().includes(`/athletes/oda/${what}`)),
    );
    await page.getByRole('button', { name: 'Give it to them' }).click();
    await page.getByRole('heading', { name: 'Oda' }).waitFor();
    // All that the page asks of hers is answered before it is hers no more: after that the hub knows of none.
    await Promise.all(hers);
    await page.getByRole('button', { name: 'Correct hold 1' }).waitFor();
    await page.getByRole('button', { name: /^Undo/ }).click();
    await page.getByRole('heading', { name: 'Mira' }).waitFor();
    expect(faults).toEqual([]);
  });
});

describe('the list of recordings', () => {
  test('found by tag, place, plan and condition beside words; what was noted stands in each row', async () => {
    const store = writeEvenings();
    note(store, 'free', { illness: 'unwell', effort: 'hard', note: 'felt a cold coming' });
    await open(store, '/recordings', 'phone');
    await page.getByText('9 recordings', { exact: true }).waitFor();
    await page
      .locator('.recording-noted')
      .filter({ hasText: /Evening table.*Home/ })
      .first()
      .waitFor();
    await page.getByText('By athlete, coach, kind, plan, tag or day').click();
    const choose = (name: string, value: string) =>
      page.getByRole('combobox', { name, exact: true }).selectOption(value);
    await choose('Plan', 'Evening table');
    await page.getByText('7 of 9 recordings').waitFor();
    await choose('Tag', 'new mat');
    await page.getByText('3 of 9 recordings').waitFor();
    await choose('Place', 'Studio');
    await page.getByText('2 of 9 recordings').waitFor();
    await looksAsItShould('list');
    await page.getByRole('button', { name: 'Show all', exact: true }).click();
    await page.getByText('9 recordings', { exact: true }).waitFor();
    await page.getByRole('searchbox').fill('cold coming');
    await page.getByText('1 of 9 recordings').waitFor();
    await page.getByText(/not quite well.*effort hard/).waitFor();
    await page.getByRole('searchbox').fill('');
    await choose('Condition', 'unwell');
    await page.getByText('1 of 9 recordings').waitFor();
    // Whoever comes back finds the same place.
    await page.locator('.recording-list a').first().click();
    await page.waitForURL(/\/recordings\/free$/);
    await page.goBack();
    await page.getByText('1 of 9 recordings').waitFor();
    expect(faults).toEqual([]);
  });
});

describe('a new table', () => {
  test('is made of the athlete’s own holds and says so in a sentence; a hold set by hand makes it anew', async () => {
    await open(writeEvenings(), '/plans/new/oxygen', 'phone');
    // 23 holds since the free evening of 20 days ago; half of the comfortable ones lasted 1:10 or less.
    await page
      .getByText(
        /^Made round 1:\d\d, which half of their \d+ comfortable holds since .* lasted or less, with 3 rows/,
      )
      .waitFor();
    await page.getByText(/Row by row \(3\)/).waitFor();
    await looksAsItShould('table');
    await page.getByRole('slider', { name: 'A hold that is comfortable' }).fill('50');
    await page.getByText('Made round the hold that you have set.').waitFor();
    await page.getByRole('heading', { name: /growing up to 0:50/ }).waitFor();
    expect(faults).toEqual([]);
  });
});
