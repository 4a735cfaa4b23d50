// Whether the disks behind some paths answer at all: a network folder whose server is gone holds up for ever whoever asks.

import { spawn } from 'node:child_process';

/** Long for a disk that wakes up; a person who waits longer thinks that the program hangs. Of our own choosing. */
const answerWithinMs = 5_000;

/** A pipe or a device is opened like a file, and then waits for bytes that never come. */
export type PathFault = { readonly path: string; readonly fault: 'silent' | 'noFile' };

// In a process of its own: a call that the system holds up can't be given up, and would keep this one from ending.
const asker = `
const { statSync } = require('node:fs');
for (const path of process.argv.slice(1)) {
  process.stdout.write('?' + JSON.stringify(path) + '\\n');
  const found = statSync(path, { throwIfNoEntry: false });
  const isOther = found !== undefined && !found.isFile() && !found.isDirectory() && path !== '/dev/null' && path !== '/dev/stdin';
  if (isOther) process.stdout.write('!' + JSON.stringify(path) + '\\n');
}`;

/** The first path that is no file or folder, or does not answer in time; undefined when all is well. What is not there is well. */
export function findPathFault(
  paths: readonly string[],
  withinMs: number = answerWithinMs,
  askerProgram: string = asker,
): Promise<PathFault | undefined> {
  if (paths.length === 0) return Promise.resolve(undefined);
  return new Promise((resolve) => {
    const child = spawn(process.execPath, ['-e', askerProgram, '--', ...paths], {
      stdio: ['ignore', 'pipe', 'ignore'],
    });
    let told = '';
    child.stdout.setEncoding('utf8').on('data', (text: string) => {
      told += text;
    });
    const lines = (): string[] => told.split('\n').filter((line) => line !== '');
    const settle = (fault: PathFault | undefined): void => {
      clearTimeout(timer);
      child.removeAllListeners();
      child.stdout.destroy();
      child.unref();
      child.kill('SIGKILL');
      resolve(fault);
    };
    const timer = setTimeout(() => {
      const asked = lines().at(-1);
      settle({ path: asked === undefined ? paths[0]! : JSON.parse(asked.slice(1)), fault: 'silent' });
    }, withinMs);
    child.on('close', () => {
      const odd = lines().find((line) => line.startsWith('!'));
      settle(odd === undefined ? undefined : { path: JSON.parse(odd.slice(1)), fault: 'noFile' });
    });
    // It could not even be started: then nothing is known, and the command finds out itself.
    child.on('error', () => settle(undefined));
  });
}
