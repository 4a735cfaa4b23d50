// The past sessions of both sides: one athlete's, or two athletes' by the hub's leave, which it gives only while both agree.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useLayoutEffect } from 'preact/hooks';
import type { HistoryBody } from '../../../shared/history.ts';
import { useApp } from '../../app/app-context.ts';
import { askAgainMs } from '../weeks/use-history.ts';

export interface TwoHistories {
  /** Left and right; null until the hub has answered, and while it gives nothing. */
  readonly histories: ReadonlySignal<readonly [HistoryBody, HistoryBody] | null>;
  readonly problem: ReadonlySignal<string | null>;
}

/** `mayAsk`: as far as the page knows, both agree. Nothing is kept of who no longer does. */
export function useTwoHistories(leftId: string, rightId: string, mayAsk: boolean): TwoHistories {
  const { text, http, timers } = useApp();
  const histories = useSignal<readonly [HistoryBody, HistoryBody] | null>(null);
  const problem = useSignal<string | null>(null);
  // Before the paint, so that nobody's sessions stand for a moment under another's name.
  useLayoutEffect(() => {
    let current = true;
    let cancel = () => {};
    const both = async () => {
      if (leftId !== rightId) return http.beside(leftId, rightId);
      const own = await http.history(leftId);
      return own.ok ? { ...own, value: { one: own.value, other: own.value } } : own;
    };
    const ask = async () => {
      const answer = await both();
      if (!current) return;
      problem.value = answer.ok ? null : text.history.weeks.failed(answer.reason);
      histories.value = answer.ok ? [answer.value.one, answer.value.other] : null;
      if (answer.ok && histories.value?.some(({ missingCount }) => missingCount > 0))
        cancel = timers.after(askAgainMs, () => void ask());
    };
    histories.value = null;
    problem.value = null;
    if (mayAsk) void ask();
    return () => {
      current = false;
      cancel();
    };
  }, [leftId, rightId, mayAsk]);
  return { histories, problem };
}
