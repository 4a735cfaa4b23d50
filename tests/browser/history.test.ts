// Looking back in a real browser: holds side by side, weeks, the log timed and by hand, corrections, the report.

import { mkdirSync, writeFileSync } from 'node:fs';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { openStoreInMemory, type SqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { ReviewFault, type ReviewRunner } from '../../hub/recordings/review/review-runner.ts';
import type { RecordingBody } from '../../shared/http.ts';
import { said } from '../../shared/said.ts';
import { launchChromium, openPage, type WidthName, widths } from '../support/chromium-page.ts';
import { inlineReview } from '../support/inline-review.ts';
import { looksRight } from '../support/looks-right.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import type { ServedTestHub } from '../support/serve-test-hub.ts';
import { serveWritten } from '../support/serve-written.ts';
import { writeMonths, writeSession } from '../support/written-sessions.ts';

const day = 86_400_000;
const mira = { athleteId: 'mira', name: 'Mira' };

let browser: Browser;
let served: ServedTestHub;
let page: Page;
let faults: string[];
let close: () => Promise<void>;

beforeAll(async () => {
  browser = await launchChromium();
});
afterAll(() => browser.close());

async function open(
  store: SqliteStore,
  path: string,
  width: WidthName = 'phone',
  review?: ReviewRunner,
): Promise<void> {
  served = await serveWritten(store, review);
  const opened = await openPage(browser, `${served.url}${path}`, { width });
  ({ page, faults } = opened);
  close = async () => {
    await opened.context.close();
    await served.close();
  };
}
afterEach(() => close());

/** Without faults so far, too. */
async function looksAsItShould(name: string): Promise<void> {
  await looksRight(page, `history-${name}`);
  expect(faults).toEqual([]);
}

describe('holds side by side', () => {
  test('within a session, lined up at start, contraction and end, one brought forward, another session added', async () => {
    const store = openStoreInMemory();
    const common = { ...mira, athleteName: mira.name, title: 'SIMULATED evening' };
    writeSession(store, {
      ...common,
      sessionId: 'before',
      startedWallAtMs: Date.now() - 3 * day,
      holdsS: [95, 100],
      onsetShare: null,
      seed: 4,
    });
    writeSession(store, {
      ...common,
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [90, 110, 130, 150],
      seed: 3,
    });
    await open(store, '/recordings/evening');
    let answer = () => {};
    const asked = new Promise<void>((resolve) => (answer = resolve));
    await page.route('**/api/**/holds', (route) => asked.then(() => route.continue()), { times: 1 });
    await page.getByRole('link', { name: 'Holds side by side' }).click();
    await page.getByRole('status').getByText('Reading the holds').waitFor();
    answer();
    const spo2 = page.getByRole('img', { name: /Saturation, % of 4 holds, lined up at: Start/ });
    await spo2.waitFor();
    expect(await spo2.locator('.plot-line').count()).toBe(4);
    expect(await page.getByText('Reading the holds').count()).toBe(0);
    const medianOf = () => page.locator('.plot-spo2 .plot-median').getAttribute('d');
    const atStart = await medianOf();
    expect(atStart).toMatch(/^M/);
    await page.getByRole('button', { name: 'Bring forward: Hold 2' }).click();
    expect(await page.locator('.plot-spo2 .is-forward .plot-line').count()).toBe(1);
    await looksAsItShould('compare');

    await page.getByRole('radio', { name: 'End' }).click();
    await page
      .getByRole('img', { name: /lined up at: End/ })
      .first()
      .waitFor();
    expect(await medianOf()).not.toBe(atStart);
    await page.getByRole('radio', { name: 'First contraction' }).click();
    await page
      .getByRole('img', { name: /of 4 holds, lined up at: First contraction/ })
      .first()
      .waitFor();

    await page.locator('.compare-choices section').nth(1).getByRole('checkbox').nth(1).check();
    await page.getByText('2 holds have no contraction mark and cannot be lined up there.').waitFor();
    await page.getByRole('radio', { name: 'Start' }).click();
    await page.getByRole('img', { name: /Saturation, % of 6 holds/ }).waitFor();
    expect(faults).toEqual([]);
  });
});

describe('weeks', () => {
  test('sessions over weeks with calendar, running medians and advice; nothing compared with anyone else', async () => {
    const store = openStoreInMemory();
    writeMonths(store, mira, 14, Date.now() - 2 * day, 4);
    await open(store, '/weeks', 'desktop');
    await page.getByRole('heading', { name: 'Calendar' }).waitFor();
    await page.getByRole('status').getByText('Working out').waitFor({ state: 'detached', timeout: 120_000 });
    const duration = page.getByRole('img', { name: 'Duration over 14 sessions' });
    await duration.waitFor();
    expect(await duration.locator('.plot-dot').count()).toBe(14);
    expect(await duration.locator('.plot-running').count()).toBe(1);
    expect(await page.getByText(/of the last four weeks|within \d+ days/).count()).toBeGreaterThan(3);
    await page.getByText('As a table').click();
    await expect.poll(() => page.getByRole('table').last().getByRole('row').count()).toBe(15);
    await page.getByText('As a table').click();
    await looksAsItShould('weeks');
  });

  test('with nothing recorded the page says what to do', async () => {
    await open(openStoreInMemory(), '/weeks');
    await page.getByText(/No ended session of this athlete yet/).waitFor();
    expect(await page.getByRole('link', { name: 'Training log' }).isVisible()).toBe(true);
    await looksAsItShould('weeks-empty');
  });
});

describe('the training log', () => {
  const stored = async () =>
    (
      (await (await fetchAsOwn(`${served.url}/api/athletes/mira/training`)).json()) as {
        entries: Record<string, unknown>[];
      }
    ).entries;

  test('a pool set timed with the big button, its buddy named first; a reload in between loses no tap', async () => {
    await open(openStoreInMemory(), '/training');
    const begun = Date.now();
    const at = (seconds: number) => page.clock.setFixedTime(begun + seconds * 1_000);
    await at(0);
    await page.getByRole('button', { name: 'Time it with a big button' }).click();
    await page
      .getByRole('alert')
      .getByText(/Name your buddy first/)
      .waitFor();
    await page.getByLabel('Buddy').fill('Ilvo');
    await page.getByLabel('Place').fill('Harbour baths');
    await page.getByRole('button', { name: 'Time it with a big button' }).click();
    await page.getByText(/Ilvo watches/).waitFor();
    await page.getByRole('button', { name: 'Starts' }).click();
    await at(48);
    await page.getByRole('button', { name: 'At the wall' }).click();
    await page.getByText('1:12').waitFor();
    await page.getByText('until the next start').waitFor();
    await page.reload();
    await at(121);
    await page.getByText('Next one, if all is well').waitFor();
    await page.getByRole('button', { name: 'Starts' }).click();
    await at(171);
    await page.getByRole('button', { name: 'At the wall' }).click();
    await looksAsItShould('lap-timer');
    await page.getByRole('button', { name: 'Done: write the entry' }).click();
    await page.getByText('Timed: 0:48, 0:50').first().waitFor();
    await looksAsItShould('log-entry');
    await page.getByRole('button', { name: 'Save the entry' }).click();
    await page.getByText(/2 × 50/).waitFor();
    expect(await stored()).toMatchObject([
      {
        kind: 'poolSet',
        buddyName: 'Ilvo',
        place: 'Harbour baths',
        repetitions: 2,
        repetitionsSeconds: [48, 50],
        startedWallAtMs: begun,
      },
    ]);
  });

  test('a walk by hand on an earlier day; to the end of comfort and alone it draws a caution', async () => {
    await open(openStoreInMemory(), '/training');
    await page.getByRole('combobox', { name: 'What' }).selectOption('apneaWalk');
    await page.getByLabel('When').fill('2026-03-14T18:05');
    await page.getByLabel('Steps a round').fill('44');
    await page.getByRole('checkbox', { name: 'To the end of comfort' }).check();
    await page.getByText(/A maximal walk alone/).waitFor();
    await page.getByRole('combobox', { name: /^Comfort/ }).selectOption('3');
    await page.getByRole('button', { name: 'Save the entry' }).click();
    await page.getByRole('listitem').filter({ hasText: 'Apnea walk' }).waitFor();
    expect(await stored()).toMatchObject([
      {
        kind: 'apneaWalk',
        steps: 44,
        maximal: true,
        buddyName: null,
        comfort: 3,
        startedWallAtMs: Date.UTC(2026, 2, 14, 18, 5),
      },
    ]);
    expect(faults).toEqual([]);
  });
});

describe('correcting holds', () => {
  test('a boundary dragged, moved by keys, taken back; a hold added and removed; the estimate stays visible', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      ...mira,
      athleteName: mira.name,
      title: 'SIMULATED evening',
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [90, 110],
    });
    await open(store, '/recordings/evening', 'tablet');
    const holds = async () =>
      (
        (await (await fetchAsOwn(`${served.url}/api/sessions/evening`)).json()) as RecordingBody
      ).athletes[0]!.holds.map(({ hold }) => [hold.start.atMs, hold.end?.atMs]);
    const before = await holds();
    expect(before).toEqual([
      [90_000, 180_000],
      [330_000, 440_000],
    ]);
    await page.locator('canvas').first().waitFor();
    await page.getByRole('button', { name: 'Correct holds and marks' }).click();
    const end = page.getByRole('slider', { name: 'End of hold 2' });
    await end.scrollIntoViewIfNeeded();
    const box = (await end.boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + 60);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2 + 30, box.y + 60, { steps: 4 });
    await page.mouse.up();
    await page.getByRole('status').getByText('Corrected.').waitFor({ state: 'attached' });
    const dragged = (await holds())[1]![1]!;
    // 30 px of the plot: the whole recording is shown in about 730 px.
    expect(dragged).toBeGreaterThan(455_000);
    expect(dragged).toBeLessThan(475_000);
    expect(await page.locator('.boundary-original').count()).toBe(1);
    await page.getByText(/\(corrected\)/).waitFor();
    await looksAsItShould('correcting');

    const start = page.getByRole('slider', { name: 'Start of hold 1' });
    await start.focus();
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Shift+ArrowLeft');
    expect(await start.getAttribute('aria-valuetext')).toBe('1:19.0');
    await page.keyboard.press('Escape');
    expect(await start.getAttribute('aria-valuetext')).toBe('1:30.0');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Enter');
    await page.getByText('2 corrections in force').waitFor();
    expect((await holds())[0]).toEqual([89_000, 180_000]);

    await page.getByRole('button', { name: 'Undo last correction' }).click();
    await page.getByText('1 correction in force').waitFor();
    await page.getByRole('button', { name: 'Undo last correction' }).click();
    await page.getByText('0 corrections in force').waitFor();
    expect(await holds()).toEqual(before);
    expect(await page.locator('.boundary-original').count()).toBe(0);

    await page.getByRole('button', { name: 'Add a hold' }).click();
    await page.getByRole('button', { name: /Save new hold/ }).click();
    await page.getByRole('heading', { name: /^Hold 3/ }).waitFor();
    expect(await holds()).toHaveLength(3);
    await page.getByRole('button', { name: 'Remove hold 1' }).click();
    await expect.poll(async () => (await holds()).length).toBe(2);
    await page.getByRole('button', { name: 'Undo last correction' }).click();
    await expect.poll(async () => (await holds()).length).toBe(3);
    expect(faults).toEqual([]);
  });

  test('on its card, on a phone: by buttons, by keys, on the traces, taken away, and each taken back', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      ...mira,
      athleteName: mira.name,
      title: 'SIMULATED evening',
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [90, 110],
    });
    await open(store, '/recordings/evening', 'phone');
    const holds = async () =>
      (
        (await (await fetchAsOwn(`${served.url}/api/sessions/evening`)).json()) as RecordingBody
      ).athletes[0]!.holds.map(({ hold }) => [hold.start.atMs, hold.end?.atMs]);
    const before = await holds();
    await page.getByRole('button', { name: 'Correct hold 2' }).click();
    const form = page.getByRole('form', { name: 'Correct hold 2' });
    // The keyboard is in it at once, on the start.
    await page.keyboard.press('ArrowRight');
    await form.getByRole('button', { name: 'End: 10\u202fs less' }).click();
    await form.getByRole('button', { name: 'End: 1\u202fs less' }).click();
    expect(await holds()).toEqual(before);
    await looksAsItShould('correcting-on-a-card');
    await form.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('The hold was corrected').waitFor();
    expect(await holds()).toEqual([before[0], [331_000, 429_000]]);
    await form.waitFor({ state: 'detached' });
    // Both ends by one step back, by the key.
    await page.keyboard.press('Control+z');
    await expect.poll(holds).toEqual(before);

    await page.getByRole('button', { name: 'Correct hold 1' }).click();
    await page
      .getByRole('form', { name: 'Correct hold 1' })
      .getByRole('button', { name: 'Remove hold 1' })
      .click();
    await page.getByText('Hold removed').first().waitFor();
    expect(await holds()).toEqual([before[1]]);
    await page
      .getByRole('region', { name: 'What you can take back' })
      .getByRole('button', { name: /^Undo/ })
      .click();
    await expect.poll(holds).toEqual(before);

    // From the card to its handles, which show what is not saved yet.
    await page.getByRole('button', { name: 'Correct hold 1' }).click();
    await page.getByRole('form', { name: 'Correct hold 1' }).waitFor();
    await page.keyboard.press('ArrowLeft');
    await page.getByRole('button', { name: 'See it on the traces' }).click();
    const start = page.getByRole('slider', { name: 'Start of hold 1' });
    expect(await start.getAttribute('aria-valuetext')).toBe('1:29.0');
    const seen = await start.boundingBox();
    expect(seen!.y).toBeGreaterThan(0);
    expect(seen!.y + seen!.height).toBeLessThan(844);
    await start.focus();
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('Enter');
    expect(await holds()).toEqual(before);
    await page.keyboard.press('Tab');
    await page
      .getByRole('form', { name: 'Correct hold 1' })
      .getByRole('button', { name: 'Save', exact: true })
      .click();
    await expect.poll(holds).toEqual([[88_000, 180_000], before[1]]);
    expect(faults).toEqual([]);
  });

  test('contractions and notes added, moved, removed, undone and redone; measures follow; touch drags too', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      ...mira,
      athleteName: mira.name,
      title: 'SIMULATED evening',
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [90, 110],
      onsetShare: 0.5,
    });
    await open(store, '/recordings/evening', 'tablet');
    const onsets = async () => {
      const body = (await (await fetchAsOwn(`${served.url}/api/sessions/evening`)).json()) as RecordingBody;
      const { holds, marks } = body.athletes[0]!;
      return {
        onsetS: holds.map(
          ({ measures }) => measures.find(({ key }) => key === 'timeToFirstContractionS')?.value,
        ),
        contractionsS: marks.flatMap(({ kind, atMs }) => (kind === 'contraction' ? atMs / 1000 : [])),
      };
    };
    expect(await onsets()).toEqual({ onsetS: [45, 55], contractionsS: [135, 385] });
    await page.locator('canvas').first().waitFor();
    await page.getByRole('button', { name: 'Correct holds and marks' }).click();

    // By keys: an earlier contraction in the first hold.
    await page.getByRole('button', { name: 'Show hold 1 in the trace' }).click();
    await page.getByRole('button', { name: 'Add a contraction' }).click();
    const fresh = page.getByRole('slider', { name: 'New contraction' });
    await fresh.focus();
    const valueNow = () => fresh.getAttribute('aria-valuenow');
    for (let press = 0; press < 3; press += 1) {
      // A loaded machine draws late; a person presses again when they have seen it move.
      const before = await valueNow();
      await page.keyboard.press('Shift+ArrowLeft');
      await expect.poll(valueNow).not.toBe(before);
    }
    await page.keyboard.press('Enter');
    await page.getByRole('button', { name: 'Save contraction at 2:00.0' }).click();
    await page.getByText('added afterwards').waitFor();
    expect(await onsets()).toEqual({ onsetS: [30, 55], contractionsS: [120, 135, 385] });

    // By mouse: moved, with the place it was marked at left in sight.
    const marked = page.getByRole('slider', { name: 'Contraction at 2:15.0' });
    const box = (await marked.boundingBox())!;
    await page.mouse.move(box.x + box.width / 2, box.y + 20);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width / 2 + 40, box.y + 20, { steps: 4 });
    await page.mouse.up();
    await page.getByText(/moved afterwards, marked at 2:15\.0/).waitFor();
    expect(await page.locator('.boundary-original').count()).toBe(1);
    const movedTo = (await onsets()).contractionsS[1]!;
    expect(movedTo).toBeGreaterThan(140);
    expect(movedTo).toBeLessThan(160);

    // Removed by the key, brought back, removed again, all by keys.
    await page.getByRole('slider', { name: 'Contraction at 2:00.0' }).focus();
    await page.keyboard.press('Delete');
    await expect.poll(async () => (await onsets()).onsetS[0]).toBeCloseTo(movedTo - 90, 1);
    await page.getByText('3 corrections in force').waitFor();
    // Two quick presses are two steps.
    await page.keyboard.press('Control+z');
    await page.keyboard.press('Control+z');
    await page.getByText('1 correction in force').waitFor();
    expect((await onsets()).onsetS[0]).toBe(30);
    await page.keyboard.press('Control+Shift+Z');
    await page.keyboard.press('Control+Shift+Z');
    await page.getByText('3 corrections in force').waitFor();
    await expect.poll(async () => (await onsets()).onsetS[0]).toBeCloseTo(movedTo - 90, 1);

    await page.getByRole('button', { name: 'Add a note' }).click();
    await page.getByRole('button', { name: /Save note/ }).click();
    await page.getByRole('alert').getByText('Write something in the note first.').waitFor();
    // The refusal, which the browser notes.
    expect(faults.splice(0).every((fault) => fault.includes('400'))).toBe(true);
    await page.getByLabel('Note', { exact: true }).fill('Shoulders relaxed');
    await page.getByRole('button', { name: /Save note/ }).click();
    await page.getByText('Shoulders relaxed').waitFor();
    await looksAsItShould('correcting-marks');

    // All undone: as it was marked.
    await page.setViewportSize(widths.tablet);
    for (let left = 4; left > 0; left -= 1) {
      await page.getByText(`${left} correction${left === 1 ? '' : 's'} in force`).waitFor();
      await page.getByRole('button', { name: 'Undo last correction' }).click();
      if (left === 3) break;
    }
    await page.getByText('2 corrections in force').waitFor();
    await page.getByRole('button', { name: 'Undo last correction' }).click();
    await page.getByText('1 correction in force').waitFor();
    await page.getByRole('button', { name: 'Undo last correction' }).click();
    await page.getByText('0 corrections in force').waitFor();
    expect(await onsets()).toEqual({ onsetS: [45, 55], contractionsS: [135, 385] });
    await page.getByRole('button', { name: 'Redo', exact: true }).click();
    await page.getByText('1 correction in force').waitFor();
    await page.getByRole('button', { name: 'Undo last correction' }).click();

    // By a finger on the glass: the browser's own touch events, a boundary and a mark.
    const touch = await page.context().newCDPSession(page);
    const drag = async (name: string, byX: number) => {
      const handle = (await page.getByRole('slider', { name }).boundingBox())!;
      const x = handle.x + handle.width / 2;
      const y = handle.y + 20;
      const send = (type: 'touchStart' | 'touchMove' | 'touchEnd', atX: number) =>
        touch.send('Input.dispatchTouchEvent', {
          type,
          touchPoints: type === 'touchEnd' ? [] : [{ x: atX, y, id: 1 }],
        });
      await send('touchStart', x);
      for (let step = 1; step <= 5; step += 1) await send('touchMove', x + (byX * step) / 5);
      await send('touchEnd', x + byX);
    };
    await page.locator('.review-detail').scrollIntoViewIfNeeded();
    await drag('Contraction at 2:15.0', -40);
    await page.getByText('1 correction in force').waitFor();
    expect((await onsets()).onsetS[0]).toBeLessThan(40);
    await drag('End of hold 1', 40);
    await page.getByText('2 corrections in force').waitFor();
    expect(await page.locator('.boundary-original').count()).toBe(2);
    expect(faults).toEqual([]);
  });

  test('signals as sent or cleaned', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      ...mira,
      athleteName: mira.name,
      title: 'SIMULATED evening',
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [90],
    });
    await open(store, '/recordings/evening');
    await page.getByText(/Cleaned: what cannot be true/).waitFor();
    const answered = page.waitForResponse((response) => response.url().includes('signals=raw'));
    await page.getByText('More', { exact: true }).click();
    await page.getByRole('button', { name: 'Signals: Cleaned' }).click();
    expect((await answered).ok()).toBe(true);
    await page.getByText(/As the sensors sent them/).waitFor();
    expect(faults).toEqual([]);
  });
});

describe('a recording not worked out before', () => {
  test('shows what was said live with how far the work is, leaves it when the page is left, then has it all', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      ...mira,
      athleteName: mira.name,
      title: 'SIMULATED evening',
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [90, 110],
    });
    // Stands still at a third until told to go on; what is asked of it is noted.
    const asked: string[] = [];
    let goOn: () => void = () => undefined;
    let mayGoOn = new Promise<void>((resolve) => {
      goOn = resolve;
    });
    const review: ReviewRunner = {
      ...inlineReview,
      async run(task, order) {
        // What the list has worked out for its figures, nobody waits for.
        if (task.type !== 'summarise') asked.push(task.type);
        order.signal?.addEventListener('abort', () => asked.push('dropped'));
        order.onNews?.({ type: 'progress', share: 1 / 3 });
        await Promise.race([
          mayGoOn,
          new Promise((_, reject) =>
            order.signal?.addEventListener('abort', () => reject(order.signal?.reason)),
          ),
        ]);
        return inlineReview.run(task, order);
      },
    };
    await open(store, '/recordings/evening', 'tablet', review);
    await page.getByText('Holds and measures are being worked out.').waitFor();
    await page.getByRole('heading', { name: /^Hold 2/ }).waitFor();
    const bar = page.getByRole('progressbar', { name: 'Worked out so far' });
    await expect.poll(() => bar.getAttribute('value')).toMatch(/^0\.33/);
    expect(await page.getByText('All measures of each hold').count()).toBe(0);
    expect(await page.getByRole('button', { name: 'Correct holds and marks' }).isDisabled()).toBe(true);
    await looksAsItShould('working-out');
    expect(asked).toEqual(['derive']);

    await page.getByRole('link', { name: /All recordings/ }).click();
    await expect.poll(() => asked).toEqual(['derive', 'dropped']);
    await page.getByRole('link', { name: /SIMULATED evening/ }).click();
    await page.getByText('Holds and measures are being worked out.').waitFor();
    goOn();
    mayGoOn = Promise.resolve();
    await page.getByText('All measures of each hold').waitFor();
    expect(await page.getByText('Holds and measures are being worked out.').count()).toBe(0);
    await page.getByText(/Cleaned: what cannot be true/).waitFor();
    expect(await page.getByRole('button', { name: 'Correct holds and marks' }).isEnabled()).toBe(true);
    expect(faults).toEqual([]);
  });

  test('that cannot be worked out says so beside its live holds, and can be tried again', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      ...mira,
      athleteName: mira.name,
      title: 'SIMULATED evening',
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [90],
    });
    let fails = true;
    await open(store, '/recordings/evening', 'phone', {
      ...inlineReview,
      run: async (task, order) => {
        if (fails) throw new ReviewFault(said('said.asTold', { text: 'Invented failure.' }));
        return inlineReview.run(task, order);
      },
    });
    await page.getByRole('alert').getByText('Holds and measures are missing: Invented failure.').waitFor();
    await page.getByRole('heading', { name: /^Hold 1/ }).waitFor();
    fails = false;
    await page.getByRole('alert').getByRole('button', { name: 'Try again' }).click();
    await page.getByText('All measures of each hold').waitFor();
    expect(faults.every((fault) => fault.includes('500'))).toBe(true);
  });
});

describe('erasing an athlete', () => {
  test('says exactly what goes, wants the name typed, refuses during a session, and takes everything', async () => {
    const store = openStoreInMemory();
    writeMonths(store, mira, 2, Date.now() - day, 2);
    writeSession(store, {
      athleteId: 'ilvo',
      athleteName: 'Ilvo',
      title: 'SIMULATED other',
      sessionId: 'other',
      startedWallAtMs: Date.now() - 2 * day,
      holdsS: [60],
    });
    await open(store, '/recordings');
    served.hub.startSession(['mira'], 'running');
    await page.getByText('Recording now').waitFor();
    await page.getByRole('button', { name: 'Erase a person' }).click();
    await page.getByRole('dialog').getByText('A session is running.').waitFor();
    expect(await page.getByRole('dialog').getByRole('combobox', { name: 'Who' }).isDisabled()).toBe(true);
    served.hub.endSession();
    await page.getByRole('dialog').getByText('A session is running.').waitFor({ state: 'detached' });

    // A hand that types as soon as the field is there, before it has been painted.
    await page.evaluate(`new MutationObserver((_changes, observer) => {
      const field = document.querySelector('dialog input[type=text]');
      if (field === null) return;
      observer.disconnect();
      field.value = 'Il';
      field.dispatchEvent(new Event('input', { bubbles: true }));
    }).observe(document, { subtree: true, childList: true });`);
    await page.getByRole('dialog').getByRole('combobox', { name: 'Who' }).selectOption('Mira');
    const goes = page.getByRole('dialog').getByRole('listitem');
    await goes.first().waitFor();
    const lines = await goes.allTextContents();
    expect(lines).toContain('3 recordings of theirs alone, deleted whole');
    expect(lines).toContain('4 holds');
    // Start, contraction and end of each hold, but for none where the onset was not marked.
    expect(lines).toContain('12 marks and notes');
    expect(lines).toContain('2 sensors remembered as theirs');
    const confirm = page.getByRole('button', { name: 'Erase for good' });
    expect(await confirm.isDisabled()).toBe(true);
    await page.evaluate('new Promise((done) => requestAnimationFrame(() => setTimeout(done, 100)))');
    expect(await page.getByLabel('Type the name to go on: Mira').inputValue()).toBe('Il');
    await page.getByLabel('Type the name to go on: Mira').fill('Ilvo');
    expect(await confirm.isDisabled()).toBe(true);
    await page.getByLabel('Type the name to go on: Mira').fill(' mira ');
    await looksAsItShould('erase');
    // A timing of theirs that goes on in this browser.
    await page.evaluate(
      (kept) => localStorage.setItem('slackwater.timing', kept),
      JSON.stringify({
        entry: {
          entryId: 'e1',
          athleteId: 'mira',
          startedWallAtMs: 1,
          place: '',
          effort: 'easy',
          comfort: null,
          note: '',
          kind: 'apneaWalk',
          buddyName: null,
          rounds: 1,
          maximal: false,
          lengthSeconds: 20,
          steps: null,
        },
        timing: { kind: 'apneaWalk', startedWallAtMs: 1, tapsMs: [0] },
      }),
    );
    await confirm.click();
    // Asked twice: nothing brings it back.
    await page.getByText('Press once more if Mira wants that.', { exact: false }).waitFor();
    await page.getByRole('button', { name: 'Yes, erase it all' }).click();
    await page.getByText('Mira has been erased.').waitFor();
    expect(await page.evaluate(() => localStorage.getItem('slackwater.timing'))).toBeNull();
    await page.getByRole('button', { name: 'Close' }).click();
    await expect.poll(() => page.locator('.recording-list li').count()).toBe(1);
    expect(store.listSessions().map(({ session }) => session.sessionId)).toEqual(['other']);
    expect(store.listAthletes()).toEqual([]);
    expect(faults).toEqual([]);
  });
});

describe('the report', () => {
  test('every hold on paper with plots, measures, cautions, label and SIMULATED; the button prints', async () => {
    const store = openStoreInMemory();
    writeSession(store, {
      ...mira,
      athleteName: mira.name,
      title: 'SIMULATED evening',
      sessionId: 'evening',
      startedWallAtMs: Date.now() - day,
      holdsS: [60, 70, 80, 90, 95, 100, 100, 100, 100, 110, 110, 120, 150],
      seed: 5,
    });
    await open(store, '/recordings/evening', 'desktop');
    await page.getByRole('link', { name: 'Report to print' }).click();
    await page.getByRole('img', { name: /Saturation, % over the session, 13 holds/ }).waitFor();
    await looksAsItShould('report');
    // On a phone a hold is a card: its figures stand beside their names, and nothing scrolls sideways.
    await page.setViewportSize({ width: 390, height: 844 });
    const table = page.locator('.report-table');
    expect(
      await table.evaluate((each) => each.parentElement!.scrollWidth <= each.parentElement!.clientWidth),
    ).toBe(true);
    const cell = table.locator('tbody tr').first().locator('td').nth(1);
    expect(await cell.evaluate((each) => getComputedStyle(each, '::before').content)).toBe('"Duration"');
    expect(await table.getByRole('row').count()).toBe(14);
    await page.setViewportSize({ width: 1440, height: 900 });
    await page.evaluate('window.print = () => { window.printed = true; }');
    await page.getByRole('button', { name: 'Print or save as PDF' }).click();
    expect(await page.evaluate('window.printed')).toBe(true);

    await page.emulateMedia({ media: 'print', colorScheme: 'dark' });
    expect(await page.getByRole('navigation').count()).toBe(0);
    expect(await page.getByRole('button', { name: 'Print or save as PDF' }).count()).toBe(0);
    for (const words of [/SIMULATED: made by/, /Not a medical device\. It does/, /Never in or near water/])
      expect(await page.getByText(words).first().isVisible()).toBe(true);
    expect(await page.locator('.report-table tbody tr').count()).toBe(13);
    // Written by hand, without alarms: what the readings say is told all the same.
    await page
      .getByText(/^Readings were below the floor of 88\s%, and no alarm of it was recorded: hold/)
      .waitFor();
    const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
    mkdirSync(new URL('../../artefacts', import.meta.url).pathname, { recursive: true });
    writeFileSync(new URL('../../artefacts/report.pdf', import.meta.url).pathname, pdf);
    // Chromium writes page objects uncompressed.
    expect(pdf.toString('latin1').match(/\/Type\s*\/Page[^s]/g)!.length).toBeLessThanOrEqual(2);
    expect(faults).toEqual([]);
  });
});
