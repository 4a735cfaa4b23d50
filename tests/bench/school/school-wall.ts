// A wall of all rooms in Chromium: how soon it stands, what it takes of the page's thread, how soon an alarm that a hub sends is
// drawn in the frame and on the tile, and whether a phone still scrolls. SIMULATED.

import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { loadavg } from 'node:os';
import { setTimeout as pause } from 'node:timers/promises';
import type { Browser, CDPSession, Page } from 'playwright-core';
import { launchChromium, openPage, type WidthName } from '../../support/chromium-page.ts';
import { makeOwnBrowser } from '../../support/own-person.ts';
import { quantile } from '../hub.bench.ts';
import { giveOwnPriority, pageThreadMs } from '../page-thread.ts';

type Figures = Record<string, number>;

/** An alarm that is not drawn by then was not drawn. */
const mostAlarmMs = 5_000;

interface Called {
  readonly hub: string;
  readonly athleteId: string;
  readonly atWallMs: number;
}

/** What the page saw begin to call, by room and athlete, and when the frame in which it was drawn had been made. */
interface Seen {
  readonly where: 'frame' | 'tile';
  readonly room: string;
  readonly athlete: string;
  readonly atWallMs: number;
}

/** As text: what the bundler adds to a function does not exist in the page. */
const watchAlarms = `(() => {
  const seen = (window.seenAlarms = []);
  const calling = { frame: new Set(), tile: new Set() };
  const roomOf = (element, name) => element.closest('section')?.getAttribute('aria-label')?.replace(name, '') ?? '';
  const now = {
    tile: () => [...document.querySelectorAll('.rooms article.tile--alarm:not(.is-acknowledged)')].map((tile) =>
      [roomOf(tile, ''), tile.getAttribute('aria-label')]),
    frame: () => [...document.querySelectorAll('.room-alarms .alarm-row strong')].map((row) =>
      [roomOf(row, 'Alarms of '), row.textContent.split(':')[0]]),
  };
  const look = () => {
    for (const where of ['frame', 'tile']) {
      const keys = new Set(now[where]().map((each) => each.join('|')));
      const fresh = [...keys].filter((key) => !calling[where].has(key));
      calling[where] = keys;
      if (fresh.length > 0)
        requestAnimationFrame(() => setTimeout(() => {
          const atWallMs = performance.timeOrigin + performance.now();
          for (const key of fresh) seen.push({ where, room: key.split('|')[0], athlete: key.split('|')[1], atWallMs });
        }));
    }
  };
  new MutationObserver(look).observe(document.body, { subtree: true, childList: true, attributeFilter: ['class'] });
  look();
})()`;

const readingsShown = `[...document.querySelectorAll('.rooms .tiles > li .reading--spo2 .reading-digits')]
  .filter((digits) => /\\d/.test(digits.textContent)).length`;

const framesIn = (ms: number): string => `new Promise((resolve) => {
  const from = performance.now(); let last = from; let count = 0; let longest = 0;
  const step = (now) => { count += 1; longest = Math.max(longest, now - last); last = now;
    if (now - from < ${ms}) requestAnimationFrame(step); else resolve({ count, longest }); };
  requestAnimationFrame(step); })`;

async function metricsOf(devtools: CDPSession): Promise<ReadonlyMap<string, number>> {
  const { metrics } = await devtools.send('Performance.getMetrics');
  return new Map(metrics.map(({ name, value }) => [name, value]));
}

/** Delays of those that the page drew, and how many it did not. */
function matched(
  called: readonly Called[],
  seen: readonly Seen[],
  where: Seen['where'],
  untilWallMs: number,
): { readonly delaysMs: readonly number[]; readonly unseen: number } {
  const delaysMs: number[] = [];
  let unseen = 0;
  const taken = new Set<Seen>();
  for (const { hub, athleteId, atWallMs } of called) {
    if (atWallMs > untilWallMs - mostAlarmMs) continue;
    const found = seen.find(
      (each) =>
        each.where === where &&
        !taken.has(each) &&
        each.athlete === athleteId &&
        each.room.endsWith(hub) &&
        each.atWallMs >= atWallMs &&
        each.atWallMs < atWallMs + mostAlarmMs,
    );
    if (found === undefined) unseen += 1;
    else {
      taken.add(found);
      delaysMs.push(found.atWallMs - atWallMs);
    }
  }
  return { delaysMs, unseen };
}

const askCalled = async (many: ChildProcess): Promise<readonly Called[]> => {
  const answer = once(many, 'message');
  many.send('called');
  return (await answer)[0] as readonly Called[];
};

async function openWall(
  browser: Browser,
  url: string,
  athletes: number,
  width: WidthName,
  mostMs: number,
): Promise<{ readonly page: Page; readonly figures: Figures }> {
  const { page } = await openPage(browser, 'about:blank', { width, isKept: true });
  await makeOwnBrowser(page.context(), url);
  await page.goto(`${url}/about`);
  await giveOwnPriority(browser);
  let socketsClosed = 0;
  page.on('websocket', (socket) => socket.on('close', () => (socketsClosed += 1)));
  const beganAtMs = performance.now();
  await page.goto(`${url}/rooms`, { waitUntil: 'commit' });
  let shown = 0;
  while (performance.now() - beganAtMs < mostMs) {
    shown = await page.evaluate<number>(readingsShown);
    if (shown >= athletes) break;
    await pause(50);
  }
  const drawnAfterMs = performance.now() - beganAtMs;
  return {
    page,
    figures: { tilesWithReadings: shown, drawnAfterMs, socketsClosedWhileOpening: socketsClosed },
  };
}

/** What a wall of all rooms costs a browser, a second, and how late alarms are on it. */
export async function measureWall(
  url: string,
  many: ChildProcess,
  athletes: number,
  seconds: number,
  mostMs: number,
): Promise<Figures> {
  const browser = await launchChromium();
  try {
    const { page, figures } = await openWall(browser, url, athletes, 'desktop', mostMs);
    const devtools = await page.context().newCDPSession(page);
    await devtools.send('Performance.enable');
    await pause(3_000);
    const threadMs = await pageThreadMs(browser);
    await page.evaluate(watchAlarms);
    await askCalled(many);
    const [before, threadBefore] = [await metricsOf(devtools), threadMs()];
    const { count, longest } = await page.evaluate<{ count: number; longest: number }>(
      framesIn(seconds * 1_000),
    );
    const [after, threadAfter] = [await metricsOf(devtools), threadMs()];
    const untilWallMs = performance.timeOrigin + performance.now();
    const called = await askCalled(many);
    const seen = await page.evaluate<readonly Seen[]>('window.seenAlarms');
    const change = (name: string): number => (after.get(name) ?? 0) - (before.get(name) ?? 0);
    const elapsedS = change('Timestamp');
    const alarms = (where: Seen['where']): Figures => {
      const { delaysMs, unseen } = matched(called, seen, where, untilWallMs);
      return {
        [`${where}AlarmsDrawn`]: delaysMs.length,
        [`${where}AlarmsUndrawn`]: unseen,
        [`${where}AlarmP50Ms`]: quantile([...delaysMs], 0.5),
        [`${where}AlarmP99Ms`]: quantile([...delaysMs], 0.99),
        [`${where}AlarmMaxMs`]: quantile([...delaysMs], 1),
      };
    };
    return {
      athletes,
      ...figures,
      seconds: elapsedS,
      framesPerS: count / elapsedS,
      longestFrameMs: longest,
      threadMsPerS: (threadAfter - threadBefore) / elapsedS,
      busyMsPerS: (change('TaskDuration') * 1_000) / elapsedS,
      scriptMsPerS: (change('ScriptDuration') * 1_000) / elapsedS,
      styleAndLayoutMsPerS: ((change('LayoutDuration') + change('RecalcStyleDuration')) * 1_000) / elapsedS,
      heapBytes: after.get('JSHeapUsedSize') ?? 0,
      ...alarms('frame'),
      ...alarms('tile'),
      load: loadavg()[0]!,
    };
  } finally {
    await browser.close();
  }
}

/** From its head to the last tile, a turn of the wheel at a time: how it keeps up, and how soon the last has its trace. */
export async function measurePhoneWall(url: string, athletes: number, mostMs: number): Promise<Figures> {
  const browser = await launchChromium();
  try {
    const { page, figures } = await openWall(browser, url, athletes, 'phone', mostMs);
    await pause(3_000);
    const threadMs = await pageThreadMs(browser);
    const threadBefore = threadMs();
    const frames = page.evaluate<{ count: number; longest: number }>(framesIn(10_000));
    await page.mouse.move(195, 700);
    const beganAtMs = performance.now();
    while (performance.now() - beganAtMs < 9_000) {
      await page.mouse.wheel(0, 400);
      await pause(100);
    }
    const { count, longest } = await frames;
    const threadUsed = threadMs() - threadBefore;
    const scrolledPx = await page.evaluate<number>('scrollY');
    const jumpedAtMs = performance.now();
    await page.evaluate(`[...document.querySelectorAll('.rooms .tiles > li')].at(-1).scrollIntoView()`);
    await page.locator('.rooms .tiles > li').last().locator('.trace canvas').waitFor();
    return {
      athletes,
      ...figures,
      scrolledPx,
      framesPerS: count / 10,
      longestFrameMs: longest,
      threadMsPerS: threadUsed / 10,
      lastTileDrawnAfterMs: performance.now() - jumpedAtMs,
      load: loadavg()[0]!,
    };
  } finally {
    await browser.close();
  }
}
