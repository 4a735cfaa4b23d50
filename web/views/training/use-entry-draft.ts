// The entry being written, and its timing where lap buttons are at work. A timing that was going on when the page was left
// goes on.

import { type ReadonlySignal, type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import * as z from 'zod/mini';
import type { TrainingEntry, TrainingEntryKind } from '../../../shared/training-log.ts';
import type { Athlete } from '../../../shared/views.ts';
import type { LapTiming } from '../../../src/training/lap-timing.ts';
import { useApp } from '../../app/app-context.ts';
import { useDraft } from '../../app/use-draft.ts';
import { formatWallTime } from '../../state/format.ts';
import { forgetTiming, readTiming } from '../../state/lap-storage.ts';
import { asKind, emptyEntry, entryDraftSchema } from './new-entry.ts';

const keyOf = (athleteId: string): string => `entry:${athleteId}`;
const keptSchema = z.object({ entry: entryDraftSchema, isChange: z.boolean() });

// randomUUID exists in secure contexts only, and a hub on a home network may be plain HTTP.
const newEntryId = () => `e-${Date.now().toString(36)}-${Math.random().toString(36).slice(2, 10)}`;

export interface EntryDraft {
  readonly athletes: Signal<readonly Athlete[]>;
  /** '' while nobody is known. */
  readonly athleteId: Signal<string>;
  /** Null until the athletes are known. */
  readonly draft: Signal<TrainingEntry | null>;
  /** Null while nothing is timed. */
  readonly timing: Signal<LapTiming | null>;
  /** When an unsaved entry that this one is was written; '' for one begun now. */
  readonly draftAt: ReadonlySignal<string>;
  /** It is in the log already and being changed. */
  readonly isChange: ReadonlySignal<boolean>;
  readonly chooseAthlete: (athleteId: string) => void;
  /** What is being written, changed by a person. */
  readonly change: (entry: TrainingEntry) => void;
  readonly changeKind: (kind: TrainingEntryKind) => void;
  /** An entry of the log, to be changed. */
  readonly edit: (entry: TrainingEntry) => void;
  /** It is not wanted: an empty one of its kind. */
  readonly beginAnew: () => void;
  /** As `written` it is in the log now. What was changed since, or is another's, is written on. */
  readonly saved: (written: TrainingEntry) => void;
}

export function useEntryDraft(onFailed: (reason: string) => void): EntryDraft {
  const { http, drafts, text } = useApp();
  const athletes = useSignal<readonly Athlete[]>([]);
  const athleteId = useSignal('');
  const draft = useSignal<TrainingEntry | null>(null);
  const timing = useSignal<LapTiming | null>(null);
  const draftAt = useSignal('');
  const isChange = useSignal(false);
  const kept = useDraft({
    key: athleteId.value === '' ? '' : keyOf(athleteId.value),
    schema: keptSchema,
    athleteId: athleteId.value,
    name: text.takeBack.drafts.entry,
    path: '/training',
  });
  const begin = (kind: TrainingEntryKind) => {
    isChange.value = false;
    draftAt.value = '';
    draft.value = emptyEntry(kind, athleteId.value, newEntryId(), Date.now());
  };
  const chooseAthlete = (id: string) => {
    athleteId.value = id;
    const unsaved = drafts.read(keyOf(id), keptSchema);
    if (unsaved === null || unsaved.body.entry.athleteId !== id) {
      begin(draft.value?.kind ?? 'poolSet');
      return;
    }
    draft.value = unsaved.body.entry;
    isChange.value = unsaved.body.isChange;
    draftAt.value = formatWallTime(unsaved.writtenWallAtMs);
  };
  const beginAnew = () => {
    kept.settle();
    begin(draft.value?.kind ?? 'poolSet');
  };
  const change = (entry: TrainingEntry) => {
    draft.value = entry;
    kept.keep({ entry, isChange: isChange.value });
  };
  useEffect(() => {
    void http.athletes().then((answer) => {
      if (!answer.ok) {
        onFailed(answer.reason);
        return;
      }
      athletes.value = answer.value.athletes;
      const first = answer.value.athletes[0];
      if (first !== undefined) chooseAthlete(first.athleteId);
      const kept = readTiming(localStorage);
      if (kept === null) return;
      // One of an athlete who has been erased meanwhile, from another browser, goes too.
      if (!answer.value.athletes.some((each) => each.athleteId === kept.entry.athleteId)) {
        forgetTiming(localStorage);
        return;
      }
      athleteId.value = kept.entry.athleteId;
      draft.value = kept.entry;
      timing.value = kept.timing;
    });
  }, []);
  return {
    athletes,
    athleteId,
    draft,
    timing,
    draftAt,
    isChange,
    chooseAthlete,
    change,
    changeKind: (kind) => {
      if (draft.value !== null) change(asKind(draft.value, kind));
    },
    edit: (entry) => {
      isChange.value = true;
      draftAt.value = '';
      draft.value = entry;
    },
    beginAnew,
    saved: (written) => {
      if (draft.value === written) beginAnew();
      else if (draft.value?.entryId !== written.entryId) drafts.forget(keyOf(written.athleteId));
      else {
        isChange.value = true;
        kept.keep({ entry: draft.value, isChange: true });
      }
    },
  };
}
