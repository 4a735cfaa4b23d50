// The holds of the recording that was made while a plan ran, worked out athlete by athlete: the run's own were told live.

import { useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { AthleteRecording } from '../../../shared/http.ts';
import type { PlanRunBody } from '../../../shared/plan-run.ts';
import { useApp } from '../../app/app-context.ts';

export interface RecordingOfRun {
  readonly startedWallAtMs: number;
  /** By athlete; those that are still being worked out are not in it. */
  readonly holdsOf: ReadonlyMap<string, AthleteRecording['holds']>;
}

/** Null where there is none, or none that can be read, and until the first athlete is there. */
export function useRecordingOfRun(run: PlanRunBody | null): RecordingOfRun | null {
  const { http } = useApp();
  const recording = useSignal<RecordingOfRun | null>(null);
  const sessionId = run?.sessionId ?? null;
  useEffect(() => {
    if (sessionId === null || run === null) return undefined;
    const leave = new AbortController();
    void (async () => {
      const outline = await http.recordingOutline(sessionId);
      if (!outline.ok) return;
      const { startedWallAtMs } = outline.value.session;
      for (const athleteId of run.shownAthleteIds ?? run.options.athletes.map((each) => each.athleteId)) {
        const answer = await http.athleteRecording(sessionId, athleteId, leave.signal);
        if (leave.signal.aborted) return;
        if (!answer.ok) continue;
        recording.value = {
          startedWallAtMs,
          holdsOf: new Map([...(recording.value?.holdsOf ?? []), [athleteId, answer.value.holds]]),
        };
      }
    })();
    return () => leave.abort();
  }, [sessionId]);
  return recording.value;
}
