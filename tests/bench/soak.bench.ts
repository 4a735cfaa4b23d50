// `npm run bench soak`: a session of 24 hours in simulated time (SIMULATED), passed as fast as a real Chromium takes its frames:
// memory after collection of the hub's process and of the page, each hour, and the slope fitted to it. Into soak-results.json.
// BENCH_SOAK_HOURS takes another length and writes nothing.

import { writeFileSync } from 'node:fs';
import { cpus, loadavg } from 'node:os';
import { setTimeout as pause } from 'node:timers/promises';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { launchChromium, openPage } from '../support/chromium-page.ts';
import { makeOwnBrowser } from '../support/own-person.ts';
import { holdsAgainAndAgain, openPageHub } from '../support/page-hub.ts';

const hours = Number(process.env['BENCH_SOAK_HOURS'] ?? 24);
const athleteCount = 2;
/** What is kept once (code, caches, twenty minutes of traces) is there by then. */
const settledAfterH = 3;
const heartbeatsAMinute = 120;

interface AtHour {
  readonly atH: number;
  readonly hubHeapMb: number;
  readonly pageHeapMb: number;
  readonly pageNodes: number;
}

/** Counts the heartbeats that came to the page, and the messages. In the page's own language: it runs before all else there. */
const counting = `window.soak = { heartbeats: 0, messages: 0 };
window.WebSocket = class extends WebSocket { constructor(...given) { super(...given);
  this.addEventListener('message', ({ data }) => { window.soak.messages += 1;
    if (typeof data === 'string' && data.includes('"heartbeat"')) window.soak.heartbeats += 1; }); } };`;

export async function benchSoak(): Promise<Record<string, number>> {
  setFlagsFromString('--expose-gc');
  const collect = runInNewContext('gc') as () => void;
  const loadBefore = loadavg()[0];
  const hub = await openPageHub({ athleteCount, simulated: true, bodyOf: holdsAgainAndAgain });
  const browser = await launchChromium();
  const { page, faults } = await openPage(browser, 'about:blank', { width: 'desktop', isKept: true });
  await page.addInitScript(counting);
  await makeOwnBrowser(page.context(), hub.url);
  await page.goto(`${hub.url}/live/athlete-1`);
  await page.locator('.reading--spo2.is-fresh').first().waitFor();
  if (process.env['BENCH_SOAK_PICTURE'] !== undefined)
    await page.screenshot({ path: process.env['BENCH_SOAK_PICTURE'] });
  const devtools = await page.context().newCDPSession(page);
  await devtools.send('Performance.enable');
  const count = (what: 'heartbeats' | 'messages') => page.evaluate(`window.soak.${what}`) as Promise<number>;
  while ((await count('heartbeats')) === 0) await pause(50);

  const samples: AtHour[] = [];
  const cpuBefore = process.cpuUsage();
  for (let atH = 1; atH <= hours; atH += 1) {
    for (let minute = 0; minute < 60; minute += 1) {
      const before = await count('heartbeats');
      hub.pass(60);
      while ((await count('heartbeats')) < before + heartbeatsAMinute) await pause(5);
    }
    collect();
    await devtools.send('HeapProfiler.collectGarbage');
    const { metrics } = await devtools.send('Performance.getMetrics');
    const metric = (wanted: string) => metrics.find(({ name }) => name === wanted)?.value ?? Number.NaN;
    const { heapUsed, external } = process.memoryUsage();
    samples.push({
      atH,
      hubHeapMb: mb(heapUsed + external),
      pageHeapMb: mb(metric('JSHeapUsedSize')),
      pageNodes: metric('Nodes'),
    });
    process.stderr.write(`${JSON.stringify(samples.at(-1))}\n`);
  }
  const { user, system } = process.cpuUsage(cpuBefore);
  const messages = await count('messages');
  await browser.close();
  await hub.close();

  const settled = samples.filter(({ atH }) => atH >= Math.min(settledAfterH, hours / 2));
  const figures = {
    hours,
    messagesToThePage: messages,
    hubProcessorSeconds: (user + system) / 1e6,
    ...Object.fromEntries(
      (['hubHeapMb', 'pageHeapMb', 'pageNodes'] as const).flatMap((of) => [
        [`${of}Start`, settled[0]?.[of] ?? Number.NaN],
        [`${of}Middle`, settled[Math.floor(settled.length / 2)]?.[of] ?? Number.NaN],
        [`${of}End`, settled.at(-1)?.[of] ?? Number.NaN],
        [`${of}SlopeAnHour`, slopeOf(settled.map((one) => [one.atH, one[of]]))],
      ]),
    ),
  };
  if (hours >= 24) write({ simulated: true, loadBefore, athletes: athleteCount, faults, figures, samples });
  return figures;
}

const mb = (bytes: number): number => Number((bytes / 2 ** 20).toFixed(2));

/** By least squares. */
export function slopeOf(points: readonly (readonly [number, number])[]): number {
  const mean = (of: (point: readonly [number, number]) => number): number =>
    points.reduce((sum, point) => sum + of(point), 0) / points.length;
  const [middleX, middleY] = [mean(([x]) => x), mean(([, y]) => y)];
  return mean(([x, y]) => (x - middleX) * (y - middleY)) / mean(([x]) => (x - middleX) ** 2);
}

function write(report: object): void {
  const whole = {
    date: new Date().toISOString().slice(0, 10),
    node: process.version,
    cores: cpus().length,
    processor: cpus()[0]?.model ?? 'unknown',
    loadAfter: loadavg()[0],
    ...report,
  };
  writeFileSync(
    new URL('soak-results.json', import.meta.url),
    `${JSON.stringify(whole, (_key, value) => (typeof value === 'number' ? Number(value.toPrecision(5)) : value), 2)}\n`,
  );
}
