// Fetches what a report is made of: the recording's outline, the one athlete worked out, and the traces at paper's width.

import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { RecordingBody } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { type LoadedTrace, loadedTraceOf } from '../../state/loaded-trace.ts';

/** About what a printer resolves across the page. */
const reportPoints = 1_000;

export interface ReportContent {
  /** With the one athlete. */
  readonly recording: RecordingBody;
  readonly trace: LoadedTrace;
}

export interface ReportLoading {
  /** Null until all of it is there. */
  readonly content: ReadonlySignal<ReportContent | null>;
  readonly problem: ReadonlySignal<string | null>;
  readonly tryAgain: () => void;
}

export function useReport(sessionId: string, athleteId: string): ReportLoading {
  const { text, http } = useApp();
  const content = useSignal<ReportContent | null>(null);
  const problem = useSignal<string | null>(null);
  const attempt = useSignal(0);
  const load = async (signal: AbortSignal) => {
    problem.value = null;
    const fail = (reason: string) => {
      if (!signal.aborted) problem.value = text.history.report.failed(reason);
    };
    const outline = await http.recordingOutline(sessionId);
    if (!outline.ok) return fail(outline.reason);
    const whole = await http.athleteRecording(sessionId, athleteId, signal);
    if (!whole.ok) return fail(whole.reason);
    const traced = await http.trace(sessionId, athleteId, 0, outline.value.durationMs, reportPoints);
    if (!traced.ok) return fail(traced.reason);
    if (signal.aborted) return;
    content.value = {
      recording: { ...outline.value, athletes: [whole.value] },
      trace: loadedTraceOf(traced.value, reportPoints),
    };
  };
  useEffect(() => {
    const leave = new AbortController();
    void load(leave.signal);
    return () => leave.abort();
  }, [sessionId, athleteId, attempt.value]);
  return {
    content,
    problem,
    tryAgain: () => {
      attempt.value += 1;
    },
  };
}
