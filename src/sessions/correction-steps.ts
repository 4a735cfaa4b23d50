// Corrections of a recording as steps that are only ever added: taking one back is a step too, and so is bringing it
// back again.

import type { MonotonicMs } from '../../shared/units.ts';
import type { HoldCorrection } from './apply-corrections.ts';
import type { MarkCorrection } from './correct-marks.ts';

export type Correction = HoldCorrection | MarkCorrection;

export interface CorrectionStep {
  readonly correctionId: string;
  readonly madeWallAtMs: number;
  /** `undo` takes back the named step, which may itself be an `undo`. */
  readonly correction: Correction | { readonly type: 'undo'; readonly correctionId: string };
  /** Where the corrected hold was estimated when this was made: finds it again if its id should ever change. */
  readonly estimated: { readonly startMs: MonotonicMs; readonly endMs: MonotonicMs | null } | null;
}

/** The corrections in force, in the order they were made. */
export function correctionsInForce(steps: readonly CorrectionStep[]): CorrectionStep[] {
  const undone = new Set<string>();
  // From the last back: an undo that was itself undone undoes nothing.
  for (const { correctionId, correction } of steps.toReversed())
    if (correction.type === 'undo' && !undone.has(correctionId)) undone.add(correction.correctionId);
  return steps.filter(
    ({ correctionId, correction }) => correction.type !== 'undo' && !undone.has(correctionId),
  );
}

/** The step that made the last correction still in force; undefined where there is none to take back. */
export const lastInForce = (steps: readonly CorrectionStep[]): CorrectionStep | undefined =>
  correctionsInForce(steps).at(-1);

/**
 * The undoing that making good would bring back what was taken back last; undefined where there is none. A new
 * correction leaves nothing to bring back.
 */
export function lastUndone(steps: readonly CorrectionStep[]): CorrectionStep | undefined {
  const undoings: CorrectionStep[] = [];
  const undoingIds = new Set<string>();
  for (const step of steps) {
    const { correction } = step;
    if (correction.type !== 'undo') undoings.length = 0;
    else if (undoingIds.has(correction.correctionId)) undoings.pop();
    else {
      undoings.push(step);
      undoingIds.add(step.correctionId);
    }
  }
  return undoings.at(-1);
}
