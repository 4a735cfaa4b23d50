// What happens in the hub, in the hub's own terms. Recorder, plan runs, alarm outputs and pages hear the same events;
// what goes over the wire is made of them in hub/server and nowhere else.

import type { CoachWords } from '../../shared/course.ts';
import type { PlanRunEvent } from '../../shared/plan-run.ts';
import type { AlarmPriority, MarkKind, Phase } from '../../shared/schema-parts.ts';
import type { MonotonicMs, ProcessMs, WallMs } from '../../shared/units.ts';
import type {
  Athlete,
  HoldFeeling,
  SessionLeader,
  SessionView,
  SupervisionAlarm,
  UnwatchedSpan,
} from '../../shared/views.ts';
import type { ActiveAlarm, EndedAlarm } from '../../src/alarms/alarm.ts';
import type { AthletePrior } from '../../src/oxygen/athlete-prior.ts';
import type { Forecast } from '../../src/oxygen/forecast.ts';
import type { LiveHold } from '../../src/pipeline.ts';
import type { Sample } from '../../src/samples/sample.ts';
import type { SensorStatus } from '../base/ports/sensor-source.ts';

/** The session being recorded, or one that was. */
export interface Session {
  readonly sessionId: string;
  readonly startedWallAtMs: WallMs;
  /** Session time 0 on the process's clock. */
  readonly zeroMs: ProcessMs;
  readonly endedAtMs: MonotonicMs | undefined;
  readonly simulated: boolean;
  readonly source: SessionView['source'];
  readonly title: string;
  readonly athleteIds: readonly string[];
  /** Stretches in which nobody was watched, in order of time. */
  readonly unwatched: readonly UnwatchedSpan[];
  /** Who leads it, as they are called. */
  readonly leaders: readonly SessionLeader[];
}

/** Why a session ended: a person's will and the end of a replayed recording are no alarm, anything else is. */
export type SessionEnding = 'person' | 'dataEnded' | 'hubStopped' | 'diskFault';

/** A hold as it stands now, with how it felt once somebody has said it. */
export interface SessionHold extends LiveHold {
  readonly feeling?: HoldFeeling;
}

/** A mark made by a person or carried by a replayed recording. */
export interface SessionMark {
  readonly markId: string;
  readonly athleteId: string;
  readonly kind: MarkKind;
  readonly atMs: MonotonicMs;
  readonly text: string | undefined;
  /** When it was made, at `atMs` or later. */
  readonly saidAtMs: MonotonicMs;
}

/** The sound that is to be made for one athlete now. */
export interface AlarmSound {
  readonly priority: AlarmPriority | null;
  readonly audioPausedUntilMs: MonotonicMs | null;
}

/** Bytes of a sensor on the session's time line. */
export interface SessionPacket {
  readonly sensorId: string;
  readonly characteristic: string;
  readonly bytes: Uint8Array;
  readonly atMs: MonotonicMs;
  readonly wallAtMs: WallMs;
}

interface OfAthlete {
  readonly athleteId: string;
  readonly atMs: MonotonicMs;
}

export type LiveEvent =
  | { readonly type: 'sessionStarted'; readonly session: Session }
  /** A session that an earlier process left is recorded on, `span` of it unwatched. Who comes later asks `Hub.session`. */
  | { readonly type: 'sessionResumed'; readonly session: Session; readonly span: UnwatchedSpan }
  /** Nobody was watched in `span`. The session's time has been put forward by `shiftMs` against the process's. */
  | {
      readonly type: 'unwatched';
      readonly session: Session;
      readonly span: UnwatchedSpan;
      readonly shiftMs: number;
    }
  | { readonly type: 'sessionEnded'; readonly session: Session; readonly atMs: MonotonicMs }
  /** Somebody comes to the session that runs, and is monitored from now on. `session` as it is with them. */
  | (OfAthlete & {
      readonly type: 'athleteJoined';
      readonly athlete: Athlete;
      readonly session: Session;
      readonly by: string;
    })
  /** Somebody left it: their alarms have ended, nothing of theirs is recorded any more. `session` as it is without them. */
  | (OfAthlete & { readonly type: 'athleteLeft'; readonly session: Session; readonly by: string })
  /** In a session: a sensor is on another athlete, or on nobody. What it sends counts for the new wearer from `atMs` on. */
  | {
      readonly type: 'sensorMoved';
      readonly atMs: MonotonicMs;
      readonly sensorId: string;
      readonly name: string;
      /** Null where nobody in the session wears it. */
      readonly fromAthleteId: string | null;
      readonly toAthleteId: string | null;
      readonly by: string;
    }
  /** Somebody joined the list, left it, or has another name or other settings. */
  | { readonly type: 'athletesChanged'; readonly athletes: readonly Athlete[] }
  /** Bytes have arrived; nothing has been derived from them yet. */
  | { readonly type: 'packet'; readonly athleteId: string; readonly packet: SessionPacket }
  | { readonly type: 'sample'; readonly athleteId: string; readonly sample: Sample }
  /** A hold has started, been revised, ended, been said to have felt so, or its lowest reading has fallen. */
  | (OfAthlete & { readonly type: 'hold'; readonly hold: SessionHold })
  | (OfAthlete & { readonly type: 'holdWithdrawn'; readonly holdId: string })
  | (OfAthlete & { readonly type: 'phase'; readonly phase: Phase })
  | (OfAthlete & { readonly type: 'forecast'; readonly forecast: Forecast })
  | (OfAthlete & {
      readonly type: 'alarms';
      readonly alarms: readonly ActiveAlarm[];
      /** Those that stood before and no longer do, as they are to be kept. */
      readonly ended: readonly EndedAlarm[];
      readonly sound: AlarmSound;
    })
  | (OfAthlete & { readonly type: 'link'; readonly sensor: SensorStatus })
  | {
      readonly type: 'mark';
      readonly mark: SessionMark;
      readonly removed: boolean;
      readonly atMs: MonotonicMs;
      /** Of the page that asked for it; undefined for any other cause. */
      readonly requestId: string | undefined;
    }
  | (OfAthlete & { readonly type: 'settings'; readonly athlete: Athlete })
  /** Holds have taught something of the athlete's fall. */
  | { readonly type: 'learnt'; readonly athleteId: string; readonly prior: AthletePrior }
  /** A sensor's state, or what a person should know of the hub, has changed. */
  | { readonly type: 'hubStateChanged' }
  /** The alarms of the watching itself, all that stand. */
  | { readonly type: 'supervisionChanged'; readonly alarms: readonly SupervisionAlarm[] }
  /** The emergency card was written, or a drill began, was acknowledged or ended. */
  | { readonly type: 'courseChanged' }
  /** A coach's message to an athlete waits, is shown, or was seen. */
  | { readonly type: 'coachWords'; readonly athleteId: string; readonly words: CoachWords }
  /** A plan was started, taken up again, or forgotten. */
  | { readonly type: 'planRunChanged' }
  | { readonly type: 'planRunStep'; readonly step: PlanRunEvent };

export type LiveListener = (event: LiveEvent) => void;
