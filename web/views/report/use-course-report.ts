// Fetches what the report of a group is made of: the recording's outline, then each athlete worked out, one after the other.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';

export interface CourseReportLoading {
  /** Null until the outline is there; athletes that are still to come have `workedOut` false. */
  readonly recording: ReadonlySignal<RecordingBody | null>;
  readonly problem: ReadonlySignal<string | null>;
  readonly tryAgain: () => void;
}

export function useCourseReport(sessionId: string): CourseReportLoading {
  const { text, http } = useApp();
  const recording = useSignal<RecordingBody | null>(null);
  const problem = useSignal<string | null>(null);
  const attempt = useSignal(0);
  const load = async (signal: AbortSignal) => {
    problem.value = null;
    const outline = await http.recordingOutline(sessionId);
    if (signal.aborted) return;
    if (!outline.ok) {
      problem.value = text.history.report.failed(outline.reason);
      return;
    }
    recording.value = outline.value;
    for (const { athlete } of outline.value.athletes) {
      const whole = await http.athleteRecording(sessionId, athlete.athleteId, signal);
      if (signal.aborted) return;
      if (!whole.ok) {
        // The others can still be told of.
        problem.value = text.history.report.failed(whole.reason);
        continue;
      }
      recording.value = {
        ...recording.value,
        athletes: recording.value.athletes.map((each) =>
          each.athlete.athleteId === athlete.athleteId ? whole.value : each,
        ),
      };
    }
  };
  useEffect(() => {
    const leave = new AbortController();
    void load(leave.signal);
    return () => leave.abort();
  }, [sessionId, attempt.value]);
  return {
    recording,
    problem,
    tryAgain: () => {
      attempt.value += 1;
    },
  };
}
