// Runs of plans written straight into a store, as if they had been run in a recorded session.

import type { Documents } from '../../hub/base/ports/documents.ts';
import { PlanRunArchive } from '../../hub/plans/plan-run-archive.ts';
import type { Plan } from '../../shared/plan.ts';
import { monotonicMs } from '../../shared/units.ts';
import { testLog } from './serve-test-hub.ts';

export interface RunToWrite {
  readonly runId: string;
  readonly sessionId: string;
  readonly athleteId: string;
  readonly startedWallAtMs: number;
  readonly plan: Plan;
  /** Start and end of each hold, seconds from the run's start. */
  readonly holdsS: readonly (readonly [fromS: number, toS: number])[];
  readonly comfort?: number;
}

export function writePlanRun(store: Documents, run: RunToWrite): void {
  const archive = new PlanRunArchive(store, testLog);
  const { runId, sessionId, athleteId, startedWallAtMs, plan, holdsS } = run;
  const lastS = holdsS.at(-1)?.[1] ?? 0;
  const head = {
    runId,
    sessionId,
    startedWallAtMs,
    endedAtMs: (lastS + 61) * 1_000,
    plan,
    options: {
      athletes: [{ athleteId, offsetMs: 0 }],
      oneAtATime: false,
      assumeFromCues: false,
      acceptedWarnings: [],
    },
  };
  archive.saveHead(head, head.endedAtMs);
  archive.saveAthletes(head);
  let index = 0;
  const at = (seconds: number) => monotonicMs(seconds * 1_000);
  holdsS.forEach(([fromS, toS], hold) => {
    const common = { athleteId, holdId: `hold-${hold + 1}`, source: 'mark' as const };
    archive.saveEvent(runId, index++, {
      type: 'holdStarted',
      atMs: at(fromS),
      startedAtMs: at(fromS),
      ...common,
    });
    archive.saveEvent(runId, index++, {
      type: 'holdEnded',
      atMs: at(toS),
      endedAtMs: at(toS),
      lowestSpo2Percent: null,
      floorSpo2Percent: null,
      ...common,
    });
    if (run.comfort !== undefined)
      archive.saveEvent(runId, index++, {
        type: 'comfort',
        atMs: at(toS + 5),
        athleteId,
        comfort: run.comfort,
      });
  });
}
