// An optional command of the user's, run at every change of what should sound: a lamp, a bell, a message. One run at a
// time; one that fails, crashes or hangs is run again until it works or something else should sound.

import { type Said, said } from '../../shared/said.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { AlarmOutput, OutputHealth, OutputSound, OutputTest } from './alarm-output.ts';
import { backOffMs } from './back-off.ts';
import { type RunCommand, type RunningCommand, runCommand } from './run-command.ts';

/** A run that takes longer than this hangs. Our choice: a lamp or a bell takes moments, a message some seconds. */
const commandLimitMs = 10_000;

export interface UserCommandOptions {
  /** Program and its arguments; the priority is added as the last ("high", "medium", "low" or "none"), in a drill after
   * "drill". No shell. */
  readonly command: readonly [string, ...string[]];
  readonly clock: Clock;
  readonly run?: RunCommand;
  readonly health?: OutputHealth;
}

type Word = OutputSound | 'none';
/** A real alarm gives way to no drill. */
const urgency: Readonly<Record<Word, number>> = { high: 4, medium: 3, low: 2, drill: 1, none: 0 };
/** A drill rings what a high alarm rings, and says before it that it is one. */
const drillWords = ['drill', 'high'] as const;

/** The command as an output. The test runs it with "test" as the last argument, the silent probe with "check". */
export function createUserCommand(options: UserCommandOptions): AlarmOutput {
  return new UserCommand(options);
}

class UserCommand implements AlarmOutput {
  readonly name: Said;
  readonly #options: UserCommandOptions;
  readonly #run: RunCommand;
  #wanted: Word = 'none';
  /** What the last run that ended well was told; null from the start of another on, of which nobody knows what it did. */
  #told: Word | null = 'none';
  #running: { readonly word: Word; readonly command: RunningCommand } | undefined;
  #failures = 0;
  #cancelRetry: (() => void) | undefined;
  #isClosed = false;

  constructor(options: UserCommandOptions) {
    this.#options = options;
    this.#run = options.run ?? runCommand;
    this.name = said('output.command', { program: options.command[0] });
  }

  test(): Promise<OutputTest> {
    return this.#try('test');
  }

  async probe(): Promise<OutputTest> {
    // In use it is tested by its use.
    return this.#running === undefined && this.#failures === 0 ? this.#try('check') : { ok: true };
  }

  sound(what: OutputSound | null): void {
    const word = what ?? 'none';
    if (word === this.#wanted) return;
    this.#wanted = word;
    this.#failures = 0;
    this.#cancelRetry?.();
    // What is less urgent gives way at once; what is more urgent is let end, within its time.
    if (this.#running !== undefined && urgency[word] > urgency[this.#running.word]) {
      this.#running.command.stop();
      this.#running = undefined;
    }
    this.#next();
  }

  close(): void {
    if (this.#isClosed) return;
    this.#isClosed = true;
    this.#cancelRetry?.();
    this.#running?.command.stop();
    // Whatever burns or rings is told that it is over, as far as can be.
    if (this.#told !== 'none' || this.#running !== undefined) this.#start('none');
  }

  #next(): void {
    if (this.#isClosed || this.#running !== undefined || this.#wanted === this.#told) return;
    const word = this.#wanted;
    const { ended, running } = this.#start(word);
    this.#running = running;
    this.#told = null;
    void ended.then((fault) => {
      if (this.#running !== running) return;
      this.#running = undefined;
      this.#options.health?.(fault);
      if (fault === null) {
        this.#failures = 0;
        this.#told = word;
        this.#next();
        return;
      }
      this.#failures += 1;
      // Something else is wanted by now: at once.
      const delayMs = this.#wanted === word ? backOffMs(this.#failures) : 0;
      this.#cancelRetry = this.#options.clock.after(delayMs, () => this.#next());
    });
  }

  async #try(word: string): Promise<OutputTest> {
    const fault = await this.#start(word).ended;
    this.#options.health?.(fault);
    return fault === null ? { ok: true } : { ok: false, reason: fault };
  }

  #start(word: string) {
    const { clock, command: words } = this.#options;
    const [program, ...args] = words;
    const command = this.#run(program, [...args, ...(word === 'drill' ? drillWords : [word])]);
    let hangs = false;
    const cancel = clock.after(commandLimitMs, () => {
      hangs = true;
      command.stop();
    });
    const ended = command.ended.then((fault) => {
      cancel();
      return hangs ? said('output.tooLong', { program, seconds: commandLimitMs / 1000 }) : fault;
    });
    return { ended, running: { word: word as Word, command } };
  }
}
