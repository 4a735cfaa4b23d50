// The runs of plans that one athlete was in, each played back once: what weeks, comparisons and advice read of them.

import type { StoredPlanRun } from '../../shared/plan-run.ts';
import { type CalledOff, calledOffOf } from '../../src/plans/called-off.ts';
import { createPlanRun, replayPlanRun } from '../../src/plans/plan-run.ts';
import { type AthleteRun, athleteRunOf, type StepRecord } from '../../src/plans/plan-run-state.ts';
import type { PlanRuns } from './plan-runs.ts';

export interface RunOfAthlete {
  readonly run: Omit<StoredPlanRun, 'events'>;
  /** Undefined where the plan cannot be played back any more. */
  readonly athleteRun: AthleteRun | undefined;
  readonly calledOff: CalledOff | null;
}

/** What was played back, by run and athlete: a run that is over changes only by having its end taken back. */
const played = new WeakMap<PlanRuns, Map<string, RunOfAthlete>>();

/** The newest first. */
export function runsOfAthlete(planRuns: PlanRuns, athleteId: string): readonly RunOfAthlete[] {
  let known = played.get(planRuns);
  if (known === undefined) {
    known = new Map();
    played.set(planRuns, known);
  }
  const runs: RunOfAthlete[] = [];
  for (const head of planRuns.list()) {
    if (!head.options.athletes.some((athlete) => athlete.athleteId === athleteId)) continue;
    const key = `${head.runId} ${head.endedAtMs ?? 'runs'} ${athleteId}`;
    let own = head.endedAtMs === null ? undefined : known.get(key);
    if (own === undefined) {
      const stored = planRuns.read(head.runId);
      if (stored === undefined) continue;
      own = playedBack(stored, athleteId);
      if (head.endedAtMs !== null) known.set(key, own);
    }
    runs.push(own);
  }
  return runs;
}

function playedBack({ events, ...run }: StoredPlanRun, athleteId: string): RunOfAthlete {
  const created = createPlanRun(run.plan, 0, run.options);
  const athleteRun = created.ok ? athleteRunOf(replayPlanRun(created.value, events), athleteId) : undefined;
  return {
    run,
    athleteRun,
    calledOff: athleteRun === undefined ? null : calledOffOf(athleteRun, events),
  };
}

/** Starts that came to an end. */
export const doneRecords = (athleteRun: AthleteRun): readonly StepRecord[] =>
  athleteRun.records.filter(({ startedAtMs, endedAtMs }) => startedAtMs !== null && endedAtMs !== null);

/** Of a session, from its holds; null when nothing was said of any. */
export const meanComfort = (comforts: readonly number[]): number | null =>
  comforts.length === 0 ? null : Math.round(comforts.reduce((sum, each) => sum + each, 0) / comforts.length);
