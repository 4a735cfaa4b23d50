// A hold or mark that is being added and not saved: kept in this browser, brought back with the recording, and offered again
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
});

export interface CorrectionDrafts {
  /** What was being added when the recording was last left. */
  readonly kept: CorrectionDraft | null;
  /** After each event. `bringBack` takes up what was left by it. */
  readonly hear: (
    before: CorrectionState,
    after: CorrectionState,
    event: CorrectionEvent,
    bringBack: (draft: CorrectionDraft) => void,
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
    hear: (before, after, event, bringBack) => {
      const { newHold, newMark } = after;
      if (newHold !== null || newMark !== null) {
        draft.keep({ newHold, newMark });
        return;
      }
      const left: CorrectionDraft = { newHold: before.newHold, newMark: before.newMark };
      if (left.newHold === null && left.newMark === null) return;
      draft.settle();
      // What the hub has taken is not left.
      if (event.type === 'answered') return;
      takeBacks.offer({
        done: left.newHold === null ? words.newMarkLeft : words.newHoldLeft,
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
