// What a corpus session is: an athlete's samples with the true holds beside them, and the condition it stands for.

import type { Sample } from '../../../src/samples/sample.ts';

export interface TrueInterval {
  readonly startMs: number;
  readonly endMs: number;
}

export interface CorpusSession {
  readonly name: string;
  /** Axis to value, for the split of results: `{ shape: 'intervals', fault: 'none', ... }`. */
  readonly conditions: Readonly<Record<string, string>>;
  readonly durationMs: number;
  readonly samples: readonly Sample[];
  readonly holds: readonly TrueInterval[];
  /** For each hold when involuntary breathing movements truly began, or null where none did. */
  readonly contractionOnsetsMs?: readonly (number | null)[];
}
