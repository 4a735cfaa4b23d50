// Plans to test with: tables of eight rows from a longest hold, and one plan of every kind.

import type { Plan, PlanOf } from '../../shared/plan.ts';
import {
  makeCarbonDioxideTable,
  makeFreeSession,
  makeIntervalSeries,
  makeMaximalAttempts,
  makeOxygenTable,
  makePoolIntervals,
  makeTwelveMinuteSwim,
  makeWalkBySteps,
  makeWalkByTime,
} from '../../src/plans/generate-plan.ts';

/** Half of the longest hold, recoveries from 2 min down by 15 s. */
export const carbonDioxideTableOf = (longestHoldSeconds: number): PlanOf<'holdTable'> =>
  makeCarbonDioxideTable({
    holdSeconds: longestHoldSeconds / 2,
    rows: 8,
    firstRecoverySeconds: 120,
    lastRecoverySeconds: 15,
  });

/** From 40 % to 80 % of the longest hold, 2 min between. */
export const oxygenTableOf = (longestHoldSeconds: number): PlanOf<'holdTable'> =>
  makeOxygenTable({
    firstHoldSeconds: 0.4 * longestHoldSeconds,
    lastHoldSeconds: 0.8 * longestHoldSeconds,
    rows: 8,
    recoverySeconds: 120,
  });

export const plansOfEveryKind = (): readonly Plan[] => [
  makeIntervalSeries(8, 240),
  carbonDioxideTableOf(120),
  oxygenTableOf(120),
  makeMaximalAttempts(120),
  makeWalkByTime(6, 20),
  makeWalkBySteps(6, 20),
  makeFreeSession(),
  makePoolIntervals(8, 50, 25, 120),
  makeTwelveMinuteSwim(25),
];
