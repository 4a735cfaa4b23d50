// The page's own thread in Chromium: the processor time that it took, and a priority like the bench's.

import { readdirSync, readFileSync } from 'node:fs';
import { getPriority, setPriority } from 'node:os';
import type { Browser } from 'playwright-core';

/** Ticks of a process's time a second (proc_pid_stat(5)). */
const ticksPerSecond = 100;

async function processesOf(browser: Browser) {
  const devtools = await browser.newBrowserCDPSession();
  return (await devtools.send('SystemInfo.getProcessInfo')).processInfo;
}

/**
 * Chromium gives the page's threads a priority of its own, so that a bench that was put before other work of the machine (nice)
 * would be put before its own page too.
 */
export async function giveOwnPriority(browser: Browser): Promise<void> {
  const own = getPriority();
  if (own === 0) return;
  for (const { id } of await processesOf(browser))
    for (const thread of readdirSync(`/proc/${id}/task`)) setPriority(Number(thread), own);
}

/** Milliseconds of processor that the thread has taken: the first of the only renderer that a page works in. */
export async function pageThreadMs(browser: Browser): Promise<() => number> {
  const renderers = (await processesOf(browser)).filter(({ type }) => type === 'renderer');
  const busiest = renderers.sort((one, other) => other.cpuTime - one.cpuTime)[0];
  if (busiest === undefined) throw new Error('there is no page');
  return () => {
    const fields = readFileSync(`/proc/${busiest.id}/task/${busiest.id}/stat`, 'utf8')
      .replace(/^.*\) /, '')
      .split(' ');
    return ((Number(fields[11]) + Number(fields[12])) * 1_000) / ticksPerSecond;
  };
}
