// Cues of the plan that runs, for the whole page: begun by opening the plan's page, given on every view until the run is
// over. A page that never opened it stays quiet, so that a room hears each cue from where the plan is led; where one page was
// chosen to give them, it alone does.

import { computed, effect, signal } from '@preact/signals';
import type { Cue } from '../../src/plans/cue.ts';
import type { CuePlayer } from '../audio/cue-player.ts';
import type { CuePreferences } from '../state/cue-preferences.ts';
import type { PlanRunFollower } from '../state/plan-run-follower.ts';
import type { CueSpeaking } from './cue-speaking.ts';
import { WakeLock } from './wake-lock.ts';

export interface PlanCuesParts {
  readonly player: CuePlayer;
  readonly preferences: CuePreferences;
  readonly follower: PlanRunFollower;
  /** Where a reload of this tab finds that it gives the cues. */
  readonly memory: Pick<Storage, 'getItem' | 'setItem'>;
  readonly speaking: CueSpeaking;
}

const memoryKey = 'slackwater.ledRun';

export class PlanCues {
  readonly player: CuePlayer;
  readonly preferences: CuePreferences;
  readonly speaking: CueSpeaking;
  readonly lastCue = signal<Cue | null>(null);
  /** By athlete; said before a cue where several are in the plan. */
  readonly names = signal<ReadonlyMap<string, string>>(new Map());
  /** The run whose page was opened here. */
  readonly #ledRunId = signal<string | null>(null);
  readonly #follower: PlanRunFollower;
  readonly #memory: PlanCuesParts['memory'];
  /** Whether this page gives the cues of a run that goes on. */
  readonly isLed = computed(
    () => this.#follower.running.value && this.#follower.run.value?.runId === this.#ledRunId.value,
  );

  constructor({ player, preferences, follower, memory, speaking }: PlanCuesParts) {
    this.speaking = speaking;
    this.player = player;
    this.preferences = preferences;
    this.#follower = follower;
    this.#memory = memory;
    this.#ledRunId.value = memory.getItem(memoryKey);
    follower.onCue((cue) => this.#give(cue));
    const wakeLock = new WakeLock();
    effect(() => wakeLock.keepAwake(this.isLed.value));
  }

  /** The page of the run that goes on has been opened. */
  lead(): void {
    const runId = this.#follower.run.value?.runId ?? null;
    this.#ledRunId.value = runId;
    if (runId !== null) this.#memory.setItem(memoryKey, runId);
  }

  #give(cue: Cue): void {
    const run = this.#follower.run.value;
    const isHere = this.speaking.where.value === 'here';
    if (run === null || !(isHere || run.runId === this.#ledRunId.value)) return;
    const shown = this.#follower.shownAthleteIds.value;
    if (shown !== null && cue.athleteId !== null && !shown.includes(cue.athleteId)) return;
    this.lastCue.value = cue;
    const several = (shown ?? run.options.athletes).length > 1;
    // Shown on every page that leads; heard from one.
    if (this.speaking.where.value === 'elsewhere') return;
    const isNamed = this.preferences.names.value;
    const name =
      isNamed && several && cue.athleteId !== null ? (this.names.value.get(cue.athleteId) ?? null) : null;
    this.player.play(cue.kind, name);
  }
}
