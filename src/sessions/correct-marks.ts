// Corrections that a person made to marks of a recording: contractions and notes added, moved or taken away afterwards.
// What was marked at the time is never changed: leaving a correction out gives it back.

import { type Said, said } from '../../shared/said.ts';
import type { MarkKind } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import { type CorrectionStep, correctionsInForce } from './correction-steps.ts';

export interface PlacedMark {
  readonly markId: string;
  readonly kind: MarkKind;
  readonly atMs: MonotonicMs;
  readonly text: string | null;
}

/** Marks of holds are corrected by their boundaries; a sign of breathing stands as it was given. */
const correctableKinds = ['contraction', 'note'] as const satisfies readonly MarkKind[];
const isCorrectable = (kind: MarkKind): boolean => (correctableKinds as readonly MarkKind[]).includes(kind);

export type MarkCorrection =
  | {
      readonly type: 'addMark';
      readonly kind: (typeof correctableKinds)[number];
      readonly atMs: MonotonicMs;
      readonly text: string | null;
    }
  | { readonly type: 'moveMark'; readonly markId: string; readonly atMs: MonotonicMs }
  | { readonly type: 'removeMark'; readonly markId: string };

export const isMarkCorrection = <Other extends { readonly type: string }>(
  correction: Other | MarkCorrection,
): correction is MarkCorrection =>
  correction.type === 'addMark' || correction.type === 'moveMark' || correction.type === 'removeMark';

export interface CorrectedMark {
  readonly mark: PlacedMark;
  readonly how: 'asMarked' | 'added' | 'moved';
  /** Where a moved mark was at first. */
  readonly originallyAtMs: MonotonicMs | null;
}

export interface CorrectedMarks {
  /** In time order. */
  readonly marks: readonly CorrectedMark[];
  /** Taken away by a correction, where they were last. */
  readonly removed: readonly PlacedMark[];
}

/** The id of a mark that a correction added. */
const addedMarkId = (correctionId: string): string => `added-${correctionId}`;

/** Lays `steps` over the marks that were not taken back at the time. A step that finds no mark does nothing. */
export function correctMarks(marks: readonly PlacedMark[], steps: readonly CorrectionStep[]): CorrectedMarks {
  let corrected: CorrectedMark[] = marks.map((mark) => ({ mark, how: 'asMarked', originallyAtMs: null }));
  const removed: PlacedMark[] = [];
  for (const { correctionId, correction } of correctionsInForce(steps)) {
    if (!isMarkCorrection(correction)) continue;
    if (correction.type === 'addMark') {
      const { kind, atMs, text } = correction;
      corrected.push({
        mark: { markId: addedMarkId(correctionId), kind, atMs, text },
        how: 'added',
        originallyAtMs: null,
      });
      continue;
    }
    const index = corrected.findIndex(({ mark }) => mark.markId === correction.markId);
    const found = corrected[index];
    if (found === undefined) continue;
    if (correction.type === 'removeMark') {
      removed.push(found.mark);
      corrected = corrected.toSpliced(index, 1);
    } else {
      corrected[index] = {
        mark: { ...found.mark, atMs: correction.atMs },
        how: found.how === 'added' ? 'added' : 'moved',
        originallyAtMs: found.how === 'added' ? null : (found.originallyAtMs ?? found.mark.atMs),
      };
    }
  }
  return { marks: corrected.sort((a, b) => a.mark.atMs - b.mark.atMs), removed };
}

/** Why `correction` cannot be made to these marks (as corrected so far), for a person; undefined where it can. */
export function refuseMarkCorrection(
  marks: readonly CorrectedMark[],
  correction: MarkCorrection,
  durationMs: number,
): Said | undefined {
  if (correction.type !== 'addMark') {
    const mark = marks.find((each) => each.mark.markId === correction.markId)?.mark;
    if (mark === undefined) return said('refusal.correctUnknownMark');
    if (!isCorrectable(mark.kind)) return said('refusal.correctOtherMark');
    if (correction.type === 'removeMark') return undefined;
  }
  if (correction.type === 'addMark' && correction.kind === 'note' && (correction.text ?? '').trim() === '')
    return said('refusal.correctEmptyNote');
  return correction.atMs < 0 || correction.atMs > durationMs ? said('refusal.correctMarkOutside') : undefined;
}
