// In what order the wall shows its athletes: who needs a look first. Coarse steps, so that tiles do not dance.

import type { Phase } from '../../shared/schema-parts.ts';
import type { AlarmView } from '../../shared/views.ts';
import { lookRank, orderAlarms } from './alarm-order.ts';
import type { Freshness } from './freshness.ts';

export interface UrgencyInput {
  readonly alarms: readonly AlarmView[];
  readonly phase: Phase;
  readonly spo2Freshness: Freshness;
  /** Saturation less floor in percent, or null when not known. */
  readonly marginPercent: number | null;
  readonly pinned: boolean;
}

/** Greater is more urgent. An unacknowledged alarm outranks everything, a pin included. */
export function urgency(input: UrgencyInput): number {
  const worst = orderAlarms(input.alarms)[0];
  const alarmRank = worst === undefined ? 0 : lookRank(worst);
  const alarming = worst !== undefined && !worst.acknowledged;
  // Far apart, so that no phase or pin lifts a lower alarm over a higher one.
  let score = alarming ? alarmRank * 10_000 : alarmRank * 10;
  if (input.pinned) score += 500;
  if (input.phase === 'holding') {
    score += 100;
    if (input.spo2Freshness !== 'fresh') score += 60;
    else if (input.marginPercent !== null)
      score += Math.max(0, 50 - 10 * Math.floor(input.marginPercent / 4));
  } else if (input.phase === 'recovering') score += 80;
  else if (input.phase === 'readying') score += 40;
  return score;
}

/** Most urgent first; equals keep the order they were given. */
export function orderByUrgency<Item>(items: readonly Item[], urgencyOf: (item: Item) => number): Item[] {
  return items
    .map((item, index) => ({ item, index, score: urgencyOf(item) }))
    .sort((a, b) => b.score - a.score || a.index - b.index)
    .map(({ item }) => item);
}
