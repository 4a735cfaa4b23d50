// The shapes a session is stored in: packets, marks, holds, alarms, links, corrections, and the whole of it.

import type { Said } from '../../../shared/said.ts';
import type { MonotonicMs, WallMs } from '../../../shared/units.ts';
import type {
  AlarmView,
  Athlete,
  AthleteSettings,
  HoldView,
  MarkView,
  SensorView,
  SessionView,
} from '../../../shared/views.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import type { CorrectionStep } from '../../../src/sessions/correction-steps.ts';
import type { HoldFigures } from '../../../src/sessions/session-summary.ts';
import type { SensorStatus } from './sensor-source.ts';

/** A packet as stored: on the session's timeline, with wall time beside it. */
export interface StoredPacket {
  readonly sensorId: string;
  readonly characteristic: string;
  readonly bytes: Uint8Array;
  readonly atMs: MonotonicMs;
  readonly wallAtMs: WallMs;
}

/** One alarm's record: as it was raised, how bad it got, and what became of it. */
export interface StoredAlarm {
  readonly athleteId: string;
  readonly alarm: AlarmView;
  /** When it stood no longer; read from a session that is over, always a time. */
  readonly clearedAtMs: MonotonicMs | null;
}

export interface StoredHold {
  readonly athleteId: string;
  readonly hold: HoldView;
  /** The live detector withdrew it. */
  readonly withdrawn: boolean;
}

/** One step of correcting the holds of a session; steps are only ever added, undoing is a step too. */
export interface StoredCorrection {
  readonly athleteId: string;
  readonly step: CorrectionStep;
}

/** `saidAtMs` and `removedAtMs`: when it was made and taken back, in session time; not kept in recordings of before. */
export interface StoredMark {
  readonly mark: MarkView;
  readonly removed: boolean;
  readonly saidAtMs?: MonotonicMs | undefined;
  readonly removedAtMs?: MonotonicMs | undefined;
}

/** A planned start of a hold, as the detector was told of it at `atMs`. */
export interface StoredSchedule {
  readonly athleteId: string;
  readonly atMs: MonotonicMs;
  readonly startAtMs: MonotonicMs;
  readonly toleranceMs: number;
}

/** That the hub was alive: what a later process places its own time by. */
export interface StoredAlive {
  readonly atMs: MonotonicMs;
  readonly wallMs: WallMs;
  /** Names one start of the computer; null where the system names none. */
  readonly bootId: string | null;
  /** Since that start, counting sleep. */
  readonly bootMs: number;
}

/** A span of a sensor's silence or of a lost link. */
export interface StoredLinkEvent {
  readonly sensorId: string;
  readonly atMs: MonotonicMs;
  readonly link: SensorView['link'];
  readonly detail: Said | null;
}

/** A sensor on an athlete from a time of the session on, until another wears it or `untilMs`. */
export interface StoredSensor extends SensorStatus {
  readonly athleteId: string;
  readonly fromMs: MonotonicMs;
  /** Taken off them in the session, or they left it. */
  readonly untilMs?: MonotonicMs | undefined;
}

/** Somebody came or went, or a sensor changed hands, while the session ran. One a person concerned. */
export interface StoredChange {
  readonly athleteId: string;
  readonly atMs: MonotonicMs;
  readonly change: 'joined' | 'left' | 'sensorGiven' | 'sensorTaken';
  /** Null where a person came or went. */
  readonly sensor: { readonly sensorId: string; readonly name: string } | null;
  /** Who did it: a device's name, empty for the hub's own machine. */
  readonly by: string;
}

/** Everything stored of one session. */
export interface StoredSession {
  readonly session: SessionView;
  readonly athletes: readonly Athlete[];
  /** Those in force when it was recorded. Undefined for a session from before they were kept with it. */
  readonly profiles: readonly SensorProfile[] | undefined;
  /** Who wore what. A sensor that changed hands has a row for each wearer; each holds until the next `fromMs`. */
  readonly sensors: readonly StoredSensor[];
  readonly marks: readonly StoredMark[];
  readonly holds: readonly StoredHold[];
  readonly alarms: readonly StoredAlarm[];
  readonly settingsChanges: readonly {
    readonly athleteId: string;
    readonly atMs: MonotonicMs;
    readonly settings: AthleteSettings;
  }[];
  readonly linkEvents: readonly StoredLinkEvent[];
  /** In the order they happened. */
  readonly changes: readonly StoredChange[];
  /** What the detector was told of a plan, in order. */
  readonly schedules: readonly StoredSchedule[];
  /** The last sign of life of the hub that recorded it; undefined for sessions from before these were kept. */
  readonly alive: StoredAlive | undefined;
  /** The version of the hub that began it; undefined for sessions from before it was kept. */
  readonly madeBy: string | undefined;
  /** In the order they were made. */
  readonly corrections: readonly StoredCorrection[];
  /** Time of the last committed packet or event. */
  readonly durationMs: number;
  /** What of this session cannot be read any more, a sentence each; empty when all is well. */
  readonly damage: readonly Said[];
}

/** Consecutive packets of one sensor's characteristic. Packet `i` is `bytes` from `offsets[i]` to `offsets[i + 1]`. */
export interface PacketColumns {
  readonly sensorId: string;
  readonly characteristic: string;
  /** Session-monotonic and Unix milliseconds, one of each a packet. */
  readonly atMs: Float64Array;
  readonly wallAtMs: Float64Array;
  readonly offsets: Uint32Array;
  readonly bytes: Uint8Array;
}

/** What the list tells of one athlete's part of a recording. */
export interface ListedPart {
  readonly athleteId: string;
  readonly toldLive: HoldFigures;
  /** By the summary that is kept of it (`Summaries`), and the rules that it was made by; null until there is one. */
  readonly workedOut: { readonly madeBy: string; readonly figures: HoldFigures } | null;
}

/** Figures of the whole are those that were told live. */
export interface StoredSessionSummary extends HoldFigures {
  readonly session: SessionView;
  readonly athleteNames: readonly string[];
  /** One an athlete, in the order of the session's. */
  readonly parts: readonly ListedPart[];
  readonly durationMs: number;
}

/** A recording in the bin, or one athlete's part of one. */
export interface BinnedRecording {
  readonly session: SessionView;
  /** Null for the whole of it. */
  readonly athleteId: string | null;
  /** Whom it takes. */
  readonly athletes: readonly Pick<Athlete, 'athleteId' | 'name'>[];
  readonly atWallMs: WallMs;
}
