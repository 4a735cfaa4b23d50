// The shortest recovery a run ever schedules, relative to the effort before it, with the reason for each default.

import type { MinimumRecovery, Plan } from '../../shared/plan.ts';
import { type Said, said } from '../../shared/said.ts';

/**
 * Dry holds. At least 45 s, because the lowest finger reading of a hold comes up to about 40 s after the first
 * breath (15-35 s is usual, 31.5 +/- 11.5 s in catheter patients; lung-to-finger times in
 * Zubieta-Calleja 2005, J Physiol Pharmacol 56 Suppl 4:251-256, and Kwon 2014, J Clin Sleep Med 10(7)):
 * a start before that would come before the last hold's lowest reading was seen. It also covers the 30 s of
 * watching after a hold that published safety guidance asks for (Alert Diver, Spring 2016).
 * A third of the hold: common practice, no source (a 3 min hold in a 4 min interval leaves 1 min).
 */
export const dryMinimumRecovery: MinimumRecovery = { timesPreviousEffort: 1 / 3, leastSeconds: 45 };

/**
 * Maximal holds and everything on one breath while moving: twice the effort before. Published surface guidance
 * for breath-hold diving asks for at least twice the dive (DiveWise safety guidelines, from the DAN incident
 * database); taking it over for maximal dry holds and walks is a careful choice, not evidence.
 */
export const doubleMinimumRecovery: MinimumRecovery = { timesPreviousEffort: 2, leastSeconds: 60 };

/** Swimming with breathing: rest is for rest's sake. The schema's own lower ends. */
const breathingSwimMinimumRecovery: MinimumRecovery = { timesPreviousEffort: 0.25, leastSeconds: 30 };

/** The default of a plan's kind. */
function defaultMinimumRecovery(plan: Plan): MinimumRecovery {
  switch (plan.kind) {
    case 'intervalSeries':
    case 'holdTable':
    case 'freeSession':
      return dryMinimumRecovery;
    case 'maximalAttempts':
    case 'apneaWalk':
      return doubleMinimumRecovery;
    case 'poolIntervals':
      return plan.breath === 'one' ? doubleMinimumRecovery : breathingSwimMinimumRecovery;
    case 'timedSwim':
      return breathingSwimMinimumRecovery;
  }
}

/** What holds for this plan: its own, or its kind's default. */
export const minimumRecoveryOf = (plan: Plan): MinimumRecovery =>
  plan.minimumRecovery ?? defaultMinimumRecovery(plan);

/** Shortest recovery after an effort of `effortMs`, in milliseconds. */
export const minimumRecoveryMs = (rule: MinimumRecovery, effortMs: number): number =>
  Math.max(rule.leastSeconds * 1_000, Math.ceil(rule.timesPreviousEffort * Math.max(0, effortMs)));

/** Why the rule is what it is, for a person. */
export function explainMinimumRecovery(plan: Plan): Said {
  const { leastSeconds, timesPreviousEffort } = minimumRecoveryOf(plan);
  const rule = said('plan.minimum.rule', { leastSeconds, times: timesPreviousEffort });
  if (plan.minimumRecovery !== undefined) return said('plan.minimum.own', { rule });
  const defaults = defaultMinimumRecovery(plan);
  if (defaults === dryMinimumRecovery) return said('plan.minimum.dry', { rule });
  if (defaults === doubleMinimumRecovery) return said('plan.minimum.double', { rule });
  return said('plan.minimum.swim', { rule });
}
