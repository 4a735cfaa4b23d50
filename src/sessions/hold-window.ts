// Holds laid over one another: the trace round each hold, aligned at an event, and the athlete's median of them.

import { quantileOfSorted, sortedRising } from './quantiles.ts';

/** What holds can be aligned at. */
export type Alignment = 'start' | 'contraction' | 'end';

export interface HoldTimes {
  readonly startAtMs: number;
  /** Null for a hold without an end in its recording. */
  readonly endAtMs: number | null;
  /** First marked contraction, or null. */
  readonly firstContractionAtMs: number | null;
}

export interface WindowSpan {
  readonly fromMs: number;
  readonly toMs: number;
}

/** Breathing before a hold that is shown with it. */
const leadMs = 30_000;
/** The lowest reading and the way back come after the end: lag 10 to 40 s and more (reference 3.23-3.27). */
const tailMs = 90_000;

/** The stretch of the recording to show of a hold: some time before and after, but nothing of its neighbours. */
export function windowOfHold(
  hold: HoldTimes,
  previousEndMs: number | null,
  nextStartMs: number | null,
  durationMs: number,
): WindowSpan {
  const endAtMs = hold.endAtMs ?? durationMs;
  return {
    fromMs: Math.max(0, previousEndMs ?? 0, hold.startAtMs - leadMs),
    toMs: Math.min(durationMs, nextStartMs ?? durationMs, endAtMs + tailMs),
  };
}

/** The time that becomes zero; null where this hold has no such event. */
export function anchorOf(hold: HoldTimes, alignment: Alignment): number | null {
  if (alignment === 'start') return hold.startAtMs;
  return alignment === 'end' ? hold.endAtMs : hold.firstContractionAtMs;
}

/** Samples of one channel, times in any unit of the session, in time order. */
export interface WindowTrace {
  readonly atMs: readonly number[];
  readonly value: readonly (number | null)[];
  /** One letter a sample: g, s or b. */
  readonly quality: string;
}

export interface AlignedTrace {
  /** Seconds from the anchor, rising. */
  readonly atSeconds: readonly number[];
  readonly value: readonly number[];
  /** Where this hold began and ended on the same axis. */
  readonly startSeconds: number;
  readonly endSeconds: number | null;
}

/** The usable samples of a hold's trace with the anchor as zero; null where the hold has no such event. */
export function alignTrace(trace: WindowTrace, hold: HoldTimes, alignment: Alignment): AlignedTrace | null {
  const anchorMs = anchorOf(hold, alignment);
  if (anchorMs === null) return null;
  const atSeconds: number[] = [];
  const value: number[] = [];
  trace.value.forEach((sample, index) => {
    if (sample === null || trace.quality[index] === 'b') return;
    atSeconds.push((trace.atMs[index]! - anchorMs) / 1000);
    value.push(sample);
  });
  return {
    atSeconds,
    value,
    startSeconds: (hold.startAtMs - anchorMs) / 1000,
    endSeconds: hold.endAtMs === null ? null : (hold.endAtMs - anchorMs) / 1000,
  };
}

export interface MedianBand {
  readonly atSeconds: number[];
  readonly median: number[];
  /** Lower and upper quartile. */
  readonly low: number[];
  readonly high: number[];
  readonly count: number[];
}

const bandRule = {
  stepSeconds: 1,
  /** Of fewer holds a quartile says nothing. */
  leastCount: 3,
  /** Two samples further apart have nothing known between them. */
  acrossSeconds: 5,
} as const;

/**
 * Median and quartiles over holds, second by second, wherever enough of them have a reading. Aligned at the start or
 * at contraction onset, a hold counts up to its own end, so that one athlete's recovery is not averaged with
 * another hold; aligned at the end it counts from its own start on.
 */
export function medianBand(
  traces: readonly AlignedTrace[],
  alignment: Alignment,
  rule = bandRule,
): MedianBand {
  const band: MedianBand = { atSeconds: [], median: [], low: [], high: [], count: [] };
  const spans = traces.map((trace) => ({
    trace,
    fromSeconds: alignment === 'end' ? trace.startSeconds : (trace.atSeconds[0] ?? Number.POSITIVE_INFINITY),
    toSeconds:
      alignment === 'end'
        ? Number.POSITIVE_INFINITY
        : (trace.endSeconds ?? trace.atSeconds.at(-1) ?? Number.NEGATIVE_INFINITY),
    index: 0,
  }));
  const first = Math.min(...traces.map((trace) => trace.atSeconds[0] ?? Number.POSITIVE_INFINITY));
  const last = Math.max(...traces.map((trace) => trace.atSeconds.at(-1) ?? Number.NEGATIVE_INFINITY));
  for (let step = Math.ceil(first / rule.stepSeconds); step * rule.stepSeconds <= last; step += 1) {
    const at = step * rule.stepSeconds;
    const values: number[] = [];
    for (const span of spans) {
      if (at < span.fromSeconds || at > span.toSeconds) continue;
      const { atSeconds, value } = span.trace;
      while (span.index < atSeconds.length && atSeconds[span.index]! < at) span.index += 1;
      const here = valueBetween(atSeconds, value, span.index, at, rule.acrossSeconds);
      if (here !== null) values.push(here);
    }
    if (values.length < rule.leastCount) continue;
    const sorted = sortedRising(values);
    band.atSeconds.push(at);
    band.median.push(quantileOfSorted(sorted, 0.5)!);
    band.low.push(quantileOfSorted(sorted, 0.25)!);
    band.high.push(quantileOfSorted(sorted, 0.75)!);
    band.count.push(sorted.length);
  }
  return band;
}

/** `index` is the first sample not before `at`. */
function valueBetween(
  atSeconds: readonly number[],
  value: readonly number[],
  index: number,
  at: number,
  acrossSeconds: number,
): number | null {
  if (index >= atSeconds.length) return null;
  const after = atSeconds[index]!;
  if (after === at) return value[index]!;
  if (index === 0) return null;
  const before = atSeconds[index - 1]!;
  if (after - before > acrossSeconds) return null;
  const share = (at - before) / (after - before);
  return value[index - 1]! + share * (value[index]! - value[index - 1]!);
}
