// Traces of a recording as the hub sent them: over what time a line may join two samples, and which to draw. Pure.

import type { TraceBody } from '../../shared/http.ts';
import type { Trace } from '../../shared/views.ts';
import type { TimeRange } from './time-range.ts';

/** Traces with the longest time between two samples that a line joins. */
export interface LoadedTrace {
  readonly body: TraceBody;
  readonly acrossSeconds: number;
}

/**
 * Longest time a line joins two samples over: our choice, because sensors notify about once a second and a line over
 * more would hide a silence. Where only the least and greatest of a bucket were kept: three buckets, if that is longer.
 */
export const plainAcrossSeconds = 3.5;

/** `points` is the number of buckets asked for. */
export function loadedTraceOf(body: TraceBody, points: number): LoadedTrace {
  const bucketSeconds = (body.toMs - body.fromMs) / 1000 / points;
  return {
    body,
    acrossSeconds: body.decimated ? Math.max(plainAcrossSeconds, bucketSeconds * 3) : plainAcrossSeconds,
  };
}

/** The first of `channels` that has samples; null where none has. */
export function firstTraceWithSamples(
  loaded: LoadedTrace | null,
  channels: readonly Trace['channel'][],
): Trace | null {
  if (loaded === null) return null;
  for (const channel of channels) {
    const found = loaded.body.traces.find((trace) => trace.channel === channel && trace.atMs.length > 0);
    if (found !== undefined) return found;
  }
  return null;
}

/** The finer trace where it covers the range, else the overview. */
export function traceForRange(
  overview: LoadedTrace | null,
  finer: LoadedTrace | null,
  { fromSeconds, toSeconds }: TimeRange,
): LoadedTrace | null {
  if (finer === null) return overview;
  // A millisecond over: seconds and milliseconds round apart.
  const covers = finer.body.fromMs <= fromSeconds * 1000 + 1 && finer.body.toMs >= toSeconds * 1000 - 1;
  return covers ? finer : overview;
}
