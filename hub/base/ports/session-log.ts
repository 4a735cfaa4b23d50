// What a running session, an import and a correction write to. Raw packets first, then what was concluded.

import type { MonotonicMs, WallMs } from '../../../shared/units.ts';
import type {
  Athlete,
  AthleteSettings,
  SessionLeader,
  SessionView,
  UnwatchedSpan,
} from '../../../shared/views.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import type { SensorStatus } from './sensor-source.ts';
import type {
  StoredAlarm,
  StoredAlive,
  StoredChange,
  StoredCorrection,
  StoredHold,
  StoredLinkEvent,
  StoredMark,
  StoredPacket,
  StoredSchedule,
  StoredSensor,
  StoredSession,
} from './stored-session.ts';

export interface SessionStart {
  readonly sessionId: string;
  readonly startedWallAtMs: WallMs;
  readonly simulated: boolean;
  readonly source: SessionView['source'];
  readonly title: string;
  /** Athletes with the settings in force when the session began, and the sensors assigned to each. */
  readonly athletes: readonly { readonly athlete: Athlete; readonly sensors: readonly SensorStatus[] }[];
  /** By which sensors with a protocol of their own are read in this session; none when left out. */
  readonly profiles?: readonly SensorProfile[];
  /** The version of the hub. */
  readonly madeBy?: string;
  /** Who leads it; nobody when left out. */
  readonly leaders?: readonly SessionLeader[];
}

/** Packets sealed elsewhere (recorder/packet-chunk.ts), and what stands beside them. */
export interface ImportedPart {
  readonly chunks: readonly SealedChunk[];
  readonly marks: readonly StoredMark[];
  readonly holds: readonly StoredHold[];
  /** What only a file of this program's own tells; none when left out. */
  readonly beside?: ImportedBeside;
}

/** Each in the order in which it was first saved where it comes from. */
export interface ImportedBeside {
  readonly sensors: readonly StoredSensor[];
  readonly alarms: readonly StoredAlarm[];
  readonly settingsChanges: StoredSession['settingsChanges'];
  readonly linkEvents: readonly StoredLinkEvent[];
  readonly changes: readonly StoredChange[];
  readonly schedules: readonly StoredSchedule[];
  readonly unwatched: readonly UnwatchedSpan[];
  readonly corrections: readonly StoredCorrection[];
}

export interface SealedChunk {
  readonly packetCount: number;
  readonly lastAtMs: number;
  readonly body: Uint8Array;
}

export interface SessionLog {
  /**
   * With the source `import` it is not listed until it is ended, and is gone when the store is opened anew before that: an
   * import is there as a whole or not at all.
   */
  startSession(start: SessionStart): void;
  /** A part of a session being imported, in one transaction. Its packets come after those of the parts before. */
  appendImported(sessionId: string, part: ImportedPart): void;
  endSession(sessionId: string, endedAtMs: MonotonicMs): void;
  /**
   * Takes up a session that is over, in one transaction with the gap in it: it is recorded on, its packets after those
   * that are there. Throws `data.refused` for one that is not there or is being recorded.
   */
  resumeSession(sessionId: string, gap: UnwatchedSpan): void;
  /** Nobody was watched from one time of a session to another; one that begins where another does replaces it. */
  saveUnwatched(sessionId: string, gap: UnwatchedSpan): void;
  /** Replaces the last sign of life. */
  saveAlive(sessionId: string, alive: StoredAlive): void;
  saveSchedule(sessionId: string, schedule: StoredSchedule): void;
  /** A sensor that joined, or changed hands or name, after the session began. */
  saveSessionSensor(sessionId: string, sensor: StoredSensor): void;
  /** Somebody who comes to the session while it runs; nothing new of one who is in its head already. */
  addSessionAthlete(sessionId: string, athlete: Athlete): void;
  saveSessionChange(sessionId: string, change: StoredChange): void;
  /**
   * Buffers a packet for the next commit; the bytes are copied. Must be called before anything is derived from
   * it. Times are kept exactly, whatever they are; they cost least room as whole or binary fractions of 1 ms.
   */
  appendPacket(sessionId: string, packet: StoredPacket): void;
  /**
   * Commits what is buffered. Called by the hub's commit timer and before a session ends. `disk` (the default)
   * survives a power cut; `process` survives only the process, costs far less, and is made good by the next `disk`.
   */
  commit(durability?: 'disk' | 'process'): void;
  /** Marks, holds and alarms replace the one of the same id, and keep its place. */
  saveMark(sessionId: string, mark: StoredMark): void;
  saveHold(sessionId: string, hold: StoredHold): void;
  saveAlarm(sessionId: string, alarm: StoredAlarm): void;
  saveSettingsChange(
    sessionId: string,
    athleteId: string,
    atMs: MonotonicMs,
    settings: AthleteSettings,
  ): void;
  saveLinkEvent(sessionId: string, event: StoredLinkEvent): void;
  /** Adds a step at the end. Throws `data.refused` for an id that is there already. */
  addCorrection(sessionId: string, correction: StoredCorrection): void;
}
