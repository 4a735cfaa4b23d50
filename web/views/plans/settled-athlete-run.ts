// An athlete's part of a plan's run by the holds of the recording as they stand. Pure.

import type { AthleteRecording } from '../../../shared/http.ts';
import type { StoredPlanRun } from '../../../shared/plan-run.ts';
import type { AthleteRun } from '../../../src/plans/plan-run-state.ts';
import { settleRun } from '../../../src/plans/settled-run.ts';
import { measureOf } from '../../../src/sessions/hold-parts.ts';

/** Proposals that nobody has accepted are no holds of the run. */
export const settledAthleteRun = (
  athleteRun: AthleteRun,
  { startedWallAtMs }: Pick<StoredPlanRun, 'startedWallAtMs'>,
  sessionStartedWallAtMs: number,
  holds: AthleteRecording['holds'],
): AthleteRun =>
  settleRun(
    athleteRun,
    holds
      .filter(({ hold }) => hold.isProposed !== true)
      .map((recorded) => ({
        hold: recorded.hold,
        lowestSpo2Percent: measureOf(recorded, 'spo2LowestPercent'),
      })),
    startedWallAtMs - sessionStartedWallAtMs,
  );
