// One athlete as the page knows them: a signal a thing, and the buffers of the live traces.

import { type Signal, signal } from '@preact/signals';
import type { Phase } from '../../shared/schema-parts.ts';
import type {
  AlarmView,
  Athlete,
  AthleteState,
  ForecastView,
  HoldView,
  MarkView,
  Readout,
  SoundView,
  Trace,
} from '../../shared/views.ts';
import { TraceBuffer } from './trace-buffer.ts';

/** An hour at one sample a second; the live page shows minutes, the rest is for a page that widens its window. */
const bufferedSamples = 4096;
/** Of a room looked at from afar only the wall is shown: its three minutes, at several samples a second. */
export const bufferedFromAfar = 1024;

/**
 * A press this soon after an alarm came up was not meant for it: a finger was on its way. Our choice: people need
 * 0.2-0.3 s and more to answer what they see (from memory).
 */
const seenAfterMs = 300;

/** Channels the live traces draw. `pulseRateBpm` stands in where there is no chest strap. */
const liveChannels = ['spo2Percent', 'heartRateBpm', 'pulseRateBpm'] as const;
export type LiveChannel = (typeof liveChannels)[number];

export interface MissingSpan {
  readonly fromMs: number;
  readonly toMs: number;
}

export class AthleteModel {
  readonly athleteId: string;
  readonly athlete: Signal<Athlete>;
  readonly phase = signal<Phase>('unknown');
  readonly spo2 = signal<Readout>(null);
  readonly heartRate = signal<Readout>(null);
  readonly forecast = signal<ForecastView>({
    known: false,
    lowestIfStoppedNow: null,
    secondsToStop: null,
    lungs: null,
  });
  readonly holds = signal<readonly HoldView[]>([]);
  readonly marks = signal<readonly MarkView[]>([]);
  readonly alarms = signal<readonly AlarmView[]>([]);
  readonly sound = signal<SoundView>({ priority: null, audioPausedUntilMs: null });
  /** Spans of the trace the hub never sent to this page. */
  readonly missing = signal<readonly MissingSpan[]>([]);
  readonly traces: Readonly<Record<LiveChannel, TraceBuffer>>;
  /** Up to where the page has every sample, or null before the first batch. */
  haveToMs: number | null = null;
  /** Page time since when each unacknowledged alarm has stood on this page as it is. */
  #shownSincePageMs = new Map<string, number>();

  constructor(athlete: Athlete, capacity = bufferedSamples) {
    this.athleteId = athlete.athleteId;
    this.athlete = signal(athlete);
    this.traces = {
      spo2Percent: new TraceBuffer(capacity),
      heartRateBpm: new TraceBuffer(capacity),
      pulseRateBpm: new TraceBuffer(capacity),
    };
  }

  /** Takes the hub's whole account of this athlete; traces are kept, they come by `trace` messages. */
  replace(state: AthleteState, pageNowMs: number): void {
    this.athlete.value = state.athlete;
    this.phase.value = state.phase;
    this.spo2.value = state.spo2;
    this.heartRate.value = state.heartRate;
    this.forecast.value = state.forecast;
    this.holds.value = state.holds;
    this.marks.value = state.marks;
    this.takeAlarms(state.alarms, state.sound, pageNowMs);
  }

  takeAlarms(alarms: readonly AlarmView[], sound: SoundView, pageNowMs: number): void {
    const before = new Map(this.alarms.value.map((alarm) => [alarm.alarmId, alarm]));
    const shown = new Map<string, number>();
    for (const { alarmId, acknowledged, priority } of alarms) {
      const old = before.get(alarmId);
      // One that sounds again or has become more urgent is as new.
      const isNew = old === undefined || old.acknowledged || old.priority !== priority;
      const since = isNew ? undefined : this.#shownSincePageMs.get(alarmId);
      if (!acknowledged) shown.set(alarmId, since ?? pageNowMs);
    }
    this.#shownSincePageMs = shown;
    this.alarms.value = alarms;
    this.sound.value = sound;
  }

  /** Unacknowledged alarms that have been on this page long enough for a person to have seen them. */
  seenAlarmIds(pageNowMs: number): string[] {
    return this.alarms.value
      .map((alarm) => alarm.alarmId)
      .filter((alarmId) => {
        const since = this.#shownSincePageMs.get(alarmId);
        return since !== undefined && pageNowMs - since >= seenAfterMs;
      });
  }

  /** The heart-rate buffer to draw: the strap's where it has anything, else the oximeter's pulse rate. */
  heartRateTrace(): TraceBuffer {
    return this.traces.heartRateBpm.length > 0 ? this.traces.heartRateBpm : this.traces.pulseRateBpm;
  }

  /** Adds a batch of samples covering `fromMs < t <= toMs`; a hole before it is kept as a missing span. */
  addTraces(fromMs: number, toMs: number, traces: readonly Trace[]): void {
    if (this.haveToMs !== null && fromMs > this.haveToMs) {
      for (const channel of liveChannels) this.traces[channel].breakHere();
      this.missing.value = [...this.missing.value, { fromMs: this.haveToMs, toMs: fromMs }];
    }
    for (const trace of traces) {
      const channel = liveChannels.find((each) => each === trace.channel);
      if (channel !== undefined) this.traces[channel].append(trace);
    }
    if (this.haveToMs === null || toMs > this.haveToMs) this.haveToMs = toMs;
  }

  /** The hold in progress, if any. */
  currentHold(): HoldView | null {
    const last = this.holds.value.at(-1);
    return last !== undefined && last.end === null ? last : null;
  }
}
