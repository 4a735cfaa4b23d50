// What the bench scores: what an athlete's sensors sent, with the true holds beside it and what the session stands for.

import type { PipelineEvent } from '../../../src/pipeline.ts';

/** How much air was in the lungs when the hold began. */
export type Lungs = 'full' | 'half' | 'emptied';

export interface TrueHold {
  readonly startMs: number;
  readonly endMs: number;
  readonly lungs?: Lungs | undefined;
  /** Lowest reading without noise that belongs to the hold, where it is known. */
  readonly lowestSpo2Percent?: number | undefined;
}

export interface ScoredSession {
  readonly name: string;
  /** Axis to value, for the split of results: `{ sensors: 'oximetry', kind: 'table', ... }`. */
  readonly conditions: Readonly<Record<string, string>>;
  readonly durationMs: number;
  readonly floorPercent: number;
  readonly events: readonly PipelineEvent[];
  readonly holds: readonly TrueHold[];
}
