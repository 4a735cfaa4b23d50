// Runs a program without a shell and says how it ended. The one place where alarm outputs start processes.

import { spawn } from 'node:child_process';
import { type Said, said } from '../../shared/said.ts';

export interface RunningCommand {
  /** Null when it ended well. Never rejects. */
  readonly ended: Promise<Said | null>;
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
  const ended = new Promise<Said | null>((resolve) => {
    child.once('error', (error) => resolve(said('output.notStarted', { program, reason: error.message })));
    child.once('exit', (code, signal) => {
      const text = complaint.trim().replace(/\.$/, '');
      if (code === 0 || code === null || signal !== null) resolve(null);
      else if (text === '') resolve(said('output.endedWithCode', { program, code }));
      else resolve(said('output.endedWithCodeAndText', { program, code, text }));
    });
  });
  return { ended, stop: () => void child.kill() };
};
