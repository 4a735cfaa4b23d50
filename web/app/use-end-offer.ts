// Offers to go on with a plan that was just ended, for as long as the hub can take the end back.

import { endCanBeTakenBackMs } from '../../shared/plan-run.ts';
import { useApp } from './app-context.ts';

/** Answers with a function that makes the offer. */
export function useEndOffer(): () => void {
  const { http, takeBacks, text } = useApp();
  return () =>
    takeBacks.offer({
      done: text.takeBack.planRunEnded,
      // The hub's half minute has begun before its answer came.
      withinMs: endCanBeTakenBackMs - 1_000,
      actions: [
        {
          label: text.takeBack.goOn,
          act: async () => {
            const answer = await http.takeBackPlanRunEnd();
            return answer.ok ? null : answer.reason;
          },
        },
      ],
    });
}
