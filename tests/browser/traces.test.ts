// Looking closely at a recording's traces in a real browser: by mouse, by keys, by fingers; what is read there is what was recorded.

import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { beforeEach, describe, expect, test } from 'vitest';
import { openStoreInMemory } from '../../hub/recorder/sqlite-store.ts';
import { traceBodySchema } from '../../shared/http.ts';
import { monotonicMs } from '../../shared/units.ts';
import { axeViolations } from '../support/axe-check.ts';
import { browserSuite } from '../support/browser-suite.ts';
import { keepScreenshot, openPage, type WidthName, widths } from '../support/chromium-page.ts';
import { fetchAsOwn } from '../support/own-person.ts';
import { smallTargets } from '../support/seen-on-screen.ts';
import type { ServedTestHub } from '../support/serve-test-hub.ts';
import { serveWritten } from '../support/serve-written.ts';
import { writeSession } from '../support/written-sessions.ts';

const suite = browserSuite();
const mira = { athleteId: 'mira', athleteName: 'Mira', title: 'SIMULATED evening' };

let served: ServedTestHub;
let page: Page;
let faults: string[];

/** Two sessions of holds, with a silence of the clip, a note, and a long alarm of the system over two of the floor. */
beforeEach(async () => {
  const store = openStoreInMemory();
  writeSession(store, {
    ...mira,
    sessionId: 'before',
    startedWallAtMs: Date.now() - 3 * 86_400_000,
    holdsS: [95, 100, 120, 130, 140, 150, 90],
    seed: 4,
  });
  writeSession(store, {
    ...mira,
    sessionId: 'evening',
    startedWallAtMs: Date.now() - 86_400_000,
    holdsS: [90, 110, 150, 170, 185, 150, 120, 100],
    clipSilentS: { fromS: 200, toS: 260 },
    note: { atS: 300, text: 'warm hands' },
    ended: false,
  });
  const alarm = (alarmId: string, kind: string, priority: string, fromS: number, toS: number) =>
    store.saveAlarm('evening', {
      athleteId: 'mira',
      clearedAtMs: monotonicMs(toS * 1_000),
      alarm: {
        alarmId,
        kind,
        priority,
        highestPriority: priority,
        raisedAtMs: monotonicMs(fromS * 1_000),
        conditionPresent: false,
        timesPresent: 1,
        passedAtMs: monotonicMs(toS * 1_000),
        acknowledged: true,
        acknowledgedAtMs: monotonicMs(toS * 1_000),
        acknowledgedBy: '',
        value: null,
        worstValue: null,
        worstAtMs: null,
        limit: null,
        likely: null,
        subject: null,
        sensorId: null,
        detail: null,
        holdNear: true,
        message: 'Told then.',
        instruction: 'Done then.',
      } as never,
    });
  alarm('a1', 'pageUnresponsive', 'medium', 100, 1_500);
  alarm('a2', 'floorBreached', 'high', 730, 745);
  alarm('a3', 'floorBreached', 'high', 1_060, 1_090);
  store.endSession('evening', monotonicMs(2_365_000));
  served = suite.closeAfterTest(await serveWritten(store));
});

async function open(path = '/recordings/evening', width: WidthName = 'tablet'): Promise<void> {
  const opened = await openPage(suite.browser, `${served.url}${path}`, { width });
  ({ page, faults } = opened);
  suite.closeAfterTest(opened.context);
}
async function openTraces(width: WidthName = 'tablet'): Promise<void> {
  await open('/recordings/evening', width);
  await page.locator('.review-detail[aria-busy="false"] canvas').first().waitFor();
  await page.getByText(/Cleaned: what cannot be true/).waitFor();
  await page.locator('.review-traces').evaluate((element) => element.scrollIntoView({ block: 'start' }));
}
const rangeText = () => page.locator('.review-range').textContent();
const whole = '0:00 \u2013 39:25';

/** Every reading of the evening, as the hub has it. */
async function readings(channel: 'spo2Percent' | 'heartRateBpm') {
  const answer = await fetchAsOwn(
    `${served.url}/api/sessions/evening/athletes/mira/trace?points=8000&channels=${channel}`,
  );
  const [trace] = traceBodySchema.parse(await answer.json()).traces;
  return trace!.atMs.map((atMs, index) => ({ seconds: atMs / 1_000, value: trace!.value[index]! }));
}
const nearest = (all: { seconds: number; value: number }[], at: number) =>
  all.reduce((best, each) => (Math.abs(each.seconds - at) < Math.abs(best.seconds - at) ? each : best));

/** "5:30.0" */
function secondsOf(text: string): number {
  const [, minutes, seconds] = /(\d+):(\d+\.\d)/.exec(text)!;
  return 60 * Number(minutes) + Number(seconds);
}

/** Cells of the table of two points, by row: saturation, heart rate. */
async function pointRows(): Promise<Record<string, readonly string[]>> {
  const rows = await page.locator('table.trace-points tbody tr').all();
  return Object.fromEntries(
    await Promise.all(
      rows.map(async (row) => [
        (await row.locator('th').textContent())!,
        await row.locator('td').allTextContents(),
      ]),
    ),
  );
}

type Finger = { readonly x: number; readonly y: number; readonly id: number };

/** One screen: what begins on it goes on on it. */
async function fingers() {
  const screen = await page.context().newCDPSession(page);
  return (type: 'touchStart' | 'touchMove' | 'touchEnd', points: readonly Finger[]) =>
    screen.send('Input.dispatchTouchEvent', { type, touchPoints: [...points] });
}

describe('read at the cursor', () => {
  test('a mouse over one plot reads all of them at that time; a tap stays', async () => {
    await openTraces();
    await page.getByRole('button', { name: 'Next hold' }).click();
    await page.getByRole('button', { name: 'Next hold' }).click();
    await page.getByText('Every sample drawn.').waitFor();
    const [saturation, rates] = [await readings('spo2Percent'), await readings('heartRateBpm')];
    const box = (await page.locator('.trace-row--heart-rate .u-over').boundingBox())!;
    await page.mouse.move(box.x + box.width * 0.7, box.y + 20);
    const shown = async () => {
      const at = secondsOf((await page.locator('.trace-cursor-time span').first().textContent())!);
      const values = await page.locator('.trace-value').allTextContents();
      return { at, values };
    };
    await expect.poll(async () => (await shown()).at).toBeGreaterThan(400);
    const { at, values } = await shown();
    // The time is cut to a tenth: the reading is that of the next tenth at most.
    const near = (all: { seconds: number; value: number }[]) =>
      [nearest(all, at).value, nearest(all, at + 0.1).value].map(String);
    expect(near(saturation)).toContain(values[0]);
    expect(near(rates)).toContain(values[1]);
    await page.mouse.click(box.x + box.width * 0.7, box.y + 20);
    await page.mouse.move(5, 5);
    expect((await shown()).at).toBeCloseTo(at, 0);
    expect(faults).toEqual([]);
  });

  test('by keys: holds, events, the cursor, points, scales; Escape takes them away', async () => {
    await openTraces();
    const detail = page.getByRole('application');
    await detail.focus();
    const arrived = page.locator('.trace-arrived');
    await page.keyboard.press('n');
    await expect.poll(() => arrived.textContent()).toBe('Hold 1 of 8, from 1:30');
    await page.keyboard.press('n');
    await expect.poll(() => arrived.textContent()).toBe('Hold 2 of 8, from 5:30');
    // From half a minute before it to a minute after its end.
    expect(await rangeText()).toBe('5:00 \u2013 8:20');
    await page.keyboard.press('p');
    await page.keyboard.press('p');
    await expect.poll(() => arrived.textContent()).toBe('No earlier hold.');
    await page.keyboard.press('Shift+N');
    await expect.poll(() => arrived.textContent()).toMatch(/^Alarms may go unheard, 1:40$/);
    await page.keyboard.press('Shift+ArrowRight');
    await expect.poll(() => arrived.textContent()).toBe('At 1:41.0');
    await page.keyboard.press('1');
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('2');
    await page.locator('table.trace-points caption').getByText('A 1:41.0, B 1:43.0: +2').waitFor();
    await page.keyboard.press('Escape');
    await expect.poll(() => page.locator('table.trace-points').count()).toBe(0);
    expect(await page.locator('.trace-cursor').isVisible()).toBe(false);
    expect(faults).toEqual([]);
  });
});

test('between two points: change, rate, least, greatest, mean and time below the floor, of every reading', async () => {
  await openTraces('desktop');
  await page.getByRole('button', { name: 'Measure A\u2013B' }).click();
  await page.locator('table.trace-points').waitFor();
  // A third and two thirds of 2365 s: far more than a plot draws, which is why nothing may be taken from what is drawn.
  const [fromS, toS] = [2_365 / 3, (2 * 2_365) / 3];
  const rows = await pointRows();
  for (const [column, channel] of [
    [0, 'spo2Percent'],
    [1, 'heartRateBpm'],
  ] as const) {
    const all = await readings(channel);
    const within = all.filter(({ seconds }) => seconds >= fromS && seconds <= toS);
    const text = (value: number) => `${value < 0 ? '\u2212' : ''}${Math.abs(value)}`;
    expect([channel, rows['Lowest between']![column], rows['Highest between']![column]]).toEqual([
      channel,
      text(Math.min(...within.map(({ value }) => value))),
      text(Math.max(...within.map(({ value }) => value))),
    ]);
    const change = nearest(all, toS).value - nearest(all, fromS).value;
    expect(rows['From A to B']![column]).toBe(change > 0 ? `+${change}` : text(change));
    expect(rows['Readings']![column]).toBe(String(within.length));
    // A reading a second, each standing for a second.
    const mean = within.slice(0, -1).reduce((sum, { value }) => sum + value, 0) / (within.length - 1);
    expect(Number(rows['Mean']![column])).toBeCloseTo(mean, 1);
    if (channel === 'spo2Percent') {
      const below = within.slice(0, -1).filter(({ value }) => value < 88).length;
      expect(rows['Time below the floor of 88\u202f%']![0]).toBe(`${below}\u202fs`);
      expect(below).toBeGreaterThan(5);
    }
  }
  // B moved by keys, as any slider.
  const b = page.getByRole('slider', { name: 'Point B' });
  await b.focus();
  await page.keyboard.press('Shift+ArrowLeft');
  await page.keyboard.press('Enter');
  await page.locator('table.trace-points caption').getByText('B 26:06.6').waitFor();
  expect(faults).toEqual([]);
});

test('the wheel alone scrolls the page; with Ctrl it zooms, with Shift it moves', async () => {
  await openTraces('desktop');
  const box = (await page.locator('.trace-row--spo2').boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  const before = await page.evaluate(() => scrollY);
  await page.mouse.wheel(0, 120);
  await expect.poll(() => page.evaluate(() => scrollY)).toBeGreaterThan(before);
  expect(await rangeText()).toBe(whole);
  await page.keyboard.down('Control');
  await page.mouse.wheel(0, -240);
  await page.keyboard.up('Control');
  await expect.poll(rangeText).not.toBe(whole);
  const zoomed = await rangeText();
  await page.keyboard.down('Shift');
  await page.mouse.wheel(0, 200);
  await page.keyboard.up('Shift');
  await expect.poll(rangeText).not.toBe(zoomed);
  expect(faults).toEqual([]);
});

test('two fingers zoom, one moves, a tap reads, buttons do the rest', async () => {
  await openTraces('phone');
  const touch = await fingers();
  const box = (await page.locator('.trace-row--spo2').boundingBox())!;
  const y = box.y + box.height / 2;
  const [left, right] = [box.x + 160, box.x + 220];
  const two = (a: number, b: number) => [
    { x: a, y, id: 1 },
    { x: b, y, id: 2 },
  ];
  await touch('touchStart', [{ x: left, y, id: 1 }]);
  await touch('touchStart', two(left, right));
  for (let step = 1; step <= 6; step += 1) await touch('touchMove', two(left - 15 * step, right + 15 * step));
  await touch('touchEnd', []);
  await expect.poll(rangeText).not.toBe(whole);
  const zoomed = await rangeText();
  await touch('touchStart', [{ x: 300, y, id: 1 }]);
  for (let step = 1; step <= 5; step += 1) await touch('touchMove', [{ x: 300 - 20 * step, y, id: 1 }]);
  await touch('touchEnd', []);
  await expect.poll(rangeText).not.toBe(zoomed);
  const moved = await rangeText();
  await touch('touchStart', [{ x: 200, y, id: 1 }]);
  await touch('touchEnd', []);
  await page.locator('.trace-cursor').waitFor();
  expect(await rangeText()).toBe(moved);
  await page.getByRole('button', { name: 'Show all' }).click();
  await page.getByRole('button', { name: 'Next event' }).click();
  await page.getByRole('button', { name: 'Measure A\u2013B' }).click();
  await page.getByRole('button', { name: 'A here' }).click();
  await page.locator('table.trace-points').waitFor();
  expect(faults).toEqual([]);
});

test('the ends of the overview move what is shown, by drag and by keys', async () => {
  await openTraces('desktop');
  const [begin, end] = [
    page.getByRole('slider', { name: 'Beginning of what is shown' }),
    page.getByRole('slider', { name: 'End of what is shown' }),
  ];
  const box = (await end.boundingBox())!;
  // All of it is shown: the end is at the overview's own.
  await page.mouse.move(box.x + box.width - 5, box.y + 30);
  await page.mouse.down();
  await page.mouse.move(box.x - 500, box.y + 30, { steps: 4 });
  await page.mouse.up();
  await expect.poll(rangeText).toMatch(/^0:00 \u2013 (1\d|2[0-4]):/);
  await begin.focus();
  const before = await rangeText();
  await page.keyboard.press('Shift+ArrowRight');
  await expect.poll(rangeText).not.toBe(before);
  expect(await rangeText()).toMatch(/^1:58 /);
  expect(faults).toEqual([]);
});

/** How much of the plot's height the saturation's line takes, by its colour. */
const lineShare = () =>
  page.evaluate<number>(`(() => {
    const canvas = document.querySelector('.trace-row--spo2 canvas');
    const colour = getComputedStyle(document.documentElement).getPropertyValue('--trace-spo2').trim();
    const [r, g, b] = [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16));
    const { data, width, height } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
    let [top, bottom] = [height, 0];
    for (let y = 0; y < height; y += 1)
      for (let x = 0; x < width; x += 1) {
        const at = 4 * (y * width + x);
        if (Math.abs(data[at] - r) + Math.abs(data[at + 1] - g) + Math.abs(data[at + 2] - b) < 12) {
          top = Math.min(top, y);
          bottom = Math.max(bottom, y);
        }
      }
    return (bottom - top) / height;
  })()`);

test('scales: as usual, fitted to what is shown, or a person\u2019s own', async () => {
  await openTraces('desktop');
  await page.getByRole('button', { name: 'Next hold' }).click();
  await page.getByRole('button', { name: 'Next hold' }).click();
  await page.getByText('Every sample drawn.').waitFor();
  const usual = await lineShare();
  await page.getByText('More', { exact: true }).click();
  await page.getByLabel('Scales').selectOption('fitted');
  await expect.poll(lineShare).toBeGreaterThan(2 * usual);
  await page.getByLabel('Scales').selectOption('own');
  await page.getByLabel('SpO\u2082 from').fill('0');
  await expect.poll(lineShare).toBeLessThan(0.5 * usual);
  await page.getByLabel('SpO\u2082 from').fill('99');
  // No scale from 99 to 100: the last good one stands until the numbers make one.
  expect(await lineShare()).toBeLessThan(0.5 * usual);
  expect(faults).toEqual([]);
});

test('alarms have a lane each; nothing hides a floor alarm', async () => {
  await openTraces();
  const lanes = page.getByRole('list', { name: 'Alarms, a lane each' }).getByRole('listitem');
  await expect.poll(() => lanes.count()).toBe(2);
  expect(await lanes.nth(0).textContent()).toContain('Below the floor');
  expect(await lanes.nth(1).textContent()).toContain('Alarms may go unheard');
  expect(await lanes.nth(0).locator('.alarm-bar').count()).toBe(2);
  const floor = (await lanes.nth(0).locator('.alarm-bar').first().boundingBox())!;
  const system = (await lanes.nth(1).locator('.alarm-bar').boundingBox())!;
  expect(floor.y + floor.height).toBeLessThanOrEqual(system.y);
  // By the plots' own time: raised at 730 s of 2365.
  const plot = (await page.locator('.trace-row--spo2 .u-over').boundingBox())!;
  expect(floor.x - plot.x).toBeCloseTo((730 / 2_365) * plot.width, -0.5);
});

test('a picture says that it is no medical device and SIMULATED, and names nobody unless asked', async () => {
  await openTraces('desktop');
  await page.getByText('More', { exact: true }).click();
  await page.getByRole('button', { name: 'Save a picture' }).click();
  const save = async (name: string) => {
    const [download] = await Promise.all([
      page.waitForEvent('download'),
      page.getByRole('button', { name }).click(),
    ]);
    expect(download.suggestedFilename()).toMatch(/^slackwater-\d{4}-\d{2}-\d{2}-SIMULATED\.(svg|png)$/);
    return readFileSync(await download.path());
  };
  const svg = (await save('Save as SVG')).toString();
  expect(svg).toContain('Not a medical device.');
  expect(svg).toContain('>SIMULATED</text>');
  expect(svg).not.toContain('Mira');
  const png = await save('Save as PNG');
  expect(png.subarray(1, 4).toString()).toBe('PNG');
  // Twice the size of the drawing.
  expect(png.readUInt32BE(16)).toBe(2_400);
  await page.getByRole('checkbox', { name: 'With the athlete\u2019s name' }).check();
  expect((await save('Save as SVG')).toString()).toContain('Mira');
  expect(faults).toEqual([]);
});

test('of more holds than can be told apart the deepest are drawn, and it is said; sessions have their colours', async () => {
  await open('/weeks/mira/holds', 'desktop');
  await page.getByText('12 of 15 holds are drawn: those with the lowest saturation.').waitFor();
  expect(await page.locator('.plot-spo2 .plot-hold').count()).toBe(12);
  const ticked = page.locator('.compare-holds input:checked');
  expect(await ticked.count()).toBe(12);
  const colours = await page
    .locator('.plot-spo2 .plot-hold')
    .evaluateAll((lines) => [...new Set(lines.map((line) => getComputedStyle(line).color))].length);
  expect(colours).toBe(2);
  await page.locator('.compare-holds input:not(:checked)').first().check();
  await expect.poll(() => page.locator('.plot-spo2 .plot-hold').count()).toBe(13);
  expect(await page.getByText('holds are drawn: those with').count()).toBe(0);
  expect(faults).toEqual([]);
});

test('in light and dark, at three widths, in German: nothing too wide, nothing too small to press, no axe violation', async () => {
  for (const language of ['en', 'de'] as const) {
    const opened = await openPage(suite.browser, `${served.url}/recordings/evening`, { language });
    ({ page, faults } = opened);
    await page.locator('.review-detail[aria-busy="false"] canvas').first().waitFor();
    await page.getByRole('button', { name: /A\u2013B/ }).click();
    await page.locator('table.trace-points').waitFor();
    await page.locator('.tool-more summary').click();
    for (const theme of ['light', 'dark'] as const) {
      await page.emulateMedia({ colorScheme: theme });
      await page.locator(`html[data-theme="${theme}"]`).waitFor();
      expect(await axeViolations(page), theme).toEqual([]);
      for (const width of Object.keys(widths) as WidthName[]) {
        await page.setViewportSize(widths[width]);
        await page.evaluate(
          'new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))',
        );
        const overflow = await page.evaluate(
          () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
        );
        expect([language, theme, width, overflow]).toEqual([language, theme, width, 0]);
        if (language === 'en') await keepScreenshot(page, `traces-${theme}-${width}`, { fullPage: true });
      }
      expect([language, await smallTargets(page)]).toEqual([language, []]);
    }
    expect(faults).toEqual([]);
    await opened.context.close();
  }
});
