// Several threads for work that nobody waits for: each order goes to the one with the least to do. What is urgent has a
// thread of its own (review-thread.ts).

import { said } from '../../../shared/said.ts';
import { ReviewFault, type ReviewRunner } from './review-runner.ts';

/** `makers` make the threads, each when there is first work for it. */
export function createReviewPool(makers: readonly (() => ReviewRunner)[]): ReviewRunner {
  const members: { runner: ReviewRunner | undefined; underWay: number; make: () => ReviewRunner }[] =
    makers.map((make) => ({ runner: undefined, underWay: 0, make }));
  let isClosed = false;
  return {
    async run(task, order) {
      // Whoever read its session while the hub stopped comes too late: a thread made now would outlive the hub.
      if (isClosed) throw new ReviewFault(said('refusal.hubStopping'));
      const member = members.reduce((least, each) => (each.underWay < least.underWay ? each : least));
      member.runner ??= member.make();
      member.underWay += 1;
      try {
        return await member.runner.run(task, order);
      } finally {
        member.underWay -= 1;
      }
    },
    warm: () => undefined,
    async close() {
      isClosed = true;
      await Promise.all(members.map(({ runner }) => runner?.close()));
    },
  };
}
