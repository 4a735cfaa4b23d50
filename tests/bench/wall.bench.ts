// What the page costs: the wall with 16 athletes of the real hub at live rates in real Chromium, its weight, and two
// hours' heap.

import { readFileSync } from 'node:fs';
import { gzipSync } from 'node:zlib';
import type { CDPSession, Page } from 'playwright-core';
import type { DownMessage } from '../../shared/messages/down.ts';
import { monotonicMs } from '../../shared/units.ts';
import type { Trace } from '../../shared/views.ts';
import { launchChromium, openPage, timeToFirstReadingMs } from '../support/chromium-page.ts';
import { type FaultProxy, openFaultProxy } from '../support/fault-proxy.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { holdsAgainAndAgain, openPageHub, type PageHub } from '../support/page-hub.ts';
import { pageThreadMs } from './page-thread.ts';

const webRoot = new URL('../../dist/web/', import.meta.url).pathname;
const athleteCount = 16;
const rounds = 5;
const roundMs = 5_000;

/** Needs `npm run build:web` and Chromium; about 50 s. Medians over rounds; names say the units. */
export async function benchWall(): Promise<Record<string, number>> {
  const hub = await openPageHub({
    athleteCount,
    simulated: true,
    behindSeconds: 1_200,
    bodyOf: holdsAgainAndAgain,
  });
  const path = await openFaultProxy(hub.url);
  const browser = await launchChromium();
  try {
    const { page } = await openPage(browser, 'about:blank', { width: 'desktop', isKept: true });
    await makeOwnBrowser(page.context(), path.url);
    const firstReadingMs = await timeToFirstReadingMs(page, `${path.url}/wall`);
    const devtools = await page.context().newCDPSession(page);
    await devtools.send('Performance.enable');
    const threadMs = await pageThreadMs(browser);
    const live = await measureRounds(page, devtools, threadMs);
    const heap = await measureTwoHours(hub, path, devtools);
    return {
      pageWeightGzipBytes: pageWeightGzipBytes(),
      firstReadingMs: Math.round(firstReadingMs),
      ...live,
      ...heap,
    };
  } finally {
    await browser.close();
    await path.close();
    await hub.close();
  }
}

/** The page and what it names (script, modules, style, icon), compressed as a server would; later views excluded. */
function pageWeightGzipBytes(): number {
  const html = readFileSync(`${webRoot}index.html`, 'utf8');
  const named = [...html.matchAll(/(?:src|href)="\/([^"]+)"/g)].map((match) => match[1]!);
  return ['index.html', ...named].reduce(
    (sum, file) => sum + gzipSync(readFileSync(`${webRoot}${file}`)).length,
    0,
  );
}

async function metrics(devtools: CDPSession): Promise<ReadonlyMap<string, number>> {
  const answer = await devtools.send('Performance.getMetrics');
  return new Map(answer.metrics.map(({ name, value }) => [name, value]));
}

async function measureRounds(
  page: Page,
  devtools: CDPSession,
  threadMs: () => number,
): Promise<Record<string, number>> {
  const perSecond: { frames: number; script: number; style: number; task: number; thread: number }[] = [];
  for (let round = 0; round < rounds; round += 1) {
    const before = await metrics(devtools);
    const threadBeforeMs = threadMs();
    // As text, because the test runner's compiler adds helpers that a page does not have.
    const frames = (await page.evaluate(
      `new Promise((resolve) => { let count = 0; const from = performance.now(); const step = (now) => {
        count += 1; if (now - from < ${roundMs}) requestAnimationFrame(step); else resolve(count); };
        requestAnimationFrame(step); })`,
    )) as number;
    const after = await metrics(devtools);
    const change = (name: string) => (after.get(name) ?? 0) - (before.get(name) ?? 0);
    const seconds = change('Timestamp');
    perSecond.push({
      frames: frames / seconds,
      script: (change('ScriptDuration') * 1_000) / seconds,
      style: ((change('LayoutDuration') + change('RecalcStyleDuration')) * 1_000) / seconds,
      task: (change('TaskDuration') * 1_000) / seconds,
      thread: (threadMs() - threadBeforeMs) / seconds,
    });
  }
  const median = (key: keyof (typeof perSecond)[number]) =>
    Math.round(perSecond.map((entry) => entry[key]).sort((a, b) => a - b)[Math.floor(rounds / 2)]! * 10) / 10;
  return {
    wall16FramesPerSecond: median('frames'),
    wall16ScriptMsPerSecond: median('script'),
    wall16StyleAndLayoutMsPerSecond: median('style'),
    wall16TaskMsPerSecond: median('task'),
    wall16ThreadMsPerSecond: median('thread'),
  };
}

/** A reading a second of each channel, as the hub would tell them of a body. */
function tracesOf(index: number, fromMs: number, toMs: number): Trace[] {
  const atMs = Array.from(
    { length: Math.round((toMs - fromMs) / 1_000) },
    (_, second) => fromMs + second * 1_000,
  );
  const bodies = atMs.map((at) => holdsAgainAndAgain(index)(Math.round(at / 1_000)));
  const quality = 'g'.repeat(atMs.length);
  return [
    { channel: 'spo2Percent', atMs, value: bodies.map(({ spo2Percent }) => spo2Percent ?? 0), quality },
    { channel: 'heartRateBpm', atMs, value: bodies.map(({ heartRateBpm }) => heartRateBpm ?? 0), quality },
  ];
}

/** Two hours of samples for everyone, put into the page's path as fast as it takes them; the heap after each hour. */
async function measureTwoHours(
  hub: PageHub,
  path: FaultProxy,
  devtools: CDPSession,
): Promise<Record<string, number>> {
  const heapAfter = async () => {
    await devtools.send('HeapProfiler.collectGarbage');
    return (await metrics(devtools)).get('JSHeapUsedSize') ?? 0;
  };
  const startMs = hub.hub.sessionNowMs ?? 0;
  const sendHour = async (hour: number) => {
    for (let minute = 0; minute < 60; minute += 1) {
      const fromMs = startMs + (hour * 60 + minute) * 60_000;
      hub.athletes.forEach(({ athleteId }, index) => {
        const message: Extract<DownMessage, { type: 'trace' }> = {
          type: 'trace',
          athleteId,
          fromMs: monotonicMs(fromMs),
          toMs: monotonicMs(fromMs + 60_000),
          traces: tracesOf(index, fromMs, fromMs + 60_000),
          decimatedCount: 0,
        };
        path.inject(JSON.stringify(message));
      });
      // A turn of the event loop, so that the socket drains.
      await new Promise((resolve) => setImmediate(resolve));
    }
  };
  await sendHour(0);
  const afterOneHourBytes = await heapAfter();
  await sendHour(1);
  const afterTwoHoursBytes = await heapAfter();
  return { wall16HeapAfter1hBytes: afterOneHourBytes, wall16HeapAfter2hBytes: afterTwoHoursBytes };
}

if (process.argv[1] === new URL(import.meta.url).pathname) {
  console.log(JSON.stringify(await benchWall(), null, 2));
}
