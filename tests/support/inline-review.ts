// Reviews worked out in the calling thread, one after another: what the review thread does, without a thread.

import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import type { ReviewRunner } from '../../hub/recordings/review/review-runner.ts';
import { runReviewTask } from '../../hub/recordings/review/review-task.ts';

export const inlineReview: ReviewRunner = {
  async run(task, { packets, signal, onNews }) {
    await new Promise<void>((resolve) => setImmediate(resolve));
    signal?.throwIfAborted();
    const all: StoredPacket[] = [];
    for await (const packet of packets?.() ?? []) all.push(packet);
    return runReviewTask(task, all, (news) => onNews?.(news));
  },
  warm: () => undefined,
  close: async () => undefined,
};
