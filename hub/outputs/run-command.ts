// Runs a program without a shell and says how it ended. The one place where alarm outputs start processes.

import { spawn } from 'node:child_process';

export interface RunningCommand {
  /** Null when it ended well, else a sentence. Never rejects. */
  readonly ended: Promise<string | null>;
  stop(): void;
}

export type RunCommand = (
  program: string,
  args: readonly string[],
  environment?: Readonly<Record<string, string>>,
) => RunningCommand;

export const runCommand: RunCommand = (program, args, environment = {}) => {
  const child = spawn(program, args, {
    stdio: ['ignore', 'ignore', 'pipe'],
    env: { ...process.env, ...environment },
  });
  let complaint = '';
  child.stderr?.on('data', (chunk: Buffer) => {
    // The first words are enough, and a talkative program must not fill the memory.
    if (complaint.length < 300) complaint += chunk.toString('utf8').slice(0, 300);
  });
  const ended = new Promise<string | null>((resolve) => {
    child.once('error', (error) => resolve(`${program} could not be started: ${error.message}`));
    child.once('exit', (code, signal) => {
      if (code === 0 || signal !== null) resolve(null);
      else resolve(`${program} ended with code ${code}${complaint === '' ? '' : `: ${complaint.trim()}`}`);
    });
  });
  return { ended, stop: () => void child.kill() };
};
