// Cautions that an entry in the training log draws, shown beside it when it is written and when it is read.

import { type Said, said } from '../../shared/said.ts';
import type { TrainingEntry } from '../../shared/training-log.ts';
import { swimDistanceMeters } from '../plans/generate-plan.ts';

/** In the order to show them; empty for an entry without any. */
export function entryCautions(entry: TrainingEntry): readonly Said[] {
  const cautions: Said[] = [];
  if (entry.kind === 'apneaWalk' && entry.maximal && entry.buddyName === null)
    cautions.push(said('entry.walkAlone'));
  if (entry.kind === 'maximalDryHold' && entry.buddyName === null) cautions.push(said('entry.holdAlone'));
  if (entry.kind === 'maximalInWater' || (entry.kind === 'poolSet' && entry.breath === 'one'))
    cautions.push(said('entry.inWaterOneBreath'));
  return cautions;
}

/** True for entries that happen in water. */
export const isInWater = (entry: TrainingEntry): boolean =>
  entry.kind === 'poolSet' || entry.kind === 'timedSwim' || entry.kind === 'maximalInWater';

/** Metres of a timed swim. Common practice, no source: whole laps and what was swum of the next. */
export const timedSwimMeters = (entry: Extract<TrainingEntry, { kind: 'timedSwim' }>): number =>
  swimDistanceMeters(entry.laps, entry.poolLengthMeters, entry.furtherMeters);
