// The narrow interfaces between the hub and the world: clock, sensors, store, log. Each has one contract suite.

import type { MonotonicMs, ProcessMs, WallMs } from '../../shared/units.ts';
import type {
  AlarmView,
  Athlete,
  AthleteSettings,
  HoldView,
  MarkView,
  SensorView,
  SessionView,
} from '../../shared/views.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import type { CorrectionStep } from '../../src/sessions/correction-steps.ts';

/** Time, and being called later. The only source of either in the hub; tests drive a fake one. */
export interface Clock {
  nowMs(): ProcessMs;
  wallNowMs(): WallMs;
  /** Calls back every `intervalMs` until the returned function is called. */
  every(intervalMs: number, callback: () => void): () => void;
  after(delayMs: number, callback: () => void): () => void;
}

/** One notification, indication or read, exactly as it arrived. */
export interface SensorPacket {
  readonly sensorId: string;
  /** Characteristic UUID, lower case: four hex digits for a SIG number ("2a37"), else 32 without dashes. */
  readonly characteristic: string;
  readonly bytes: Uint8Array;
  /** Arrival on the process's monotonic clock, stamped where it arrived. */
  readonly receivedAtMs: ProcessMs;
}

export interface SensorListener {
  packet(packet: SensorPacket): void;
  /** A sensor appeared or its link, battery or name changed; at `atMs`, or now when left out. */
  sensorChanged(sensor: SensorStatus, atMs?: ProcessMs): void;
  /** A sensor nobody was assigned to has not been heard for long and is forgotten. */
  sensorGone?(sensorId: string): void;
  /** The whole source's state as a sentence with what to do; null when all is well. */
  sourceNotice(notice: string | null): void;
  /** A replay has come to its end. */
  finished?(): void;
  /** Marks carried by a recording or CSV being replayed. */
  mark?(mark: {
    athleteHint: string;
    kind: MarkView['kind'];
    receivedAtMs: ProcessMs;
    text: string | null;
  }): void;
}

/** A sensor as its source knows it: `SensorView` less what the hub adds. */
export type SensorStatus = Pick<
  SensorView,
  'sensorId' | 'name' | 'kinds' | 'source' | 'link' | 'detail' | 'batteryPercent' | 'rssiDbm'
>;

/** Where packets come from: Bluetooth, the simulator, or a replay. */
export interface SensorSource {
  readonly source: SensorView['source'];
  /** Begins searching and delivering; resolves when it has begun, and rejects only for a fault of set-up. */
  start(listener: SensorListener): Promise<void>;
  /** Connects to these and lets all others go, where a source can choose. Called whenever an assignment changes. */
  setWantedSensors?(sensorIds: ReadonlySet<string>): void;
  /**
   * Delivers everything due by `nowMs` before it returns, where a source makes its data by the clock. The hub calls
   * it before it tells the pipelines the time, so that a fast or delayed replay gives the same session as a slow one.
   */
  deliverUntil?(nowMs: ProcessMs): void;
  /** Closes every link; resolves when nothing more will be delivered. */
  stop(): Promise<void>;
  /**
   * A session has begun at `startedAtMs`. The simulator and a replay begin their data here, so that nothing of
   * it falls before the recording; a radio ignores it.
   */
  sessionStarted?(startedAtMs: ProcessMs): void;
  /** The session is over: the simulator and a replay fall silent. */
  sessionEnded?(): void;
}

/** A packet as stored: on the session's timeline, with wall time beside it. */
export interface StoredPacket {
  readonly sensorId: string;
  readonly characteristic: string;
  readonly bytes: Uint8Array;
  readonly atMs: MonotonicMs;
  readonly wallAtMs: WallMs;
}

export type DocumentKind =
  | 'plan'
  | 'planRun'
  | 'planRunAthlete'
  | 'planRunEvent'
  | 'training'
  | 'oxygenPrior';

/** Something kept beside recordings, as JSON. Erasing an athlete removes every document with their id. */
export interface StoredDocument {
  readonly kind: DocumentKind;
  readonly documentId: string;
  /** The document it belongs to, or null. */
  readonly groupId: string | null;
  readonly athleteId: string | null;
  readonly body: unknown;
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

export interface StoredMark {
  readonly mark: MarkView;
  readonly removed: boolean;
}

/** A span of a sensor's silence or of a lost link. */
export interface StoredLinkEvent {
  readonly sensorId: string;
  readonly atMs: MonotonicMs;
  readonly link: SensorView['link'];
  readonly detail: string | null;
}

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
}

/** A sensor on an athlete from a time of the session on. */
export interface StoredSensor extends SensorStatus {
  readonly athleteId: string;
  readonly fromMs: MonotonicMs;
}

/** Packets sealed elsewhere (recorder/packet-chunk.ts), and what stands beside them. */
export interface ImportedPart {
  readonly chunks: readonly SealedChunk[];
  readonly marks: readonly StoredMark[];
  readonly holds: readonly StoredHold[];
}

export interface SealedChunk {
  readonly packetCount: number;
  readonly lastAtMs: number;
  readonly body: Uint8Array;
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
  /** In the order they were made. */
  readonly corrections: readonly StoredCorrection[];
  /** Time of the last committed packet or event. */
  readonly durationMs: number;
  /** What of this session cannot be read any more, a sentence each; empty when all is well. */
  readonly damage: readonly string[];
}

/**
 * The recorder. Packets are buffered until `commit`, or until anything else is saved, which commits them with it.
 * After a commit returns, killing the process loses nothing. Every write may throw a `HubError` (`data.full`,
 * `data.failed`): what was buffered stays buffered and the next write tries again. Asking for a session, athlete
 * or order of calls that does not exist throws `data.refused`.
 */
export interface Store {
  /** In the order they were first saved. */
  listAthletes(): readonly Athlete[];
  saveAthlete(athlete: Athlete): void;
  /** Takes an athlete off the list, with the remembered sensors. Recordings keep their own copy and stay. */
  removeAthlete(athleteId: string): void;
  /**
   * Removes an athlete and everything of theirs from every recording, down to the bytes of the file: sessions of
   * theirs alone are deleted, from shared ones their packets, marks, holds and alarms. Not while recording.
   */
  eraseAthlete(athleteId: string): void;
  /** Remembered assignment of a sensor to an athlete. */
  assignSensor(sensorId: string, athleteId: string | null): void;
  sensorAssignments(): ReadonlyMap<string, string>;

  /**
   * With the source `import` it is not listed until it is ended, and is gone when the store is opened anew before that: an
   * import is there as a whole or not at all.
   */
  startSession(start: SessionStart): void;
  /** A part of a session being imported, in one transaction. Its packets come after those of the parts before. */
  appendImported(sessionId: string, part: ImportedPart): void;
  endSession(sessionId: string, endedAtMs: MonotonicMs): void;
  /** A sensor that joined, or changed hands or name, after the session began. */
  saveSessionSensor(sessionId: string, sensor: StoredSensor): void;
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

  /**
   * Keeps what was worked out from an ended session for one athlete, so that it need not be again. `madeBy` names the
   * rules it was made by. Goes with the session and the athlete, and with any correction added for them.
   */
  saveSummary(sessionId: string, athleteId: string, madeBy: string, body: unknown): void;
  /** By session, of one athlete, only those made by these rules. Damaged ones are left out. */
  listSummaries(athleteId: string, madeBy: string): ReadonlyMap<string, unknown>;

  /** Plans, runs of plans and training entries: replaces the one of the same kind and id, and keeps its place. */
  saveDocument(document: StoredDocument): void;
  /** In the order they were first saved; with `groupId`, only those of the group. Damaged ones are left out. */
  listDocuments(kind: DocumentKind, groupId?: string): readonly StoredDocument[];
  readDocument(kind: DocumentKind, documentId: string): StoredDocument | undefined;
  /** Also with everything whose `groupId` is this document's id. Answers whether it was there. */
  removeDocument(kind: DocumentKind, documentId: string): boolean;

  /** The newest first. */
  listSessions(): readonly StoredSessionSummary[];
  /** Marks, holds, alarms and events in the order they were first saved. Only what is committed. */
  readSession(sessionId: string): StoredSession | undefined;
  /**
   * Committed packets in the order they were appended, read piece by piece. Throws `data.corrupt` at a piece that
   * cannot be read any more, or passes over it with `skipDamaged`; `StoredSession.damage` names such pieces.
   */
  readPackets(sessionId: string, options?: { readonly skipDamaged?: boolean }): Iterable<StoredPacket>;
  /** The same packets by the column, a piece at a time: many times faster for waves. */
  readPacketColumns(
    sessionId: string,
    options?: { readonly skipDamaged?: boolean },
  ): Iterable<readonly PacketColumns[]>;
  /** Not while it is being recorded. */
  deleteSession(sessionId: string): void;
  /** Sessions that a crash left open and that opening this store closed as interrupted. */
  readonly interruptedSessionIds: readonly string[];
  /** What opening found that a person should know, a sentence each. */
  readonly notices: readonly string[];
  /**
   * Writes everything committed to a new database file at `path`, which must not exist. Recording goes on meanwhile.
   * Throws `data.refused` where nothing is kept in a file.
   */
  writeDatabaseCopy(path: string): Promise<void>;
  /** Commits what is buffered and lets go of the files. A session still running will be found interrupted. */
  close(): void;
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

export interface StoredSessionSummary {
  readonly session: SessionView;
  readonly athleteNames: readonly string[];
  readonly holdCount: number;
  readonly durationMs: number;
}
