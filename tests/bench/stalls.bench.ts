// The longest pause of the thread that carries alarms while recordings are used and while the disk is slow: with the recorder
// in its own thread, and in the same one as before. Goal: 100 ms at most, whatever the disk does. Written to stalls-results.json.

import { execFile } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { openSqliteStore } from '../../hub/recorder/sqlite-store.ts';
import { bundleModule } from '../support/bundled-module.ts';
import { bundleRecorder } from '../support/bundled-recorder.ts';
import { canFaultDisk, diskFaultEnvironment } from '../support/disk-fault.ts';
import { writeMonths, writeSession } from '../support/written-sessions.ts';

const results = new URL('./stalls-results.json', import.meta.url).pathname;
const run = promisify(execFile);

/** Sixty sessions, one of an hour and one of eight, with a 100 Hz wave each. */
function writeArchive(directory: string): void {
  const store = openSqliteStore({ directory });
  const mira = { athleteId: 'mira', name: 'Mira' };
  const startedWallAtMs = Date.UTC(2026, 3, 1, 18);
  writeMonths(store, mira, 60, startedWallAtMs);
  for (const [sessionId, hours] of [
    ['hour', 1],
    ['long', 8],
  ] as const)
    writeSession(store, {
      sessionId,
      athleteId: mira.athleteId,
      athleteName: mira.name,
      startedWallAtMs,
      title: 'SIMULATED with a wave',
      // Each hold of two minutes stands with a rest and a recovery of four together.
      holdsS: Array.from({ length: 10 * hours }, () => 120),
      wave: true,
    });
  store.close();
}

async function stallsWith(
  where: 'main' | 'thread',
  entries: readonly string[],
): Promise<Record<string, number>> {
  const folder = mkdtempSync(join(tmpdir(), 'slackwater-stalls-'));
  const directory = join(folder, 'data');
  const control = join(folder, 'control');
  mkdirSync(directory, { mode: 0o700 });
  try {
    writeArchive(directory);
    writeFileSync(control, '');
    const [child, ...threads] = entries;
    const { stdout } = await run(process.execPath, [child!, where, directory, control, ...threads], {
      env: { ...process.env, ...diskFaultEnvironment({ folder: directory, control }) },
    });
    return JSON.parse(stdout) as Record<string, number>;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const load = (): number => Math.round(loadavg()[0]! * 10) / 10;

export async function benchStalls(): Promise<Record<string, number>> {
  if (!canFaultDisk) throw new Error('needs Linux and gcc');
  const entries = [
    await bundleModule('tests/bench/stalls-child.ts', 'stalls-child.mjs'),
    await bundleRecorder(),
    await bundleModule('hub/recordings/review/review-worker.ts', 'stalls-review-worker.mjs'),
  ];
  const loads = [load()];
  const thread = await stallsWith('thread', entries);
  loads.push(load());
  const main = await stallsWith('main', entries);
  loads.push(load());
  const rounded = (stalls: Record<string, number>) =>
    Object.fromEntries(Object.entries(stalls).map(([name, ms]) => [name, Math.round(ms)]));
  const written = {
    // Of one minute: before, between and after. A pause is also what other programs on the machine make of it.
    loadAverage: loads,
    cores: cpus().length,
    recorderInItsThread: rounded(thread),
    recorderInTheThreadOfAlarms: rounded(main),
  };
  writeFileSync(results, `${JSON.stringify(written, null, 2)}\n`);
  return Object.fromEntries([
    ...Object.entries(thread),
    ...Object.entries(main).map(([name, ms]) => [`${name.replace(/Ms$/, '')}InOneThreadMs`, ms]),
  ]);
}
