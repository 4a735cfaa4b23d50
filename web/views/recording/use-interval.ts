// Every reading between two points, fetched when the points have come to rest: what is drawn may be thinned, what is
// measured must not be.

import { type ReadonlySignal, type Signal, useSignal, useSignalEffect } from '@preact/signals';
import type { Trace } from '../../../shared/views.ts';
import { useApp } from '../../app/app-context.ts';
import type { TracePoints } from './use-trace-view.ts';

/** The most that the hub gives: twice as many readings come whole, four hours of one a second. */
const mostPoints = 8_000;
const restMs = 140;
/** To either side, for the reading at a point. */
const marginMs = 3_000;
const channels = ['spo2Percent', 'heartRateBpm', 'pulseRateBpm'] as const;

export type IntervalReadings =
  | { readonly state: 'loading' | 'tooLong' | 'failed' }
  | { readonly state: 'known'; readonly points: TracePoints; readonly traces: readonly Trace[] };

export interface IntervalParts {
  readonly sessionId: string;
  readonly athleteId: string;
  readonly points: ReadonlySignal<TracePoints | null>;
  /** As the sensors sent them, rather than cleaned. */
  readonly raw: Signal<boolean>;
}

/** Null without points. */
export function useInterval({ sessionId, athleteId, points, raw }: IntervalParts) {
  const { http, timers } = useApp();
  const interval = useSignal<IntervalReadings | null>(null);
  useSignalEffect(() => {
    const now = points.value;
    const signals = raw.value ? 'raw' : 'cleaned';
    if (now === null) {
      interval.value = null;
      return undefined;
    }
    if (interval.peek() === null) interval.value = { state: 'loading' };
    const leave = new AbortController();
    const cancel = timers.after(restMs, () => {
      const fromMs = Math.max(0, Math.min(now.a, now.b) * 1_000 - marginMs);
      const toMs = Math.max(now.a, now.b) * 1_000 + marginMs;
      void http
        .trace(sessionId, athleteId, fromMs, toMs, mostPoints, signals, channels, leave.signal)
        .then((answer) => {
          if (leave.signal.aborted) return;
          interval.value = !answer.ok
            ? { state: 'failed' }
            : answer.value.decimated
              ? { state: 'tooLong' }
              : { state: 'known', points: now, traces: answer.value.traces };
        });
    });
    return () => {
      leave.abort();
      cancel();
    };
  });
  return interval;
}
