// Cues as data: what may be shown, spoken or sounded at a moment of a run. A page decides by which means.
// No cue asks anyone to hold on, counts a hold's time aloud or praises its length; during a hold the only words
// are about breathing.

import type { MonotonicMs } from '../../shared/units.ts';

export type CueKind =
  | 'prepare'
  | 'countdown'
  | 'tick'
  | 'start'
  | 'startSwim'
  | 'ceilingNear'
  | 'breathe'
  | 'check'
  | 'aborted'
  | 'recover'
  | 'rest'
  | 'lastDone'
  | 'moved'
  | 'replanned'
  | 'skipped'
  | 'minimumOver'
  | 'paused'
  | 'resumed'
  | 'back'
  | 'timeUp'
  | 'finished';

/** Sounds a page makes for a cue: soft, unlike any alarm burst, and below alarm level. */
export type CueTone = 'none' | 'tick' | 'soft' | 'softRising' | 'softFalling' | 'clear';

export interface CueDefinition {
  /** Shown as text; also the spoken words unless `spoken` is false. */
  readonly text: string;
  readonly spoken: boolean;
  readonly tone: CueTone;
  /** True where the screen should flash softly, for people who hear neither words nor tones. */
  readonly flash: boolean;
}

const cue = (text: string, spoken: boolean, tone: CueTone, flash = false): CueDefinition => ({
  text,
  spoken,
  tone,
  flash,
});

/** Every cue there is. A finite list, so that spoken files can be made where there is no speech synthesis. */
export const cueDefinitions: Readonly<Record<CueKind, CueDefinition>> = {
  prepare: cue('One minute to the next start. Breathe calmly.', true, 'soft'),
  countdown: cue('Ten seconds.', true, 'soft', true),
  tick: cue('A moment.', false, 'tick', true),
  start: cue('Start when you are ready.', true, 'softRising', true),
  startSwim: cue('Swim when you are ready.', true, 'softRising', true),
  ceilingNear: cue('Ten seconds to the planned end. Breathe whenever you like.', true, 'soft', true),
  breathe: cue('Breathe now.', true, 'clear', true),
  check: cue('Breathe now. Buddy, check the athlete.', true, 'clear', true),
  aborted: cue('Breathe now. Buddy, check the athlete. Stopping here is suggested.', true, 'clear', true),
  recover: cue('Recover. Breathe calmly.', true, 'softFalling', true),
  rest: cue('Rest.', true, 'softFalling', true),
  lastDone: cue('That was the last one. Stay where you are for a minute.', true, 'softFalling', true),
  moved: cue('The next start waits.', true, 'soft', true),
  replanned: cue('The next start is planned again.', true, 'soft'),
  skipped: cue('A start is left out.', true, 'soft'),
  minimumOver: cue('The minimum recovery is over.', false, 'soft'),
  paused: cue('Paused.', true, 'soft'),
  resumed: cue('Going on.', true, 'soft'),
  back: cue('The hub was away. Starts in between were left out.', true, 'soft'),
  timeUp: cue('Time. Stop and rest.', true, 'clear', true),
  finished: cue('The plan is finished.', true, 'softFalling', true),
};

/** One cue of a run, for one athlete (null: for everyone). */
export interface Cue {
  readonly atMs: MonotonicMs;
  readonly athleteId: string | null;
  readonly kind: CueKind;
  /** Seconds that a tick stands for, or undefined. */
  readonly secondsLeft?: number;
  /** Why, for `moved`, `skipped` and `aborted`. */
  readonly reason?: string;
}
