// The entry being written, and its timing where lap buttons are at work. A timing that was going on when the page was left
// goes on.

import { type Signal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { TrainingEntry, TrainingEntryKind } from '../../../shared/training-log.ts';
import type { Athlete } from '../../../shared/views.ts';
import type { LapTiming } from '../../../src/training/lap-timing.ts';
import { useApp } from '../../app/app-context.ts';
import { forgetTiming, readTiming } from '../../state/lap-storage.ts';
import { emptyEntry } from './new-entry.ts';

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
  readonly chooseAthlete: (athleteId: string) => void;
  readonly begin: (kind: TrainingEntryKind) => void;
}

export function useEntryDraft(onFailed: (reason: string) => void): EntryDraft {
  const { http } = useApp();
  const athletes = useSignal<readonly Athlete[]>([]);
  const athleteId = useSignal('');
  const draft = useSignal<TrainingEntry | null>(null);
  const timing = useSignal<LapTiming | null>(null);
  const begin = (kind: TrainingEntryKind) => {
    draft.value = emptyEntry(kind, athleteId.value, newEntryId(), Date.now());
  };
  const chooseAthlete = (id: string) => {
    athleteId.value = id;
    begin(draft.value?.kind ?? 'poolSet');
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
  return { athletes, athleteId, draft, timing, chooseAthlete, begin };
}
