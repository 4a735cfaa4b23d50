// Scores the contraction estimate over true holds: how often it speaks, how far it is off, and how often it is wrong.

import { monotonicMs } from '../../../shared/units.ts';
import type { Boundary } from '../../../src/holds/hold.ts';
import { computeHoldMeasures } from '../../../src/holds/measures.ts';
import { createSignalCleaner } from '../../../src/signal/signal-cleaner.ts';
import type { CorpusSession } from './corpus-session.ts';

/** One hold of at least `shortestMs`: the true onset and the estimated one, seconds into it; null where none. */
export interface ContractionScore {
  readonly trueOnsetS: number | null;
  readonly estimatedOnsetS: number | null;
}

/** Shorter holds leave no room for quiet before and ripple after. */
const shortestMs = 40_000;

const markedAt = (ms: number): Boundary => ({
  atMs: monotonicMs(ms),
  uncertaintyMs: 0,
  declaredAtMs: monotonicMs(ms),
  source: 'mark',
  evidence: [],
});

export function scoreContractions(session: CorpusSession): ContractionScore[] {
  const long = session.holds.flatMap((hold, i) =>
    hold.endMs - hold.startMs < shortestMs
      ? []
      : [{ ...hold, onsetMs: session.contractionOnsetsMs?.[i] ?? null }],
  );
  if (long.length === 0) {
    return [];
  }
  const cleaner = createSignalCleaner();
  const cleaned = session.samples.flatMap((sample) => [...cleaner.push(sample)]);
  return long.map(({ startMs, endMs, onsetMs }) => {
    const hold = { holdId: 'true', start: markedAt(startMs), end: markedAt(endMs), contractionsAtMs: [] };
    return {
      trueOnsetS: onsetMs === null ? null : (onsetMs - startMs) / 1_000,
      estimatedOnsetS: computeHoldMeasures(hold, cleaned).values['estimatedContractionOnsetS'] ?? null,
    };
  });
}

export function summariseContractions(scores: readonly ContractionScore[]) {
  const having = scores.filter((score) => score.trueOnsetS !== null);
  const without = scores.filter((score) => score.trueOnsetS === null);
  const said = having.filter((score) => score.estimatedOnsetS !== null);
  const errors = said
    .map((score) => Math.abs(score.estimatedOnsetS! - score.trueOnsetS!))
    .sort((a, b) => a - b);
  return {
    holdsWith: having.length,
    estimated: said.length,
    medianErrorS: errors[errors.length >> 1] ?? null,
    holdsWithout: without.length,
    wronglyEstimated: without.filter((score) => score.estimatedOnsetS !== null).length,
  };
}
