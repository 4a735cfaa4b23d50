// A plan's run as it was stored, played again: what each athlete's part of it was at its end.

import type { StoredPlanRun } from '../../shared/plan-run.ts';
import { monotonicMs } from '../../shared/units.ts';
import { createPlanRun, replayPlanRun, stepPlanRun } from './plan-run.ts';
import type { AthleteRun } from './plan-run-state.ts';

/** In the order of the run's options; none where the plan cannot be run any more. */
export function athleteRunsOf({ plan, options, events, endedAtMs }: StoredPlanRun): readonly AthleteRun[] {
  const created = createPlanRun(plan, 0, options);
  if (!created.ok) return [];
  const state = replayPlanRun(created.value, events);
  return endedAtMs === null
    ? state.athleteRuns
    : stepPlanRun(state, { type: 'time', atMs: monotonicMs(endedAtMs) }).state.athleteRuns;
}
