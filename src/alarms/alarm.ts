// What an alarm is, and what the alarm engine is fed. Terms and priorities after IEC 60601-1-8; no conformity claimed.

import type {
  AlarmDetail,
  AlarmKind,
  AlarmPriority,
  AlarmSubject,
  Phase,
  SampleQuality,
} from '../../shared/schema-parts.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { Hold } from '../holds/hold.ts';
import type { Forecast } from '../oxygen/forecast.ts';
import type { QualityReason } from '../samples/sample.ts';
import type { SettingsInForce } from './floor-setting.ts';

/** What an alarm is about, as codes and numbers; `shared/words/*-alarms.ts` make sentences of them. */
export interface AlarmFacts {
  readonly kind: AlarmKind;
  /** The limit it is measured by, in the unit of `value`. */
  readonly limit?: number;
  /** Beside an expected value: where it lies in all but 8 of 100 cases on either side at most, %. */
  readonly likely?: { readonly lowPercent: number; readonly highPercent: number };
  readonly subject?: AlarmSubject;
  readonly sensorId?: string;
  /** More exactly what happened, or what is doubted beside it. */
  readonly detail?: AlarmDetail;
}

/**
 * The record of one alarm: what it was when raised, how bad it got, what became of it. It is standing while its
 * condition is present, or latched after that. What it was when raised is never overwritten.
 */
export interface ActiveAlarm extends AlarmFacts {
  readonly alarmId: string;
  readonly priority: AlarmPriority;
  readonly highestPriority: AlarmPriority;
  readonly raisedAtMs: MonotonicMs;
  readonly conditionPresent: boolean;
  /** How often the condition has come while this alarm stood. */
  readonly timesPresent: number;
  /** Since when it is no longer present; the last time, if it came more than once. */
  readonly passedAtMs?: MonotonicMs;
  readonly acknowledged: boolean;
  /** The last acknowledgement; it stays when a worse condition asks for another. */
  readonly acknowledgedAtMs?: MonotonicMs;
  /** Who pressed: a device's name, empty for the hub's own machine. */
  readonly acknowledgedBy?: string;
  /** Measured or forecast value when raised, in the unit of the kind (%, /min, ms); undefined where there is none. */
  readonly value?: number;
  /** The worst value since, where one is worse than another (a saturation, a rate). */
  readonly worstValue?: number;
  readonly worstAtMs?: MonotonicMs;
  /** A hold or the minute after it: what is to be done differs. */
  readonly holdNear: boolean;
}

/** An alarm that no longer stands: its condition has passed and nothing more is asked, or monitoring has ended. */
export interface EndedAlarm extends ActiveAlarm {
  readonly endedAtMs: MonotonicMs;
}

/** Everything the engine reacts to, in time order. It never reads a clock. */
export type AlarmEvent =
  | {
      readonly type: 'spo2';
      readonly atMs: MonotonicMs;
      readonly spo2Percent: number;
      /** The slower reading of the same moment, where the oximeter sends both. */
      readonly averaged?: {
        readonly spo2Percent: number;
        readonly quality: SampleQuality;
        readonly reasons: readonly QualityReason[];
      };
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
  /** A breathing sensor has sent for another second; `isWorn`: it seems to be on the body. */
  | {
      readonly type: 'breathing';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly isWorn: boolean;
    }
  | { readonly type: 'forecast'; readonly atMs: MonotonicMs; readonly forecast: Forecast }
  | { readonly type: 'phase'; readonly atMs: MonotonicMs; readonly phase: Phase }
  /** The whole hold at every change of it. An end is a sign of breathing. */
  | {
      readonly type: 'hold';
      readonly atMs: MonotonicMs;
      readonly change: 'started' | 'revised' | 'ended';
      readonly hold: Pick<Hold, 'holdId'> & {
        readonly start: { readonly atMs: MonotonicMs };
        readonly end?: { readonly atMs: MonotonicMs };
        /** The signals show breathing, clear and lasting, in a hold that nobody has ended. */
        readonly probableEnd?: { readonly atMs: MonotonicMs };
      };
    }
  /** The detector takes a hold back: there was none. It is no sign of breathing. */
  | { readonly type: 'holdWithdrawn'; readonly atMs: MonotonicMs; readonly holdId: string }
  /** A person or the signals say the athlete breathes again. */
  | { readonly type: 'breathingSeen'; readonly atMs: MonotonicMs }
  /** Asked whether they are well, the athlete, or somebody by them, says so. No sign of breathing. */
  | { readonly type: 'answered'; readonly atMs: MonotonicMs }
  | {
      readonly type: 'link';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly measures: readonly ('heartRate' | 'oximeter' | 'breathing')[];
      readonly connected: boolean;
    }
  /** The sensor is no longer this athlete's. */
  | { readonly type: 'sensorGone'; readonly atMs: MonotonicMs; readonly sensorId: string }
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
  | { readonly type: 'settings'; readonly atMs: MonotonicMs; readonly settings: SettingsInForce }
  /** A person has seen these alarms; all that stand when left out. */
  | {
      readonly type: 'acknowledge';
      readonly atMs: MonotonicMs;
      readonly alarmIds?: readonly string[];
      /** A device's name, empty for the hub's own machine; left out when nobody is known. */
      readonly by?: string;
    }
  | { readonly type: 'pauseAudio'; readonly atMs: MonotonicMs; readonly paused: boolean }
  /**
   * Nobody watched until now. `known`: the hub is another process than before, these settings are in force, these alarms
   * stood, and those that follow are numbered after the prefix. No output counts before it has reported again.
   */
  | {
      readonly type: 'unwatched';
      readonly atMs: MonotonicMs;
      readonly known?: {
        readonly settings: SettingsInForce;
        readonly alarms: readonly ActiveAlarm[];
        readonly alarmIdPrefix: string;
      };
    }
  /** Monitoring is over: every alarm that stands ends with it. */
  | { readonly type: 'sessionEnded'; readonly atMs: MonotonicMs }
  /** Time has passed with nothing new; also drives persistence, staleness and the end of pauses. */
  | { readonly type: 'advance'; readonly atMs: MonotonicMs };
