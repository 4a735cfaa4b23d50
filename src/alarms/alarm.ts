// What an alarm is, and what the alarm engine is fed. Terms and priorities after IEC 60601-1-8; no conformity claimed.

import type { AlarmKind, AlarmPriority, Phase, SampleQuality } from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { AthleteSettings } from '../../shared/views.ts';
import type { Forecast } from '../oxygen/forecast.ts';
import type { QualityReason } from '../samples/sample.ts';

/** One alarm condition that is present, or latched after it has gone. */
export interface ActiveAlarm {
  readonly alarmId: string;
  readonly kind: AlarmKind;
  readonly priority: AlarmPriority;
  readonly raisedAtMs: MonotonicMs;
  readonly conditionPresent: boolean;
  readonly acknowledged: boolean;
  /** Measured or forecast value in the unit of the kind (%, /min, ms); undefined where there is none. */
  readonly value?: number;
  readonly message: string;
  readonly instruction: string;
}

/** Everything the engine reacts to, in time order. It never reads a clock. */
export type AlarmEvent =
  | {
      readonly type: 'spo2';
      readonly atMs: MonotonicMs;
      readonly spo2Percent: number;
      readonly quality: SampleQuality;
      readonly reasons: readonly QualityReason[];
      readonly sensorId: string;
    }
  | {
      readonly type: 'heartRate';
      readonly atMs: MonotonicMs;
      readonly heartRateBpm: number;
      readonly quality: SampleQuality;
      readonly sensorId: string;
    }
  /** The oximeter's pulse rate, beside its saturation: shows whether a fall is movement. Sent even if a strap is worn. */
  | {
      readonly type: 'pulseRate';
      readonly atMs: MonotonicMs;
      readonly pulseRateBpm: number;
      readonly sensorId: string;
    }
  /** A notification came but carried no usable value (probe off, "not available"). */
  | {
      readonly type: 'noValue';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly reasons: readonly QualityReason[];
    }
  | { readonly type: 'forecast'; readonly atMs: MonotonicMs; readonly forecast: Forecast }
  | { readonly type: 'phase'; readonly atMs: MonotonicMs; readonly phase: Phase }
  | { readonly type: 'holdStarted'; readonly atMs: MonotonicMs; readonly startedAtMs: MonotonicMs }
  | { readonly type: 'holdEnded'; readonly atMs: MonotonicMs; readonly endedAtMs: MonotonicMs }
  /** The detector takes a hold back: there was none. It is no sign of breathing. */
  | { readonly type: 'holdWithdrawn'; readonly atMs: MonotonicMs }
  /** A person or the signals say the athlete breathes again. */
  | { readonly type: 'breathingSeen'; readonly atMs: MonotonicMs }
  | {
      readonly type: 'link';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly measures: readonly ('heartRate' | 'oximeter')[];
      readonly connected: boolean;
    }
  | {
      readonly type: 'battery';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly batteryPercent: number;
    }
  /** How many pages watch this athlete and are answering, and how many of them can sound an alarm. */
  | {
      readonly type: 'outputs';
      readonly atMs: MonotonicMs;
      readonly livingPageCount: number;
      readonly soundReadyCount: number;
    }
  | { readonly type: 'settings'; readonly atMs: MonotonicMs; readonly settings: AthleteSettings }
  /** A person has seen these alarms; all that stand when left out. */
  | { readonly type: 'acknowledge'; readonly atMs: MonotonicMs; readonly alarmIds?: readonly string[] }
  | { readonly type: 'pauseAudio'; readonly atMs: MonotonicMs; readonly paused: boolean }
  /** Time has passed with nothing new; also drives persistence, staleness and the end of pauses. */
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };
