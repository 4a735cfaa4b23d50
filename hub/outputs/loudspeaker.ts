// The hub's own loudspeaker: plays WAV bursts made by the hub through whatever player the system has.

import { accessSync, constants, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { type Said, said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { alarmWav } from '../../src/alarms/alarm-wav.ts';
import { burstDurationMs, signalPatterns } from '../../src/alarms/signal-patterns.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { AlarmOutput, OutputTest } from './alarm-output.ts';
import { type RunCommand, type RunningCommand, runCommand } from './run-command.ts';

interface Player {
  readonly program: string;
  readonly argsFor: (file: string) => readonly string[];
}

/** Tried in this order. The file's path goes in as its own argument, never through a shell. */
const players: readonly Player[] = [
  { program: 'pw-play', argsFor: (file) => [file] },
  { program: 'paplay', argsFor: (file) => [file] },
  { program: 'aplay', argsFor: (file) => ['-q', file] },
  { program: 'afplay', argsFor: (file) => [file] },
  {
    program: process.platform === 'win32' ? 'powershell.exe' : 'powershell',
    argsFor: (file) => [
      '-NoProfile',
      '-Command',
      // A single quote inside a single-quoted PowerShell string is doubled.
      `(New-Object Media.SoundPlayer '${file.replaceAll("'", "''")}').PlaySync()`,
    ],
  },
];

/** A burst that takes so much longer than its length hangs. Our choice. */
const hangMs = 4_000;

export interface LoudspeakerOptions {
  readonly clock: Clock;
  readonly run?: RunCommand;
  /** Whether a program can be found; the PATH is searched when left out. */
  readonly hasProgram?: (program: string) => boolean;
  /** Told when a burst could not be played, at most once until one can. */
  readonly failed?: (reason: Said) => void;
}

/** The loudspeaker with the first player found, or null with nothing started when the system has none. */
export function findLoudspeaker(options: LoudspeakerOptions): AlarmOutput | null {
  const has = options.hasProgram ?? isOnPath;
  const player = players.find(({ program }) => has(program));
  return player === undefined ? null : new Loudspeaker(player, options);
}

function isOnPath(program: string): boolean {
  return (process.env['PATH'] ?? '').split(delimiter).some((folder) => {
    if (folder === '') return false;
    try {
      accessSync(join(folder, program), constants.X_OK);
      return true;
    } catch {
      return false;
    }
  });
}

class Loudspeaker implements AlarmOutput {
  readonly name: Said;
  readonly #player: Player;
  readonly #clock: Clock;
  readonly #run: RunCommand;
  readonly #failed: ((reason: Said) => void) | undefined;
  readonly #folder: string;
  readonly #files: Readonly<Record<AlarmPriority, string>>;
  #priority: AlarmPriority | null = null;
  #playing: RunningCommand | undefined;
  #cancelNext: (() => void) | undefined;
  #hasFailed = false;

  constructor(player: Player, options: LoudspeakerOptions) {
    this.#player = player;
    this.name = said('output.loudspeaker', { program: player.program });
    this.#clock = options.clock;
    this.#run = options.run ?? runCommand;
    this.#failed = options.failed;
    this.#folder = mkdtempSync(join(tmpdir(), 'slackwater-sound-'));
    const fileOf = (priority: AlarmPriority): string => {
      const file = join(this.#folder, `${priority}.wav`);
      writeFileSync(file, alarmWav(signalPatterns[priority].sound));
      return file;
    };
    this.#files = { high: fileOf('high'), medium: fileOf('medium'), low: fileOf('low') };
  }

  async test(): Promise<OutputTest> {
    const reason = await this.#run(this.#player.program, this.#player.argsFor(this.#files.low)).ended;
    return reason === null ? { ok: true } : { ok: false, reason };
  }

  sound(priority: AlarmPriority | null): void {
    if (priority === this.#priority) return;
    this.#priority = priority;
    this.#silence();
    if (priority !== null) this.#burst(priority);
  }

  close(): void {
    this.#priority = null;
    this.#silence();
    rmSync(this.#folder, { recursive: true, force: true });
  }

  #silence(): void {
    this.#cancelNext?.();
    this.#cancelNext = undefined;
    this.#playing?.stop();
    this.#playing = undefined;
  }

  #burst(priority: AlarmPriority): void {
    const playing = this.#run(this.#player.program, this.#player.argsFor(this.#files[priority]));
    this.#playing = playing;
    // A player that hangs (device in use) would silence every later burst.
    const patienceMs = burstDurationMs(signalPatterns[priority].sound) + hangMs;
    this.#cancelNext = this.#clock.after(patienceMs, () => {
      this.#hasFailed = true;
      this.#failed?.(said('output.hangs', { program: this.#player.program }));
      this.#silence();
      if (this.#priority === priority) this.#burst(priority);
    });
    void playing.ended.then((reason) => {
      if (reason !== null && !this.#hasFailed) this.#failed?.(reason);
      if (this.#playing === playing) this.#hasFailed = reason !== null;
      // Something else sounds by now, or nothing should.
      if (this.#playing !== playing) return;
      this.#cancelNext?.();
      this.#cancelNext = this.#clock.after(signalPatterns[priority].sound.interburstMs, () => {
        if (this.#priority === priority) this.#burst(priority);
      });
    });
  }
}
