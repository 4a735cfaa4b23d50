// A whole recording from its events: runs the one pipeline over them, then the two-sided pass and the measures.
// What was said live stays beside what is estimated afterwards; neither replaces the other.

import type { AlarmKind, AlarmPriority, Channel } from '../../shared/schema-parts.ts';
import { type MonotonicMs, monotonicMs } from '../../shared/units.ts';
import type { Hold } from '../holds/hold.ts';
import type { WhyNot } from '../holds/hold-scene.ts';
import { firstFrom } from '../holds/hold-scene.ts';
import { belongsUntilMs, countsForLowest } from '../holds/lowest-reading.ts';
import { computeHoldMeasures, type HoldMeasures } from '../holds/measures.ts';
import { reestimateHolds, type UnwatchedStretch } from '../holds/smoothing.ts';
import type { Pipeline, PipelineEvent, PipelineOutput } from '../pipeline.ts';
import type { Mark } from '../samples/mark.ts';
import type { Sample } from '../samples/sample.ts';
import { createPlethBreathing, type PlethSecond } from '../signal/pleth-breathing.ts';
import { timeOfEvent } from './merge-events.ts';
import { createSampleColumns, type SampleColumns } from './sample-columns.ts';

export interface DerivedGap {
  readonly sensorId: string;
  readonly channel: Channel;
  readonly fromMs: MonotonicMs;
  readonly toMs: MonotonicMs;
}

export interface DerivedAlarm {
  readonly alarmId: string;
  readonly kind: AlarmKind;
  /** The highest it had. */
  readonly priority: AlarmPriority;
  readonly raisedAtMs: MonotonicMs;
  /** When its condition passed; null where it was there to the end. */
  readonly passedAtMs: MonotonicMs | null;
  readonly clearedAtMs: MonotonicMs;
  /** When raised, and the worst since, in the unit of the kind. */
  readonly value: number | null;
  readonly worstValue: number | null;
}

export interface MeasuredHold {
  readonly hold: Hold;
  readonly measures: HoldMeasures;
  /** Of each measure that is null. */
  readonly whyNot: Readonly<Record<string, WhyNot>>;
  /** The reading that is `spo2LowestPercent`: of several as low the first. */
  readonly lowestSpo2: Sample | undefined;
}

export interface DerivedRecording {
  /** Every sample with its final quality, in time order, without waveforms. */
  readonly samples: readonly Sample[];
  /** What the waveform tells of breathing, by row time (pleth-breathing.ts). */
  readonly plethSeconds: ReadonlyMap<number, PlethSecond>;
  /** Every sample by channel, waveforms too, for drawing. */
  readonly columns: ReadonlyMap<Channel, SampleColumns>;
  readonly gaps: readonly DerivedGap[];
  readonly discardedCount: number;
  /** As the live detector said them, last revision of each. */
  readonly liveHolds: readonly Hold[];
  /** From the two-sided pass, with marks winning. */
  readonly holds: readonly MeasuredHold[];
  readonly alarms: readonly DerivedAlarm[];
}

export interface DeriveOptions {
  /** Hears the time reached about once a recorded minute, for a progress bar. */
  readonly onProgress?: (reachedMs: number) => void;
  /** What the live detector said, where it was kept and the pipeline's scope is `signals`. */
  readonly liveHolds?: readonly Hold[];
  /** Stretches in which nobody watched: a hold can go on over one. */
  readonly unwatched?: readonly UnwatchedStretch[];
  /** Without columns for drawing, which cost time and memory. */
  readonly withoutColumns?: boolean;
}

/**
 * Alarms are those the pipeline raises when each is acknowledged as soon as its condition has passed.
 * Runs `pipeline` (fresh) over `events` (in time order) up to `durationMs`.
 */
export function deriveRecording(
  pipeline: Pipeline,
  events: Iterable<PipelineEvent>,
  durationMs: number,
  options: DeriveOptions = {},
): DerivedRecording {
  const { onProgress } = options;
  const samples: Sample[] = [];
  const columns = new Map<Channel, SampleColumns>();
  const gaps: DerivedGap[] = [];
  const liveHolds = new Map((options.liveHolds ?? []).map((hold) => [hold.holdId, hold]));
  const alarms: DerivedAlarm[] = [];
  const marks = new Map<string, Mark>();
  let discardedCount = 0;
  let nextProgressMs = 0;

  /** The breathing in the waveform, second by second: the two-sided pass needs no more of it. */
  const plethBreathing = createPlethBreathing();
  const plethSeconds = new Map<number, PlethSecond>();
  let plethRowMs = Number.NaN;

  function takePleth(sample: Sample): void {
    if (Number.isNaN(plethRowMs)) plethRowMs = Math.ceil(sample.atMs / 1_000) * 1_000;
    while (sample.atMs > plethRowMs) {
      plethSeconds.set(plethRowMs, plethBreathing.takeUntil(plethRowMs));
      plethRowMs += 1_000;
    }
    plethBreathing.push(sample.atMs, sample.value);
  }

  function takeColumn({ channel, atMs, value, quality }: Sample): void {
    let column = columns.get(channel);
    if (column === undefined) {
      column = createSampleColumns();
      columns.set(channel, column);
    }
    column.append(atMs, value, quality);
  }

  function take(output: PipelineOutput): void {
    switch (output.type) {
      case 'sample': {
        const { sample } = output;
        if (options.withoutColumns !== true) takeColumn(sample);
        if (sample.channel !== 'pleth') samples.push(sample);
        else takePleth(sample);
        return;
      }
      case 'discarded':
        discardedCount += 1;
        return;
      case 'gap':
        gaps.push(output);
        return;
      case 'hold':
        if (output.event.type === 'holdWithdrawn') liveHolds.delete(output.event.holdId);
        else if (output.event.type !== 'phaseChanged')
          liveHolds.set(output.event.hold.holdId, output.event.hold);
        return;
      case 'alarms':
        for (const alarm of output.ended)
          alarms.push({
            alarmId: alarm.alarmId,
            kind: alarm.kind,
            priority: alarm.highestPriority,
            raisedAtMs: alarm.raisedAtMs,
            passedAtMs: alarm.passedAtMs ?? null,
            clearedAtMs: alarm.endedAtMs,
            value: alarm.value ?? null,
            worstValue: alarm.worstValue ?? null,
          });
        return;
      case 'battery':
      case 'threshold':
      case 'forecast':
        return;
    }
  }

  /** True when the alarms changed. */
  function pushAll(event: PipelineEvent): boolean {
    let heardAlarms = false;
    for (const output of pipeline.push(event)) {
      take(output);
      if (output.type === 'alarms') heardAlarms = true;
    }
    return heardAlarms;
  }

  for (const event of events) {
    if (event.type === 'mark') marks.set(event.mark.markId, event.mark);
    if (event.type === 'markRemoved') marks.delete(event.markId);
    const heardAlarms = pushAll(event);
    // Nobody is there to acknowledge: what has passed is put aside, so that the next crossing shows as its own alarm.
    if (
      heardAlarms &&
      pipeline.state.alarms.some((alarm) => !alarm.conditionPresent && !alarm.acknowledged)
    ) {
      pushAll({ type: 'acknowledge', atMs: pipeline.state.atMs });
    }
    if (onProgress !== undefined && timeOfEvent(event) >= nextProgressMs) {
      onProgress(timeOfEvent(event));
      nextProgressMs = timeOfEvent(event) + 60_000;
    }
  }
  for (const output of pipeline.push({ type: 'sessionEnded', atMs: monotonicMs(durationMs) })) take(output);

  gaps.push(...pipeline.openGaps());
  samples.sort((a, b) => a.atMs - b.atMs);
  const orderedMarks = [...marks.values()].sort((a, b) => a.atMs - b.atMs);
  const live = [...liveHolds.values()];
  const holds = reestimateHolds(samples, orderedMarks, live, plethSeconds, options.unwatched);
  return {
    samples,
    plethSeconds,
    columns,
    gaps,
    discardedCount,
    liveHolds: [...liveHolds.values()],
    holds: measureHolds(holds, samples, plethSeconds, options.unwatched),
    alarms: alarms.sort((a, b) => a.raisedAtMs - b.raisedAtMs),
  };
}

/**
 * Measures each of an athlete's holds against its neighbours. `samples` in time order; `plethSeconds` by row time, where
 * the pleth itself is left out.
 */
export function measureHolds(
  holds: readonly Hold[],
  samples: readonly Sample[],
  plethSeconds?: ReadonlyMap<number, PlethSecond>,
  unwatched: readonly UnwatchedStretch[] = [],
): MeasuredHold[] {
  let previousBaselinePercent: number | null = null;
  return holds.map((hold, index) => {
    const previousEndMs = holds[index - 1]?.end?.atMs;
    const nextStartMs = holds[index + 1]?.start.atMs;
    const { values: measures, whyNot } = computeHoldMeasures(hold, samples, {
      ...(plethSeconds !== undefined && { plethSeconds }),
      unwatched,
      ...(previousEndMs !== undefined && { previousEndMs }),
      ...(nextStartMs !== undefined && { nextStartMs }),
      ...(previousBaselinePercent !== null && { previousBaselinePercent }),
    });
    previousBaselinePercent = measures['spo2BaselinePercent'] ?? null;
    return { hold, measures, whyNot, lowestSpo2: lowestSpo2Of(hold, samples, nextStartMs) };
  });
}

/** The first of the lowest readings that count for a hold; `samples` in time order. */
export function lowestSpo2Of(
  { start, end }: Hold,
  samples: readonly Sample[],
  nextStartMs: number | undefined,
): Sample | undefined {
  const between = {
    startMs: start.atMs,
    endMs: end?.atMs ?? Number.POSITIVE_INFINITY,
    nextStartMs: nextStartMs ?? Number.POSITIVE_INFINITY,
  };
  let lowest: Sample | undefined;
  const untilMs = belongsUntilMs(between);
  for (let index = firstFrom(samples, start.atMs); index < samples.length; index += 1) {
    const sample = samples[index]!;
    if (sample.atMs > untilMs) break;
    if ((lowest === undefined || sample.value < lowest.value) && countsForLowest(sample, between))
      lowest = sample;
  }
  return lowest;
}
