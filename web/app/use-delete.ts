// Deleting with a way back: what the hub has put into the bin is offered in the bar to be put back.

import type { DeletedBody } from '../../shared/bin.ts';
import type { Result } from '../../src/result.ts';
import { useApp } from './app-context.ts';

/**
 * Answers with a function that carries a deletion out. It answers with why it could not be done, or null; `after` is called when
 * it was done, and when it was taken back.
 */
export function useDelete(): (
  remove: () => Promise<Result<DeletedBody>>,
  done: string,
  after: (isBack: boolean) => void,
) => Promise<string | null> {
  const { http, takeBacks, text } = useApp();
  return async (remove, done, after) => {
    const removed = await remove();
    if (!removed.ok) return removed.reason;
    const { binId } = removed.value;
    takeBacks.offer({
      done,
      actions: [
        {
          label: text.takeBack.undo,
          act: async () => {
            const restored = await http.restoreFromBin(binId);
            if (!restored.ok) return restored.reason;
            after(true);
            return null;
          },
        },
      ],
    });
    after(false);
    return null;
  };
}
