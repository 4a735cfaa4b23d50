// An optional command of the user's, run at every change of what should sound: a lamp, a bell, a message.

import { type Said, said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import type { AlarmOutput, OutputTest } from './alarm-output.ts';
import { type RunCommand, runCommand } from './run-command.ts';

export interface UserCommandOptions {
  /** Program and its arguments; the priority is added as the last ("high", "medium", "low" or "none"). No shell. */
  readonly command: readonly [string, ...string[]];
  readonly run?: RunCommand;
  readonly failed?: (reason: Said) => void;
}

/** The command as an output. The test runs it with "test" as the last argument. */
export function createUserCommand(options: UserCommandOptions): AlarmOutput {
  const [program, ...args] = options.command;
  const run = options.run ?? runCommand;
  let last: AlarmPriority | null = null;
  return {
    name: said('output.command', { program }),
    async test(): Promise<OutputTest> {
      const reason = await run(program, [...args, 'test']).ended;
      return reason === null ? { ok: true } : { ok: false, reason };
    },
    sound(priority) {
      if (priority === last) return;
      last = priority;
      void run(program, [...args, priority ?? 'none']).ended.then((reason) => {
        if (reason !== null) options.failed?.(reason);
      });
    },
    close() {
      this.sound(null);
    },
  };
}
