// The first file to read: how the bytes of one athlete's sensors become samples, holds, a forecast and alarms.
// One pipeline serves live sessions, replays, the demo and later analysis. It has no clock: time comes with events.

import type { AlarmPriority, Channel, Phase } from '../shared/schema-parts.ts';
import type { MonotonicMs } from '../shared/units.ts';
import type { AthleteSettings } from '../shared/views.ts';
import type { ActiveAlarm } from './alarms/alarm.ts';
import type { Hold, HoldEvent } from './holds/hold.ts';
import type { Forecast } from './oxygen/forecast.ts';
import type { Mark } from './samples/mark.ts';
import type { Sample } from './samples/sample.ts';

/** Everything that can happen to one athlete, in time order. */
export type PipelineEvent =
  /** Bytes from a sensor, already recorded. `characteristic` as in the hub's SensorPacket. */
  | {
      readonly type: 'packet';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly characteristic: string;
      readonly bytes: Uint8Array;
    }
  /** A value that never was bytes (an imported file). */
  | { readonly type: 'sample'; readonly sample: Sample }
  | {
      readonly type: 'link';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly measures: readonly ('heartRate' | 'oximeter')[];
      readonly connected: boolean;
    }
  | { readonly type: 'mark'; readonly mark: Mark }
  | { readonly type: 'markRemoved'; readonly atMs: MonotonicMs; readonly markId: string }
  | { readonly type: 'settings'; readonly atMs: MonotonicMs; readonly settings: AthleteSettings }
  | { readonly type: 'acknowledge'; readonly atMs: MonotonicMs }
  | { readonly type: 'pauseAudio'; readonly atMs: MonotonicMs; readonly paused: boolean }
  | {
      readonly type: 'outputs';
      readonly atMs: MonotonicMs;
      readonly livingPageCount: number;
      readonly soundReadyCount: number;
    }
  | { readonly type: 'schedule'; readonly startAtMs: MonotonicMs; readonly toleranceMs: number }
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };

/** What follows from an event. */
export type PipelineOutput =
  | { readonly type: 'sample'; readonly sample: Sample }
  | {
      readonly type: 'discarded';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly characteristic: string;
      readonly reason: string;
    }
  | {
      readonly type: 'battery';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly batteryPercent: number;
    }
  | {
      readonly type: 'gap';
      readonly channel: Channel;
      readonly sensorId: string;
      readonly fromMs: MonotonicMs;
      readonly toMs: MonotonicMs;
    }
  | { readonly type: 'hold'; readonly event: HoldEvent }
  | {
      readonly type: 'threshold';
      readonly atMs: MonotonicMs;
      readonly thresholdPercent: number;
      readonly direction: 'below' | 'above';
    }
  | { readonly type: 'forecast'; readonly atMs: MonotonicMs; readonly forecast: Forecast }
  | { readonly type: 'alarms'; readonly atMs: MonotonicMs; readonly alarms: readonly ActiveAlarm[] };

/** A hold with what the live page shows of it. */
export interface LiveHold {
  readonly hold: Hold;
  /** Lowest usable saturation from its start to 60 s after its end, if one has been read. */
  readonly lowestSpo2?: Sample;
}

/** What stands now; everything a page draws of the present. */
export interface PipelineState {
  readonly atMs: MonotonicMs;
  readonly phase: Phase;
  /** The newest saturation and heart rate that carried a value, whatever their quality. */
  readonly latestSpo2: Sample | undefined;
  readonly latestHeartRate: Sample | undefined;
  readonly forecast: Forecast;
  readonly holds: readonly LiveHold[];
  readonly alarms: readonly ActiveAlarm[];
  readonly sound: {
    readonly priority: AlarmPriority | null;
    readonly audioPausedUntilMs: MonotonicMs | null;
  };
}

/** One athlete's pipeline. Deterministic: the same events in the same order give the same outputs. */
export interface Pipeline {
  push(event: PipelineEvent): readonly PipelineOutput[];
  readonly state: PipelineState;
}
