// The ways a plan can be begun on the page, each a generator of the core with its first numbers.

import type { Plan } from '../../../shared/plan.ts';
import {
  makeFreeSession,
  makeIntervalSeries,
  makeMaximalAttempts,
  makePoolIntervals,
  makeTableFromRows,
  makeTwelveMinuteSwim,
  makeWalkBySteps,
  makeWalkByTime,
} from '../../../src/plans/generate-plan.ts';
import { sharedBasis, tableForAthletes } from '../../../src/plans/table-basis.ts';
import type { Messages } from '../../i18n/en.ts';

export type BuilderName = keyof Messages['plans']['builders'];

/** In the order they are offered. */
export const builderNames: readonly BuilderName[] = [
  'interval',
  'carbonDioxide',
  'oxygen',
  'rows',
  'maximal',
  'walkTime',
  'walkSteps',
  'free',
  'pool',
  'swim',
];

export const isBuilderName = (name: string): name is BuilderName =>
  builderNames.some((known) => known === name);

/** Those that are made from what is known of who is chosen (use-athletes-table.ts). */
export const tableShapeOf = (name: BuilderName): 'carbonDioxide' | 'oxygen' | null =>
  name === 'carbonDioxide' || name === 'oxygen' ? name : null;

/** Those that are made anew from the longest hold while it is being set. */
export const fromLongestHold: Partial<Record<BuilderName, (longestHoldSeconds: number) => Plan>> = {
  maximal: makeMaximalAttempts,
};

export function beginPlan(name: BuilderName, longestHoldSeconds: number, rowsTitle: string): Plan {
  switch (name) {
    case 'interval':
      return makeIntervalSeries();
    case 'carbonDioxide':
    case 'oxygen':
      // Until it is known who holds: as for somebody of whom nothing is known.
      return tableForAthletes(name, sharedBasis([]), null).plan;
    case 'rows':
      return makeTableFromRows(
        rowsTitle,
        [60, 60, 60, 60].map((ceilingSeconds) => ({ ceilingSeconds, recoverySeconds: 120 })),
      );
    case 'maximal':
      return makeMaximalAttempts(longestHoldSeconds);
    case 'walkTime':
      return makeWalkByTime(6, 20);
    case 'walkSteps':
      return makeWalkBySteps(6, 20);
    case 'free':
      return makeFreeSession();
    case 'pool':
      return makePoolIntervals(8, 50, 25, 120);
    case 'swim':
      return makeTwelveMinuteSwim(25);
  }
}
