// Starts a recording in a process of its own and kills it mid-work. For the crash test and the bench.

import { spawn } from 'node:child_process';
import { bundleModule } from '../support/bundled-module.ts';

/** Bundled, because most of a round is a process starting; answers with the file to run. */
export const bundleChild = (): Promise<string> =>
  bundleModule('tests/hub/recorder-child.ts', 'recorder-child.mjs');

export interface Killing {
  readonly directory: string;
  readonly durability: 'disk' | 'process';
  readonly sealAtBytes: number;
  /** Killed once it has reported this many commits, which is somewhere in the middle of a later one. */
  readonly commitsBeforeKill: number;
}

/** The number of packets that the killed process had reported as committed. */
export const recordAndKill = (
  child: string,
  { directory, durability, sealAtBytes, commitsBeforeKill }: Killing,
): Promise<number> =>
  runAndKill([child, 'recordUntilKilled', directory, durability, String(sealAtBytes)], commitsBeforeKill);

/** Runs a script that says numbers, and kills it once it has said so many; answers with the last. */
export function runAndKill(args: readonly string[], linesBeforeKill: number): Promise<number> {
  return new Promise((resolve, reject) => {
    const running = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'pipe'] });
    let output = '';
    let complaint = '';
    let lineCount = 0;
    running.stdout.setEncoding('utf8').on('data', (text: string) => {
      output += text;
      for (const character of text) if (character === '\n') lineCount++;
      if (lineCount >= linesBeforeKill) running.kill('SIGKILL');
    });
    running.stderr.setEncoding('utf8').on('data', (text: string) => {
      complaint += text;
    });
    running.on('error', reject);
    running.on('close', (code, signal) => {
      if (signal === 'SIGKILL') resolve(Number(output.split('\n').at(-2)));
      else reject(new Error(`the recording process ended by itself (${code}): ${complaint}`));
    });
  });
}
