// The checks in a process of their own, with less right to the processors than the hub: a disk that does not answer, a module
// that does not load or a write that takes long then holds up nothing of a session.

import { spawn } from 'node:child_process';
import { constants, setPriority } from 'node:os';
import * as z from 'zod/mini';
import { findingSchema } from '../../shared/computer-checks.ts';
import { type Said, said } from '../../shared/said.ts';
import { failed, ok, type Result } from '../../src/result.ts';
import { findBuiltFile } from '../base/built-file.ts';
import type { Config } from '../base/config.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { Finding } from './finding.ts';

/** Answers with every check's finding, or why there are none. */
export type CheckComputer = (asked: {
  /** False while a session is recorded. */
  readonly measuresDisk: boolean;
}) => Promise<Result<readonly Finding[], Said>>;

/** What the command is told of the hub that runs: its own settings, not those a new one would read. */
export type CheckedSettings = Pick<
  Config,
  | 'data'
  | 'host'
  | 'port'
  | 'lan'
  | 'lan-host'
  | 'lan-port'
  | 'certificate'
  | 'radio'
  | 'backup-folder'
  | 'backup-every'
>;

/** The slowest honest answer is that of a disk: eight writes of a second or two. Our choice. */
const endWithinMs = 30_000;
const mostOutput = 256 * 1024;

/** `program`: what to run with Node; the packaged program when left out. */
export function checkInProcess(
  settings: () => CheckedSettings,
  clock: Pick<Clock, 'after'>,
  program: readonly string[] | undefined = packagedProgram(),
): CheckComputer {
  return ({ measuresDisk }) =>
    program === undefined
      ? Promise.resolve(failed(said('machine.notRun', { reason: 'slackwater.mjs' })))
      : run(
          [...program, 'doctor', ...wordsOf(settings()), ...(measuresDisk ? [] : ['--no-disk-speed'])],
          clock,
        );
}

function packagedProgram(): readonly string[] | undefined {
  const path = findBuiltFile(import.meta.url, ['../../hub/slackwater.mjs', '../slackwater.mjs']);
  return path === undefined ? undefined : [path];
}

function wordsOf(settings: CheckedSettings): string[] {
  const words = Object.entries(settings).flatMap(([name, value]) =>
    value === undefined ? [] : [`--${name}=${value}`],
  );
  return ['--format', 'json', ...words];
}

function run(
  words: readonly string[],
  clock: Pick<Clock, 'after'>,
): Promise<Result<readonly Finding[], Said>> {
  return new Promise((resolve) => {
    const child = spawn(process.execPath, words, { stdio: ['ignore', 'pipe', 'pipe'] });
    lower(child.pid);
    let output = '';
    let complaint = '';
    const stopWaiting = clock.after(endWithinMs, () => {
      // Of a disk that never answers it may not even end: nothing waits for it any more.
      child.kill('SIGKILL');
      child.unref();
      resolve(failed(said('machine.tookTooLong', { seconds: endWithinMs / 1_000 })));
    });
    child.stdout.on('data', (chunk: Buffer) => {
      if (output.length < mostOutput) output += chunk.toString('utf8');
    });
    child.stderr.on('data', (chunk: Buffer) => {
      if (complaint.length < 300) complaint += chunk.toString('utf8').slice(0, 300);
    });
    child.once('error', (error) => resolve(failed(said('machine.notRun', { reason: error.message }))));
    child.once('close', () => {
      stopWaiting();
      const findings = read(output);
      resolve(findings === undefined ? failed(notRun(complaint)) : ok(findings));
    });
  });
}

const notRun = (complaint: string): Said =>
  said('machine.notRun', {
    reason: complaint
      .trim()
      .replace(/^slackwater: /, '')
      .replace(/\.$/, ''),
  });

function lower(pid: number | undefined): void {
  try {
    if (pid !== undefined) setPriority(pid, constants.priority.PRIORITY_BELOW_NORMAL);
  } catch {
    // It has ended already, or the system keeps no priorities.
  }
}

function read(text: string): readonly Finding[] | undefined {
  try {
    return z.parse(z.array(findingSchema), JSON.parse(text)) as readonly Finding[];
  } catch {
    // It said something else: why, stands on its other output.
    return undefined;
  }
}
