// The hub's own loudspeaker: plays WAV bursts made by the hub through whatever player the system has.

import { accessSync, constants, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { type Said, said } from '../../shared/said.ts';
import type { AlarmPriority } from '../../shared/schema-parts.ts';
import { alarmWav } from '../../src/alarms/alarm-wav.ts';
import { burstDurationMs, signalPatterns } from '../../src/alarms/signal-patterns.ts';
import type { Clock } from '../base/ports/clock.ts';
import type { AlarmOutput, OutputHealth, OutputSound, OutputTest } from './alarm-output.ts';
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
/** A player that is over before this share of the sound has played nothing. Our choice: some return a little early. */
const leastShare = 0.5;
/** After a burst that could not be played the next is tried soon. Our choice. */
const retryMs = 1_000;
const headerBytes = 44;

export interface LoudspeakerOptions {
  readonly clock: Clock;
  readonly run?: RunCommand;
  /** Whether a program can be found; the PATH is searched when left out. */
  readonly hasProgram?: (program: string) => boolean;
}

/** Makes the loudspeaker with the first player found; null when the system has none. Nothing is started yet. */
export function findLoudspeaker(options: LoudspeakerOptions): ((health: OutputHealth) => AlarmOutput) | null {
  const has = options.hasProgram ?? isOnPath;
  const player = players.find(({ program }) => has(program));
  return player === undefined ? null : (health) => new Loudspeaker(player, options, health);
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

/** Between the two soft notes that say "drill" and the burst. Our choice. */
const drillPauseMs = 1_200;
const drillLeadMs = burstDurationMs(signalPatterns.low.sound) + drillPauseMs;

/** The burst of a high alarm, announced by the two notes of the lowest: no real alarm begins so. */
function drillWav(): Uint8Array {
  const lead = alarmWav(signalPatterns.low.sound, drillPauseMs);
  const burst = alarmWav(signalPatterns.high.sound);
  const whole = new Uint8Array(lead.length + burst.length - headerBytes);
  whole.set(lead);
  whole.set(burst.subarray(headerBytes), lead.length);
  const view = new DataView(whole.buffer);
  const dataBytes = whole.length - headerBytes;
  view.setUint32(4, 36 + dataBytes, true);
  view.setUint32(40, dataBytes, true);
  return whole;
}

class Loudspeaker implements AlarmOutput {
  readonly name: Said;
  readonly #player: Player;
  readonly #clock: Clock;
  readonly #run: RunCommand;
  readonly #health: OutputHealth;
  readonly #folder: string;
  readonly #files: Readonly<Record<OutputSound | 'silence', string>>;
  #sounding: OutputSound | null = null;
  #playing: RunningCommand | undefined;
  #cancelNext: (() => void) | undefined;
  #isClosed = false;

  constructor(player: Player, options: LoudspeakerOptions, health: OutputHealth) {
    this.#player = player;
    this.name = said('output.loudspeaker', { program: player.program });
    this.#clock = options.clock;
    this.#run = options.run ?? runCommand;
    this.#health = health;
    this.#folder = mkdtempSync(join(tmpdir(), 'slackwater-sound-'));
    const fileOf = (name: string, wav: Uint8Array): string => {
      const file = join(this.#folder, `${name}.wav`);
      writeFileSync(file, wav);
      return file;
    };
    const burst = (priority: AlarmPriority): Uint8Array => alarmWav(signalPatterns[priority].sound);
    this.#files = {
      high: fileOf('high', burst('high')),
      medium: fileOf('medium', burst('medium')),
      low: fileOf('low', burst('low')),
      drill: fileOf('drill', drillWav()),
      // As long and of the same form as the low burst, and not to be heard.
      silence: fileOf('silence', burst('low').fill(0, headerBytes)),
    };
  }

  test(): Promise<OutputTest> {
    return this.#try('low', 'low');
  }

  /** Plays silence by the same way. While it sounds, each burst is a test. */
  async probe(): Promise<OutputTest> {
    return this.#sounding === null ? this.#try('silence', 'low') : { ok: true };
  }

  sound(what: OutputSound | null): void {
    if (what === this.#sounding) return;
    this.#sounding = what;
    this.#silence();
    if (what !== null) this.#burst(what);
  }

  close(): void {
    this.#isClosed = true;
    this.#sounding = null;
    this.#silence();
    rmSync(this.#folder, { recursive: true, force: true });
  }

  #silence(): void {
    this.#cancelNext?.();
    this.#cancelNext = undefined;
    this.#playing?.stop();
    this.#playing = undefined;
  }

  #burst(what: OutputSound): void {
    const priority = what === 'drill' ? 'high' : what;
    const playing = this.#play(what, priority);
    this.#playing = playing;
    void playing.ended.then((fault) => {
      // Something else sounds by now, or nothing should.
      if (this.#playing !== playing) return;
      this.#health(fault);
      const pauseMs = fault === null ? signalPatterns[priority].sound.interburstMs : retryMs;
      this.#cancelNext = this.#clock.after(pauseMs, () => {
        if (this.#sounding === what) this.#burst(what);
      });
    });
  }

  async #try(file: AlarmPriority | 'silence', length: AlarmPriority): Promise<OutputTest> {
    if (this.#isClosed) return { ok: true };
    const fault = await this.#play(file, length).ended;
    // Stopped by the end of the hub it says nothing.
    if (this.#isClosed) return { ok: true };
    this.#health(fault);
    return fault === null ? { ok: true } : { ok: false, reason: fault };
  }

  /** One run of the player: how it ended, at the latest when it hangs. */
  #play(file: OutputSound | 'silence', length: AlarmPriority): RunningCommand {
    const { program, argsFor } = this.#player;
    const soundMs = burstDurationMs(signalPatterns[length].sound) + (file === 'drill' ? drillLeadMs : 0);
    const begunAtMs = this.#clock.nowMs();
    const command = this.#run(program, argsFor(this.#files[file]));
    let isStopped = false;
    const stop = (): void => {
      isStopped = true;
      command.stop();
    };
    // A player that hangs (device in use) would silence every later burst.
    let cancel: () => void = () => undefined;
    const hung = new Promise<Said>((resolve) => {
      cancel = this.#clock.after(soundMs + hangMs, () => {
        stop();
        resolve(said('output.hangs', { program }));
      });
    });
    const over = command.ended.then((fault) => {
      cancel();
      if (fault !== null || isStopped) return fault;
      const playedMs = this.#clock.nowMs() - begunAtMs;
      return playedMs < soundMs * leastShare ? said('output.endedEarly', { program }) : null;
    });
    return {
      ended: Promise.race([hung, over]),
      stop: () => {
        cancel();
        stop();
      },
    };
  }
}
