// The pass over a whole recording: estimates every hold afresh from signals on both sides of each boundary.

import type { Mark } from '../samples/mark.ts';
import type { Sample } from '../samples/sample.ts';
import type { Hold, HoldEvent } from './hold.ts';
import { createHoldDetector } from './live-detector.ts';

/**
 * Finds the holds of one athlete's recording, ordered and disjoint. `samples` and `marks` are in time order.
 * `liveHolds` lends its ids and `declaredAtMs` to the holds that match; marks are boundaries and win.
 */
export function reestimateHolds(
  samples: readonly Sample[],
  marks: readonly Mark[],
  liveHolds: readonly Hold[] = [],
): Hold[] {
  const detector = createHoldDetector();
  const holds = new Map<string, Hold>();
  const take = (events: readonly HoldEvent[]): void => {
    for (const event of events) {
      if (event.type === 'holdWithdrawn') {
        holds.delete(event.holdId);
      } else if (event.type !== 'phaseChanged') {
        holds.set(event.hold.holdId, event.hold);
      }
    }
  };
  let next = 0;
  for (const sample of samples) {
    while (next < marks.length && marks[next]!.atMs <= sample.atMs) {
      take(detector.push({ type: 'mark', mark: marks[next]! }));
      next += 1;
    }
    take(detector.push({ type: 'sample', sample }));
  }
  for (; next < marks.length; next++) {
    take(detector.push({ type: 'mark', mark: marks[next]! }));
  }
  return [...holds.values()].map((hold) => {
    const live = liveHolds.find(
      (other) =>
        other.start.atMs < (hold.end?.atMs ?? Number.POSITIVE_INFINITY) &&
        (other.end?.atMs ?? Number.POSITIVE_INFINITY) > hold.start.atMs,
    );
    return live === undefined ? hold : { ...hold, holdId: live.holdId };
  });
}
