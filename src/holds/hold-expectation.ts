// What is known of a hold in a second beside the signals: a planned start, and how rare holds have been with this person.

import { practiceRowsPerHold } from './hold-crf.ts';

/**
 * A person who has long been without a hold is the less likely to begin one, as hold-crf.ts has it of a recording: the
 * practice sessions' own rate counts as this many holds, and no more than so many nats are taken off. Choices.
 */
const practiceWeightHolds = 5;
const mostRarer = 3;
/** A planned start makes a hold likelier from its tolerance before to this long after. Choices. */
const plannedLogOdds = 1.5;
const plannedForMs = 60_000;
/** A plan's next start is near. A choice. */
const readyingMs = 120_000;

export interface PlannedStart {
  readonly startAtMs: number;
  readonly toleranceMs: number;
}

export const isPlannedAt = (planned: PlannedStart | undefined, atMs: number): boolean =>
  planned !== undefined &&
  atMs >= planned.startAtMs - planned.toleranceMs &&
  atMs <= planned.startAtMs + plannedForMs;

export const isPlannedSoon = (planned: PlannedStart | undefined, nowMs: number): boolean =>
  planned !== undefined && planned.startAtMs > nowMs && planned.startAtMs - nowMs < readyingMs;

/** Log odds that come to those of the signals. */
export function expectedLogOdds(known: {
  readonly isPlanned: boolean;
  readonly isHolding: boolean;
  readonly rowsSeen: number;
  readonly endedCount: number;
}): number {
  if (known.isPlanned) return plannedLogOdds;
  if (known.isHolding) return 0;
  const expectedCount = practiceWeightHolds + known.rowsSeen / practiceRowsPerHold;
  const rarer = Math.log((practiceWeightHolds + known.endedCount) / expectedCount);
  return Math.max(-mostRarer, Math.min(0, rarer));
}
