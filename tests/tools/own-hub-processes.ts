// Before and after a run of tests: what real hubs of it left running is ended, and their builds are taken away. A worker that the
// runner stops does neither, and a run that was killed is cleared up after by the next.

import { readdirSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';

const dist = new URL('../../dist', import.meta.url).pathname;
/** How the folders of a run's builds begin: one a worker, beside the real build, whose neighbours they find as it does. */
export const buildsVariable = 'SLACKWATER_TEST_HUBS';

export default function setUp(): () => void {
  // Asked once for the run and once for each project of it.
  if (process.env[buildsVariable] !== undefined) return () => undefined;
  clearAfterTheDead(dist);
  const builds = join(dist, `test-hub-${process.pid}`);
  process.env[buildsVariable] = builds;
  return () => {
    delete process.env[buildsVariable];
    clearAfter(builds);
    clearAfterTheDead(dist);
  };
}

/** Ends what runs from these builds, by its command line, and takes them away. `builds`: how their folders begin. */
export function clearAfter(builds: string): void {
  for (const pid of runningFrom(`${builds}-`)) {
    try {
      process.kill(pid, 'SIGKILL');
    } catch {
      // It has ended by itself.
    }
  }
  const folder = join(builds, '..');
  for (const name of namesIn(folder))
    if (join(folder, name).startsWith(`${builds}-`))
      rmSync(join(folder, name), { recursive: true, force: true, maxRetries: 5 });
}

/** Of runs and workers that are no more: builds, and files that are named for the process that made them. */
export function clearAfterTheDead(folder: string): void {
  for (const name of namesIn(folder)) {
    const pid = /^test-hub-(\d+)(?:-\d+)?$/.exec(name)?.[1];
    if (pid === undefined || isAlive(Number(pid))) continue;
    clearAfter(join(folder, `test-hub-${pid}`));
    // As they were called before there was one a worker.
    rmSync(join(folder, `test-hub-${pid}`), { recursive: true, force: true });
  }
  for (const name of namesIn(join(folder, 'tests'))) {
    const pid = /-(\d+)(?:\.mjs|\.so)?$/.exec(name)?.[1];
    if (pid !== undefined && !isAlive(Number(pid)))
      rmSync(join(folder, 'tests', name), { recursive: true, force: true });
  }
}

function namesIn(folder: string): readonly string[] {
  try {
    return readdirSync(folder);
  } catch {
    return [];
  }
}

function isAlive(pid: number): boolean {
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

/** Linux only; elsewhere none is found. */
function runningFrom(path: string): readonly number[] {
  return namesIn('/proc').flatMap((name) => {
    if (!/^\d+$/.test(name) || Number(name) === process.pid) return [];
    try {
      return readFileSync(join('/proc', name, 'cmdline'), 'utf8').includes(path) ? Number(name) : [];
    } catch {
      return [];
    }
  });
}
