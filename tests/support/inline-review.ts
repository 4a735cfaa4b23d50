// Reviews worked out in the calling thread, one after another: what the review thread does, without a thread.

import type { ReviewRunner } from '../../hub/recordings/review/review-runner.ts';
import { runReviewTask } from '../../hub/recordings/review/review-task.ts';

export const inlineReview: ReviewRunner = {
  async run(task, { packets, signal, onNews }) {
    await new Promise<void>((resolve) => setImmediate(resolve));
    signal?.throwIfAborted();
    return runReviewTask(task, [...(packets?.() ?? [])], (news) => onNews?.(news));
  },
  warm: () => undefined,
  close: async () => undefined,
};
