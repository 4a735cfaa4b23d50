// Runs a program without a shell and says how it ended. The one place where alarm outputs start processes.

import { spawn } from 'node:child_process';
import { type Said, said } from '../../shared/said.ts';

export interface RunningCommand {
  /** Null when it ended well or was stopped, else why. Never rejects. */
  readonly ended: Promise<Said | null>;
  /** Asks it to end, and what it has started with it; kills what does not. */
  stop(): void;
}

export type RunCommand = (
  program: string,
  args: readonly string[],
  environment?: Readonly<Record<string, string>>,
) => RunningCommand;

/** What does not end when asked to is killed after this. Our choice. */
const killAfterMs = 1_000;

export const runCommand: RunCommand = (program, args, environment = {}) => {
  // A group of its own, so that a script's own children end with it. Windows has no such groups.
  const isGroup = process.platform !== 'win32';
  const child = spawn(program, args, {
    stdio: ['ignore', 'ignore', 'pipe'],
    env: { ...process.env, ...environment },
    detached: isGroup,
  });
  let complaint = '';
  let isStopped = false;
  let isOver = false;
  child.stderr?.on('data', (chunk: Buffer) => {
    // The first words are enough, and a talkative program must not fill the memory.
    if (complaint.length < 300) complaint += chunk.toString('utf8').slice(0, 300);
  });
  const ended = new Promise<Said | null>((resolve) => {
    child.once('error', (error) => resolve(said('output.notStarted', { program, reason: error.message })));
    child.once('exit', (code, signal) => {
      isOver = true;
      const text = complaint.trim().replace(/\.$/, '');
      if (isStopped || code === 0) resolve(null);
      else if (signal !== null) resolve(said('output.endedBySignal', { program, signal }));
      else if (text === '') resolve(said('output.endedWithCode', { program, code: code ?? -1 }));
      else resolve(said('output.endedWithCodeAndText', { program, code: code ?? -1, text }));
    });
  });
  const send = (signal: NodeJS.Signals): void => {
    try {
      if (isGroup && child.pid !== undefined) process.kill(-child.pid, signal);
      else child.kill(signal);
    } catch {
      // It has ended meanwhile.
    }
  };
  return {
    ended,
    stop: () => {
      if (isOver || isStopped) return;
      isStopped = true;
      send('SIGTERM');
      setTimeout(() => {
        if (!isOver) send('SIGKILL');
      }, killAfterMs).unref();
    },
  };
};
