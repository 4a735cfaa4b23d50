// How much training was: effort times minutes of a whole session, whatever its kind, and what a week of it comes to.
// Session-RPE: Foster et al. 2001 (reference 10.01).

import type { Effort } from '../../shared/session-details.ts';
import type { TrainingEntry } from '../../shared/training-log.ts';

/**
 * The three words of effort on the ten-point scale by which a session is rated: its anchors "easy", "moderate" and "hard"
 * (reference 10.01).
 */
const ratingOf: Readonly<Record<Effort, number>> = { easy: 2, medium: 3, hard: 5 };

export interface RatedSession {
  /** Null where nobody said. */
  readonly effort: Effort | null;
  /** From first to last, rests included; null where it is not known. */
  readonly minutes: number | null;
}

/** In the scale's points times minutes; null where effort or length is not known. */
export const loadOf = ({ effort, minutes }: RatedSession): number | null =>
  effort === null || minutes === null ? null : Math.round(ratingOf[effort] * minutes);

/**
 * How long an entry of the log took: as it says, else from its numbers. A walk is taken with twice its length of recovery,
 * as plans of it have it (common practice, no source). Null for a maximal effort alone: it says nothing of what was around it.
 */
export function minutesOfEntry(entry: TrainingEntry): number | null {
  if (entry.minutes !== undefined && entry.minutes !== null) return entry.minutes;
  switch (entry.kind) {
    case 'poolSet':
      return (entry.repetitions * entry.everySeconds) / 60;
    case 'timedSwim':
      return entry.lengthSeconds / 60;
    case 'apneaWalk':
      return entry.lengthSeconds === null ? null : (entry.rounds * entry.lengthSeconds * 3) / 60;
    case 'maximalDryHold':
    case 'maximalInWater':
      return null;
  }
}

export interface LoadOfWeek {
  /** Of those whose effort and length are known. */
  readonly load: number;
  readonly sessionCount: number;
  /** How many have no load, because nobody said how hard they were or how long. */
  readonly unknownCount: number;
}

export function loadOfWeek(sessions: readonly RatedSession[]): LoadOfWeek {
  const loads = sessions.map(loadOf);
  return {
    load: loads.reduce<number>((sum, load) => sum + (load ?? 0), 0),
    sessionCount: loads.length,
    unknownCount: loads.filter((load) => load === null).length,
  };
}
