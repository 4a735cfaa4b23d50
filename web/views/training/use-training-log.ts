// An athlete's training log and the advice on it, as the hub has them: read when the athlete changes, saved to, taken from.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useLayoutEffect } from 'preact/hooks';
import type { DeletedBody } from '../../../shared/bin.ts';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import type { Result } from '../../../src/result.ts';
import type { Advice } from '../../../src/training/advice.ts';
import { useApp } from '../../app/app-context.ts';
import { useInOrder } from '../../app/use-in-order.ts';

export interface TrainingLog {
  /** The newest first; null until the hub has answered for who is chosen. */
  readonly entries: ReadonlySignal<readonly TrainingEntry[] | null>;
  readonly advice: ReadonlySignal<readonly Advice[]>;
  readonly save: (entry: TrainingEntry) => Promise<Result<unknown, string>>;
  readonly remove: (entry: TrainingEntry) => Promise<Result<DeletedBody, string>>;
  readonly reload: () => void;
}

/** `athleteId` is '' while nobody is chosen. `onProblem` hears what went wrong, or null. */
export function useTrainingLog(
  athleteId: ReadonlySignal<string>,
  onProblem: (problem: string | null) => void,
): TrainingLog {
  const { text, http } = useApp();
  const entries = useSignal<readonly TrainingEntry[] | null>(null);
  const advice = useSignal<readonly Advice[]>([]);
  const ask = useInOrder();
  const load = async () => {
    const asked = athleteId.value;
    if (asked === '') return;
    const isNews = ask();
    const [log, advised] = await Promise.all([http.training(asked), http.advice(asked)]);
    // Another may have been chosen meanwhile: nobody is shown the log of somebody else.
    if (athleteId.value !== asked || !isNews()) return;
    onProblem(log.ok ? null : text.plans.training.loadFailed(log.reason));
    if (log.ok) entries.value = log.value.entries;
    if (advised.ok) advice.value = advised.value.advice;
  };
  // Before the paint, so that no log of the one before stands under this name.
  useLayoutEffect(() => {
    entries.value = null;
    advice.value = [];
    void load();
  }, [athleteId.value]);
  return {
    entries,
    advice,
    save: async (entry) => {
      const saved = await http.saveTraining(entry);
      if (saved.ok) void load();
      return saved;
    },
    remove: ({ athleteId: whose, entryId }) => http.deleteTraining(whose, entryId),
    reload: () => void load(),
  };
}
