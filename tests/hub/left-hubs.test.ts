// What tests of real hubs leave: ended and taken away with the run, or by the next one after a run that was killed.

import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { startHub } from '../support/hub-process.ts';
import { buildsVariable, clearAfter, clearAfterTheDead } from '../tools/own-hub-processes.ts';

const folder = mkdtempSync(join(tmpdir(), 'left-'));
const started: ChildProcess[] = [];
afterEach(() => {
  for (const child of started.splice(0)) child.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
});

/** As a hub is started by a test: its program named on the command line. */
async function startedFrom(build: string): Promise<ChildProcess> {
  mkdirSync(join(folder, build), { recursive: true });
  const program = join(folder, build, 'main.mjs');
  writeFileSync(program, "console.log('up'); setInterval(() => undefined, 1_000);");
  const child = spawn(process.execPath, [program], { stdio: ['ignore', 'pipe', 'inherit'] });
  started.push(child);
  await once(child.stdout!, 'data');
  return child;
}

const aDeadPid = async (): Promise<number> => {
  const child = spawn(process.execPath, ['-e', '']);
  await once(child, 'exit');
  return child.pid!;
};

test('a hub of the run is ended with its build; one of another run goes on', async () => {
  const own = await startedFrom(`test-hub-${process.pid}-1`);
  const other = await startedFrom('test-hub-1-1');
  const ended = once(own, 'exit');
  clearAfter(join(folder, `test-hub-${process.pid}`));
  expect(await ended).toEqual([null, 'SIGKILL']);
  expect(readdirSync(folder)).toEqual(['test-hub-1-1']);
  expect(other.exitCode ?? other.signalCode).toBeNull();
});

test('of a run that was killed nothing is left once another begins; of one that lives all is', async () => {
  const dead = await aDeadPid();
  const left = await startedFrom(`test-hub-${dead}-2`);
  for (const name of [`test-hub-${dead}`, `test-hub-${process.pid}-1`, 'hub', 'tests'])
    mkdirSync(join(folder, name), { recursive: true });
  for (const name of [`worker-${dead}.mjs`, `fault-${dead}.so`, `worker-${process.pid}.mjs`, 'child.mjs'])
    writeFileSync(join(folder, 'tests', name), '');
  const ended = once(left, 'exit');
  clearAfterTheDead(folder);
  expect(await ended).toEqual([null, 'SIGKILL']);
  expect(readdirSync(folder).sort()).toEqual(['hub', `test-hub-${process.pid}-1`, 'tests']);
  expect(readdirSync(join(folder, 'tests')).sort()).toEqual(['child.mjs', `worker-${process.pid}.mjs`]);
});

test('a real hub and its watchdog are found by what they were started from', async () => {
  const hub = await startHub(['demo', '--port', '0', '--data', join(folder, 'data')], {}, { watched: true });
  try {
    await expect.poll(() => hub.watchdogPid()).toBeDefined();
    for (const pid of [hub.pid, hub.watchdogPid()!])
      expect(readFileSync(`/proc/${pid}/cmdline`, 'utf8')).toContain(`${process.env[buildsVariable]!}-`);
  } finally {
    await hub.stop();
  }
});
