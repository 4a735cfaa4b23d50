// A hold or mark that is being added, or a hold that is being changed, and not saved: kept in this browser, brought back with the recording, and offered again
// when it was left.

import * as z from 'zod/mini';
import { useApp } from '../../app/app-context.ts';
import { useDraft } from '../../app/use-draft.ts';
import type { CorrectionDraft, CorrectionEvent, CorrectionState } from './correction-state.ts';

const draftSchema = z.object({
  newHold: z.nullable(z.object({ startMs: z.number(), endMs: z.number() })),
  newMark: z.nullable(
    z.object({ kind: z.enum(['contraction', 'note']), atMs: z.number(), text: z.string() }),
  ),
  editedHold: z._default(
    z.nullable(z.object({ holdId: z.string(), startMs: z.number(), endMs: z.nullable(z.number()) })),
    null,
  ),
});

export interface CorrectionDrafts {
  /** What was being added when the recording was last left. */
  readonly kept: CorrectionDraft | null;
  /** After each event. `bringBack` takes up what was left by it; `isChanged` says whether that was anything. */
  readonly hear: (
    before: CorrectionState,
    after: CorrectionState,
    event: CorrectionEvent,
    bringBack: (draft: CorrectionDraft) => void,
    isChanged: (draft: CorrectionDraft) => boolean,
  ) => void;
}

export function useCorrectionDraft(sessionId: string, athleteId: string): CorrectionDrafts {
  const { text, takeBacks } = useApp();
  const words = text.takeBack;
  const draft = useDraft({
    key: `correction:${sessionId}:${athleteId}`,
    schema: draftSchema,
    athleteId,
    name: words.drafts.correction,
    path: `/recordings/${sessionId}`,
  });
  return {
    kept: draft.kept,
    hear: (before, after, event, bringBack, isChanged) => {
      const { newHold, newMark, editedHold } = after;
      // A hold that was only opened is nothing to keep.
      const isEdited = editedHold !== null && event.type !== 'holdOpened';
      if (newHold !== null || newMark !== null || isEdited) {
        draft.keep({ newHold, newMark, editedHold });
        return;
      }
      const left: CorrectionDraft = {
        newHold: before.newHold,
        newMark: before.newMark,
        editedHold: before.editedHold,
      };
      if (left.newHold === null && left.newMark === null && left.editedHold === null) return;
      draft.settle();
      // What the hub has taken is not left, nor is what was opened and not moved.
      if (event.type === 'answered' || event.type === 'openedSaved' || !isChanged(left)) return;
      takeBacks.offer({
        done:
          left.newHold !== null
            ? words.newHoldLeft
            : left.newMark !== null
              ? words.newMarkLeft
              : words.changedHoldLeft,
        actions: [
          {
            label: words.bringBack,
            act: async () => {
              bringBack(left);
              return null;
            },
          },
        ],
      });
    },
  };
}
