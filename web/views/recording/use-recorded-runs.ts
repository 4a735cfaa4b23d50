// The plans that were run while a recording was made, for one athlete, by the recording's holds as they stand.

import { useSignal } from '@preact/signals';
import { useEffect, useMemo } from 'preact/hooks';
import type { AthleteRecording, RecordingBody } from '../../../shared/http.ts';
import type { StoredPlanRun } from '../../../shared/plan-run.ts';
import type { AthleteRun } from '../../../src/plans/plan-run-state.ts';
import { athleteRunsOf } from '../../../src/plans/stored-run.ts';
import { useApp } from '../../app/app-context.ts';
import { settledAthleteRun } from '../plans/settled-athlete-run.ts';

export interface RecordedRun {
  readonly run: StoredPlanRun;
  readonly athleteRun: AthleteRun;
  /** When the run began, in the session. */
  readonly beganAtMs: number;
}

/** This athlete's part of each, whoever else was in it. Empty until they are read, and where there is none. */
export function useRecordedRuns(
  { session }: RecordingBody,
  athlete: AthleteRecording,
): readonly RecordedRun[] {
  const { http } = useApp();
  const runs = useSignal<readonly StoredPlanRun[]>([]);
  const { sessionId, startedWallAtMs } = session;
  const { athleteId } = athlete.athlete;
  useEffect(() => {
    let left = false;
    void (async () => {
      const heads = await http.planRuns();
      if (!heads.ok) return;
      const own = heads.value.runs
        .filter(
          (run) =>
            run.sessionId === sessionId && run.options.athletes.some((each) => each.athleteId === athleteId),
        )
        .toSorted((a, b) => a.startedWallAtMs - b.startedWallAtMs);
      const read: StoredPlanRun[] = [];
      for (const { runId } of own) {
        const answer = await http.planRun(runId);
        if (answer.ok) read.push(answer.value);
      }
      if (!left) runs.value = read;
    })();
    return () => {
      left = true;
    };
  }, [sessionId, athleteId]);
  const read = runs.value;
  return useMemo(
    () =>
      read.flatMap((run): RecordedRun[] => {
        const athleteRun = athleteRunsOf(run).find((each) => each.athleteId === athleteId);
        return athleteRun === undefined
          ? []
          : [
              {
                run,
                athleteRun: settledAthleteRun(athleteRun, run, startedWallAtMs, athlete.holds),
                beganAtMs: run.startedWallAtMs - startedWallAtMs,
              },
            ];
      }),
    [read, athlete.holds, athleteId, startedWallAtMs],
  );
}
