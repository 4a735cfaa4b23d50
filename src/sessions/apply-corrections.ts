// Corrections that a person made to a recording, those to its holds laid over the estimate. The estimate itself is never
// changed: leaving a correction out gives it back.

import { type Said, said } from '../../shared/said.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Boundary, Hold } from '../holds/hold.ts';
import { isMarkCorrection } from './correct-marks.ts';
import { type CorrectionStep, correctionsInForce } from './correction-steps.ts';

export type HoldCorrection =
  | {
      readonly type: 'moveBoundary';
      readonly holdId: string;
      readonly boundary: 'start' | 'end';
      readonly atMs: MonotonicMs;
    }
  | { readonly type: 'addHold'; readonly startMs: MonotonicMs; readonly endMs: MonotonicMs }
  | { readonly type: 'removeHold'; readonly holdId: string };

export interface CorrectedHolds {
  /** In time order. Corrected boundaries have source `corrected` and no uncertainty. */
  readonly holds: readonly Hold[];
  /** Steps in force that found no hold to correct any more. */
  readonly withoutHold: readonly CorrectionStep[];
}

/** Shorter than any hold a person would mark; guards against a slip of the pointer. */
export const shortestCorrectedHoldMs = 1_000;

/** The id of a hold that a correction added. */
export const addedHoldId = (correctionId: string): string => `added-${correctionId}`;

/**
 * Lays `steps` over the estimated `holds` (in time order). `contractionsAtMs` are the times of all contraction marks,
 * as corrected: a hold whose boundaries moved has those within it, and so has every hold once a mark was corrected.
 */
export function applyCorrections(
  holds: readonly Hold[],
  steps: readonly CorrectionStep[],
  contractionsAtMs: readonly MonotonicMs[],
): CorrectedHolds {
  const inForce = correctionsInForce(steps);
  const haveMarksChanged = inForce.some(({ correction }) => isMarkCorrection(correction));
  let corrected = haveMarksChanged
    ? holds.map((hold) => ({
        ...hold,
        contractionsAtMs: within(
          contractionsAtMs,
          hold.start.atMs,
          hold.end?.atMs ?? Number.POSITIVE_INFINITY,
        ),
      }))
    : [...holds];
  const withoutHold: CorrectionStep[] = [];
  for (const step of inForce) {
    const { correction } = step;
    if (correction.type === 'undo' || isMarkCorrection(correction)) continue;
    if (correction.type === 'addHold') {
      const { startMs, endMs } = correction;
      corrected.push({
        holdId: addedHoldId(step.correctionId),
        start: boundaryAt(startMs, undefined),
        end: boundaryAt(endMs, undefined),
        contractionsAtMs: within(contractionsAtMs, startMs, endMs),
      });
      continue;
    }
    const index = indexOf(corrected, correction.holdId, step.estimated);
    const hold = corrected[index];
    if (hold === undefined) {
      withoutHold.push(step);
    } else if (correction.type === 'removeHold') {
      corrected = corrected.toSpliced(index, 1);
    } else {
      const start = correction.boundary === 'start' ? boundaryAt(correction.atMs, hold.start) : hold.start;
      const end = correction.boundary === 'end' ? boundaryAt(correction.atMs, hold.end) : hold.end;
      // A boundary set by hand, also where it already was, says that there is a hold.
      const { confidence: _confidence, proposed: _proposed, ...certain } = hold;
      corrected[index] = {
        ...certain,
        start,
        ...(end !== undefined && { end }),
        contractionsAtMs: within(contractionsAtMs, start.atMs, end?.atMs ?? Number.POSITIVE_INFINITY),
      };
    }
  }
  return { holds: corrected.sort((a, b) => a.start.atMs - b.start.atMs), withoutHold };
}

/**
 * Why `correction` cannot be made to these holds (as corrected so far), as one sentence; undefined where it can.
 * Holds stay ordered, apart and inside the recording.
 */
export function refuseCorrection(
  holds: readonly Hold[],
  correction: HoldCorrection,
  durationMs: number,
): Said | undefined {
  let others = holds;
  let startMs: number;
  let endMs: number | undefined;
  if (correction.type === 'addHold') {
    ({ startMs, endMs } = correction);
  } else {
    const hold = holds.find(({ holdId }) => holdId === correction.holdId);
    if (hold === undefined) return said('refusal.correctUnknownHold');
    if (correction.type === 'removeHold') return undefined;
    others = holds.filter((other) => other !== hold);
    startMs = correction.boundary === 'start' ? correction.atMs : hold.start.atMs;
    endMs = correction.boundary === 'end' ? correction.atMs : hold.end?.atMs;
  }
  if (startMs < 0 || (endMs ?? startMs) > durationMs) return said('refusal.correctHoldOutside');
  if (endMs !== undefined && endMs - startMs < shortestCorrectedHoldMs)
    return said('refusal.correctTooShort', { seconds: shortestCorrectedHoldMs / 1000 });
  const overlaps = others.some(
    ({ start, end }) =>
      start.atMs < (endMs ?? Number.POSITIVE_INFINITY) && (end?.atMs ?? Number.POSITIVE_INFINITY) > startMs,
  );
  return overlaps ? said('refusal.correctOverlap') : undefined;
}

function boundaryAt(atMs: MonotonicMs, estimate: Boundary | undefined): Boundary {
  return {
    atMs,
    uncertaintyMs: 0,
    declaredAtMs: estimate?.declaredAtMs ?? atMs,
    source: 'corrected',
    evidence: [estimate === undefined ? 'setByHand' : 'movedByHand'],
  };
}

/** By id, or else the hold that overlaps the one that was corrected most. */
function indexOf(holds: readonly Hold[], holdId: string, estimated: CorrectionStep['estimated']): number {
  const byId = holds.findIndex((hold) => hold.holdId === holdId);
  const isStillThere = byId >= 0 && (estimated === null || overlapMs(holds[byId]!, estimated) > 0);
  if (isStillThere || estimated === null) return byId;
  let best = -1;
  let bestMs = 0;
  holds.forEach((hold, index) => {
    const ms = overlapMs(hold, estimated);
    if (ms > bestMs) [best, bestMs] = [index, ms];
  });
  return best;
}

function overlapMs(hold: Hold, span: NonNullable<CorrectionStep['estimated']>): number {
  const endMs = Math.min(hold.end?.atMs ?? Number.POSITIVE_INFINITY, span.endMs ?? Number.POSITIVE_INFINITY);
  return endMs - Math.max(hold.start.atMs, span.startMs);
}

const within = (times: readonly MonotonicMs[], fromMs: number, toMs: number): MonotonicMs[] =>
  times.filter((atMs) => atMs >= fromMs && atMs <= toMs).map((atMs) => monotonicMs(atMs));
