// Cues as data: what may be shown, spoken or sounded at a moment of a run. A page decides by which means.
// No cue asks anyone to hold on, counts a hold's time aloud or praises its length; during a hold the only words
// are about breathing.

import { type Said, said } from '../../shared/said.ts';
import type { MonotonicMs } from '../../shared/units.ts';

type SaidCueCode = `cue.${CueKind}`;

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
  /** Shown; also spoken unless `spoken` is false. */
  readonly said: Said;
  readonly spoken: boolean;
  readonly tone: CueTone;
  /** True where the screen should flash softly, for people who hear neither words nor tones. */
  readonly flash: boolean;
}

const cue = (code: SaidCueCode, spoken: boolean, tone: CueTone, flash = false): CueDefinition => ({
  said: said(code),
  spoken,
  tone,
  flash,
});

/** Every cue there is. A finite list, so that spoken files can be made where there is no speech synthesis. */
export const cueDefinitions: Readonly<Record<CueKind, CueDefinition>> = {
  prepare: cue('cue.prepare', true, 'soft'),
  countdown: cue('cue.countdown', true, 'soft', true),
  tick: cue('cue.tick', false, 'tick', true),
  start: cue('cue.start', true, 'softRising', true),
  startSwim: cue('cue.startSwim', true, 'softRising', true),
  ceilingNear: cue('cue.ceilingNear', true, 'soft', true),
  breathe: cue('cue.breathe', true, 'clear', true),
  check: cue('cue.check', true, 'clear', true),
  aborted: cue('cue.aborted', true, 'clear', true),
  recover: cue('cue.recover', true, 'softFalling', true),
  rest: cue('cue.rest', true, 'softFalling', true),
  lastDone: cue('cue.lastDone', true, 'softFalling', true),
  moved: cue('cue.moved', true, 'soft', true),
  replanned: cue('cue.replanned', true, 'soft'),
  skipped: cue('cue.skipped', true, 'soft'),
  minimumOver: cue('cue.minimumOver', false, 'soft'),
  paused: cue('cue.paused', true, 'soft'),
  resumed: cue('cue.resumed', true, 'soft'),
  back: cue('cue.back', true, 'soft'),
  timeUp: cue('cue.timeUp', true, 'clear', true),
  finished: cue('cue.finished', true, 'softFalling', true),
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
