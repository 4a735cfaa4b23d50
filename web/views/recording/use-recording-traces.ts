// Fetches an athlete's traces: an overview at once, and finer ones for the range shown when it has come to rest.

import { type ReadonlySignal, type Signal, useComputed, useSignal, useSignalEffect } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import type { AthleteRecording } from '../../../shared/http.ts';
import { useApp } from '../../app/app-context.ts';
import { type LoadedTrace, loadedTraceOf, traceForRange } from '../../state/loaded-trace.ts';
import type { TimeRange } from '../../state/time-range.ts';

/** Buckets asked for: about one a pixel of a wide screen, each with its least and greatest value. */
const overviewPoints = 800;
const detailPoints = 1_600;
const channels = ['spo2Percent', 'heartRateBpm', 'pulseRateBpm', 'pleth'] as const;
/** Our choice: shorter than a person waits, longer than the steps of a drag. */
const restMs = 140;

export interface RecordingTracesParts {
  readonly sessionId: string;
  readonly athlete: AthleteRecording;
  readonly range: Signal<TimeRange>;
  readonly whole: TimeRange;
  /** As the sensors sent them, rather than cleaned. */
  readonly raw: Signal<boolean>;
}

export interface RecordingTraces {
  readonly overview: ReadonlySignal<LoadedTrace | null>;
  /** The finest at hand that covers the range. */
  readonly detail: ReadonlySignal<LoadedTrace | null>;
  readonly problem: ReadonlySignal<string | null>;
}

export function useRecordingTraces(parts: RecordingTracesParts): RecordingTraces {
  const { sessionId, athlete, range, whole, raw } = parts;
  const { text, http, timers } = useApp();
  const { athleteId } = athlete.athlete;
  const overview = useSignal<LoadedTrace | null>(null);
  const finer = useSignal<LoadedTrace | null>(null);
  const problem = useSignal<string | null>(null);
  const fetchTraces = ({ fromSeconds, toSeconds }: TimeRange, points: number, leave: AbortSignal) =>
    http.trace(
      sessionId,
      athleteId,
      fromSeconds * 1000,
      toSeconds * 1000,
      points,
      raw.value ? 'raw' : 'cleaned',
      channels,
      leave,
    );

  useEffect(() => {
    const leave = new AbortController();
    void fetchTraces(whole, overviewPoints, leave.signal).then((answer) => {
      if (leave.signal.aborted) return;
      if (answer.ok) overview.value = loadedTraceOf(answer.value, overviewPoints);
      problem.value = answer.ok ? null : text.recording.traceFailed(answer.reason);
    });
    return () => leave.abort();
  }, [athleteId, raw.value, athlete.workedOut]);

  useSignalEffect(() => {
    const { fromSeconds, toSeconds } = range.value;
    if (overview.value?.body.decimated !== true) {
      finer.value = null;
      return undefined;
    }
    // Read here, so that a change of it asks again.
    raw.value;
    const leave = new AbortController();
    const cancel = timers.after(restMs, () => {
      const marginSeconds = (toSeconds - fromSeconds) / 2;
      const wanted = {
        fromSeconds: Math.max(0, fromSeconds - marginSeconds),
        toSeconds: Math.min(whole.toSeconds, toSeconds + marginSeconds),
      };
      void fetchTraces(wanted, detailPoints, leave.signal).then((answer) => {
        if (!leave.signal.aborted && answer.ok) finer.value = loadedTraceOf(answer.value, detailPoints);
      });
    });
    return () => {
      leave.abort();
      cancel();
    };
  });

  const detail = useComputed(() => traceForRange(overview.value, finer.value, range.value));
  return { overview, detail, problem };
}
