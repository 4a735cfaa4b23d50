// An athlete's past sessions and log. Sessions are summed up by the hub while the page asks again.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { HistoryBody } from '../../../shared/history.ts';
import type { TrainingEntry } from '../../../shared/training-log.ts';
import { useApp } from '../../app/app-context.ts';

/** Often enough to see it move; each answer is the whole. */
export const askAgainMs = 400;

export interface History {
  /** Null until the hub has answered. */
  readonly history: ReadonlySignal<HistoryBody | null>;
  readonly entries: ReadonlySignal<readonly TrainingEntry[]>;
  readonly problem: ReadonlySignal<string | null>;
}

export function useHistory(athleteId: string): History {
  const { text, http, timers } = useApp();
  const history = useSignal<HistoryBody | null>(null);
  const entries = useSignal<readonly TrainingEntry[]>([]);
  const problem = useSignal<string | null>(null);
  useEffect(() => {
    let current = true;
    let cancel = () => {};
    const ask = async () => {
      const answer = await http.history(athleteId);
      if (!current) return;
      problem.value = answer.ok ? null : text.history.weeks.failed(answer.reason);
      if (!answer.ok) return;
      history.value = answer.value;
      if (answer.value.missingCount > 0) cancel = timers.after(askAgainMs, () => void ask());
    };
    void ask();
    void http.training(athleteId).then((answer) => {
      if (current && answer.ok) entries.value = answer.value.entries;
    });
    return () => {
      current = false;
      cancel();
    };
  }, [athleteId]);
  return { history, entries, problem };
}
