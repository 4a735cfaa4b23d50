// The page in a real browser against the running demo: script time and frames while live, weight, time to first reading.

import { mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gzipSync } from 'node:zlib';
import { launchChromium, openPage, timeToFirstReadingMs } from '../support/chromium-page.ts';
import { startHub } from '../support/hub-process.ts';

const webDirectory = new URL('../../dist/web/', import.meta.url).pathname;
const watchMs = 15_000;

export async function benchPage(): Promise<Record<string, number>> {
  const data = mkdtempSync(join(tmpdir(), 'slackwater-page-bench-'));
  const hub = await startHub(['demo', '--port', '0', '--athletes', '16', '--data', data]);
  const browser = await launchChromium();
  const { page } = await openPage(browser, hub.url, { width: 'tablet', isKept: true });
  await page.getByRole('button', { name: 'Play the alarm' }).click();
  await page.getByRole('button', { name: 'I heard it' }).click();
  await page.getByText('I have read these').click();
  await page.getByRole('button', { name: 'Start session' }).click();
  await page.waitForTimeout(3_000);
  await page.goto(`${hub.url}wall`);
  await page.locator('canvas').first().waitFor();
  const devtools = await page.context().newCDPSession(page);
  await devtools.send('Performance.enable');
  const metrics = async () =>
    Object.fromEntries((await devtools.send('Performance.getMetrics')).metrics.map((m) => [m.name, m.value]));
  const before = await metrics();
  // As text: what the bundler adds to a function does not exist in the page.
  const frames = await page.evaluate<number>(`new Promise((resolve) => {
    let count = 0;
    const endMs = performance.now() + ${watchMs};
    const frame = () => {
      count += 1;
      if (performance.now() < endMs) requestAnimationFrame(frame);
      else resolve(count);
    };
    requestAnimationFrame(frame);
  })`);
  const after = await metrics();
  const seconds = watchMs / 1_000;
  const second = await openPage(browser, 'about:blank', { width: 'tablet', isKept: true });
  const firstReadingMs = await timeToFirstReadingMs(second.page, `${hub.url}wall`);
  await browser.close();
  await hub.stop();
  rmSync(data, { recursive: true, force: true });
  const assets = join(webDirectory, 'assets');
  // What the first page loads: the index, and the entry's script and style; views that load on demand come later.
  const index = readFileSync(join(webDirectory, 'index.html'), 'utf8');
  const first = readdirSync(assets).filter((name) => index.includes(name));
  const gzipBytes = first.reduce(
    (sum, name) => sum + gzipSync(readFileSync(join(assets, name))).length,
    gzipSync(index).length,
  );
  return {
    athletes: 16,
    framesPerSecond: frames / seconds,
    scriptMsPerSecond: ((after['ScriptDuration']! - before['ScriptDuration']!) * 1_000) / seconds,
    layoutMsPerSecond:
      ((after['LayoutDuration']! +
        after['RecalcStyleDuration']! -
        before['LayoutDuration']! -
        before['RecalcStyleDuration']!) *
        1_000) /
      seconds,
    heapMegabytes: after['JSHeapUsedSize']! / 1e6,
    openingToFirstReadingMs: firstReadingMs,
    firstPageGzipKilobytes: gzipBytes / 1_000,
  };
}
