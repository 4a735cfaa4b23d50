// Cautions that an entry in the training log draws, shown beside it when it is written and when it is read.

import type { TrainingEntry } from '../../shared/training-log.ts';
import { swimDistanceMeters } from '../plans/generate-plan.ts';

/** In the order to show them; empty for an entry without any. */
export function entryCautions(entry: TrainingEntry): readonly string[] {
  const cautions: string[] = [];
  if (entry.kind === 'apneaWalk' && entry.maximal && entry.buddyName === null)
    cautions.push(
      'A maximal walk alone: a faint while walking is a fall with nobody to help. Have someone beside you, on soft level ground, or walk to a length set before.',
    );
  if (entry.kind === 'maximalDryHold' && entry.buddyName === null)
    cautions.push('A maximal hold alone: have someone in the room who watches and knows what to do.');
  if (entry.kind === 'maximalInWater' || (entry.kind === 'poolSet' && entry.breath === 'one'))
    cautions.push(
      'On one breath in water: your buddy watches you and nothing else, within reach, and for at least 30 s after you surface.',
    );
  return cautions;
}

/** True for entries that happen in water. */
export const isInWater = (entry: TrainingEntry): boolean =>
  entry.kind === 'poolSet' || entry.kind === 'timedSwim' || entry.kind === 'maximalInWater';

/** Metres of a timed swim. Common practice, no source: whole laps and what was swum of the next. */
export const timedSwimMeters = (entry: Extract<TrainingEntry, { kind: 'timedSwim' }>): number =>
  swimDistanceMeters(entry.laps, entry.poolLengthMeters, entry.furtherMeters);
