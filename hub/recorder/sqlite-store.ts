// The recorder on disk: SQLite with a write-ahead log. Packets go to a journal at each commit and are sealed into chunks.

import { join } from 'node:path';
import { crc32 } from 'node:zlib';
import SqliteDatabase, { type Database, type Statement } from 'better-sqlite3';
import type { MonotonicMs, WallMs } from '../../shared/units.ts';
import type { Athlete, AthleteSettings, SessionView } from '../../shared/views.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import { HubError } from '../base/hub-error.ts';
import type {
  DocumentKind,
  ImportedPart,
  PacketColumns,
  SessionStart,
  Store,
  StoredAlarm,
  StoredCorrection,
  StoredDocument,
  StoredHold,
  StoredLinkEvent,
  StoredMark,
  StoredPacket,
  StoredSensor,
  StoredSession,
  StoredSessionSummary,
} from '../base/ports.ts';
import { databaseFileName, prepareDataDirectory } from './data-directory.ts';
import { damaged, databaseFault } from './database-fault.ts';
import { openDatabase } from './open-database.ts';
import { decodeBatch, encodeBatch } from './packet-batch.ts';
import {
  columnsOfPackets,
  decodeChunk,
  encodeChunk,
  isChunkOf,
  type PacketChunk,
  packetsOf,
} from './packet-chunk.ts';
import { wearerOf } from './sensor-wearers.ts';

export interface SqliteStoreOptions {
  /** Made if it is missing, and kept private to this user. */
  readonly directory: string;
  /** How long opening waits for another hub that is just closing; 1 s by default. */
  readonly lockWaitMs?: number;
  /** The journal is sealed into a chunk when its packets take this much; a smaller chunk costs more a sample. */
  readonly sealAtBytes?: number;
  /** A file up to this size is checked whole at opening, a larger one all but its chunks; 32 MB by default. */
  readonly wholeCheckBytes?: number;
  /** The database may not grow beyond this: `data.full` is then thrown as on a full disk. */
  readonly sizeLimitBytes?: number;
}

/** What a packet takes in the journal beside its bytes, about. */
const packetOverheadBytes = 20;

/** A session being recorded. `unsealed` packets are in the journal; `pending` ones only in memory. */
interface LiveSession {
  readonly sessionNo: number;
  unsealed: StoredPacket[];
  unsealedBytes: number;
  pending: StoredPacket[];
  pendingBytes: number;
  /** Number of the first unsealed packet, counted from the session's first. */
  firstUnsealed: number;
}

interface SessionRow {
  readonly session_no: number;
  readonly session_id: string;
  readonly started_wall_at_ms: number;
  readonly status: SessionView['status'];
  readonly ended_at_ms: number | null;
  readonly packet_count: number | null;
  readonly body: string;
  readonly checksum: number;
}

interface AthleteRow {
  readonly athlete_id: string;
  readonly body: string;
  readonly checksum: number;
}

interface AssignmentRow {
  readonly sensor_id: string;
  readonly athlete_id: string;
  readonly checksum: number;
}

/** What of a session never changes in its life, but for an erased athlete. */
interface SessionBody {
  readonly simulated: boolean;
  readonly source: SessionView['source'];
  readonly title: string;
  readonly athletes: readonly Athlete[];
  /** Missing in sessions recorded before profiles were kept. */
  readonly profiles?: readonly SensorProfile[];
}

interface DocumentRow {
  readonly kind: DocumentKind;
  readonly document_id: string;
  readonly group_id: string | null;
  readonly athlete_id: string | null;
  readonly body: string;
  readonly checksum: number;
}

interface SummaryRow {
  readonly session_no: number;
  readonly athlete_id: string;
  readonly made_by: string;
  readonly body: string;
  readonly checksum: number;
}

interface CorrectionRow {
  readonly session_no: number;
  readonly correction_id: string;
  readonly athlete_id: string;
  readonly body: string;
  readonly checksum: number;
}

type EntryKind = 'sensor' | 'mark' | 'hold' | 'alarm' | 'settings' | 'link';

interface EntryRow {
  readonly entry_no: number;
  readonly session_no: number;
  readonly kind: EntryKind;
  readonly entry_key: string | null;
  readonly athlete_id: string | null;
  readonly at_ms: number;
  readonly withdrawn: number;
  readonly body: string;
  readonly checksum: number;
}

/** A row of the journal or of the chunks. */
interface PieceRow {
  readonly session_no: number;
  readonly first_packet: number;
  readonly packet_count: number;
  readonly last_at_ms: number;
  readonly body: Uint8Array;
  readonly checksum: number;
  readonly sealed: number;
}

/** Packets from `first` on that could be read, or a sentence that says why they could not. */
type Piece =
  | { readonly first: number; readonly chunk: PacketChunk }
  | { readonly first: number; readonly packets: readonly StoredPacket[] }
  | { readonly first: number; readonly damage: string };

/**
 * Opens the recordings in a folder, or begins them. Throws a HubError that says what to do (`data.*`) and leaves
 * what it found as it is. Sessions that a crash left open are closed as interrupted at the last thing committed.
 */
export function openSqliteStore(options: SqliteStoreOptions): SqliteStore {
  const directoryNotices = prepareDataDirectory(options.directory);
  const path = join(options.directory, databaseFileName);
  const limits = options.sizeLimitBytes === undefined ? {} : { sizeLimitBytes: options.sizeLimitBytes };
  const { database, notices } = openDatabase(
    path,
    {
      lockWaitMs: options.lockWaitMs ?? 1_000,
      wholeCheckBytes: options.wholeCheckBytes ?? 32 * 2 ** 20,
      ...limits,
    },
    (untouched) => verifyRows(untouched, path),
  );
  try {
    const allNotices = [...directoryNotices, ...notices, ...documentNotices(database)];
    return new SqliteStore(database, path, allNotices, options.sealAtBytes ?? 2 ** 18);
  } catch (cause) {
    database.close();
    throw databaseFault(cause, path);
  }
}

export class SqliteStore implements Store {
  readonly interruptedSessionIds: readonly string[];
  readonly notices: readonly string[];
  readonly #database: Database;
  readonly #path: string;
  readonly #sealAtBytes: number;
  readonly #sql: ReturnType<typeof prepareStatements>;
  readonly #live = new Map<string, LiveSession>();
  readonly #inTransaction: (work: () => void) => void;
  #durability: 'disk' | 'process' = 'disk';
  /** Committed, but not yet proof against a power cut. */
  #unsynced = false;

  /** Use `openSqliteStore`. */
  constructor(database: Database, path: string, notices: readonly string[], sealAtBytes: number) {
    this.#database = database;
    this.#path = path;
    this.#sealAtBytes = sealAtBytes;
    this.#sql = prepareStatements(database);
    this.#inTransaction = database.transaction((work: () => void) => work());
    this.notices = notices;
    this.interruptedSessionIds = this.#closeInterrupted();
  }

  listAthletes(): readonly Athlete[] {
    return this.#read(() => this.#sql.athletes.all().map((row) => JSON.parse(row.body) as Athlete));
  }

  saveAthlete(athlete: Athlete): void {
    const body = JSON.stringify(athlete);
    this.#write(() => {
      this.#sql.saveAthlete.run(athlete.athleteId, body, checksumOf([athlete.athleteId, body]));
    });
  }

  removeAthlete(athleteId: string): void {
    this.#write(() => {
      this.#sql.removeAthlete.run(athleteId);
    });
  }

  eraseAthlete(athleteId: string): void {
    const theirs = this.#read(() => this.#sql.sessions.all()).filter((row) =>
      bodyOf(row).athletes.some((athlete) => athlete.athleteId === athleteId),
    );
    if (theirs.some((row) => row.status === 'recording'))
      throw new HubError('data.refused', 'This athlete is being recorded. End the session first.');
    this.#write(() => {
      for (const row of theirs) {
        if (bodyOf(row).athletes.length === 1) this.#sql.removeSession.run(row.session_no);
        else this.#eraseFrom(row, athleteId);
      }
      this.#sql.removeDocumentsOf.run(athleteId);
      this.#sql.removeSummariesOf.run(athleteId);
      this.#sql.removeAthlete.run(athleteId);
    });
    this.#scrub();
  }

  assignSensor(sensorId: string, athleteId: string | null): void {
    if (athleteId !== null && this.#read(() => this.#sql.athlete.get(athleteId)) === undefined)
      throw new HubError('data.refused', `There is no athlete ${athleteId} to give a sensor to.`);
    this.#write(() => {
      if (athleteId === null) this.#sql.unassign.run(sensorId);
      else this.#sql.assign.run(sensorId, athleteId, checksumOf([sensorId, athleteId]));
    });
  }

  sensorAssignments(): ReadonlyMap<string, string> {
    return this.#read(
      () => new Map(this.#sql.assignments.all().map((row) => [row.sensor_id, row.athlete_id])),
    );
  }

  startSession(start: SessionStart): void {
    if (this.#row(start.sessionId) !== undefined)
      throw new HubError('data.refused', `There already is a session ${start.sessionId}.`);
    const body: SessionBody = {
      simulated: start.simulated,
      source: start.source,
      title: start.title,
      athletes: start.athletes.map(({ athlete }) => athlete),
      profiles: start.profiles ?? [],
    };
    let sessionNo = 0;
    this.#write(() => {
      sessionNo = this.#sql.nextSessionNo.get()?.next ?? 1;
      this.#saveSession({
        session_no: sessionNo,
        session_id: start.sessionId,
        started_wall_at_ms: start.startedWallAtMs,
        status: 'recording',
        ended_at_ms: null,
        packet_count: null,
        body: textOfBody(body),
      });
      for (const { athlete, sensors } of start.athletes)
        for (const sensor of sensors)
          this.#saveSensor(sessionNo, {
            ...sensor,
            athleteId: athlete.athleteId,
            fromMs: 0 as MonotonicMs,
          });
    });
    this.#live.set(start.sessionId, {
      sessionNo,
      unsealed: [],
      unsealedBytes: 0,
      pending: [],
      pendingBytes: 0,
      firstUnsealed: 0,
    });
  }

  endSession(sessionId: string, endedAtMs: MonotonicMs): void {
    const live = this.#recording(sessionId);
    const row = this.#row(sessionId)!;
    this.#write(
      () => {
        const packetCount = live.firstUnsealed + live.unsealed.length + live.pending.length;
        this.#saveSession({
          ...row,
          status: 'ended',
          ended_at_ms: endedAtMs,
          packet_count: packetCount,
        });
      },
      'disk',
      live,
    );
    this.#live.delete(sessionId);
  }

  saveSessionSensor(sessionId: string, sensor: StoredSensor): void {
    const row = this.#existing(sessionId);
    this.#write(() => this.#saveSensor(row.session_no, sensor));
  }

  appendPacket(sessionId: string, packet: StoredPacket): void {
    const live = this.#recording(sessionId);
    live.pending.push({ ...packet, bytes: new Uint8Array(packet.bytes) });
    live.pendingBytes += packet.bytes.length + packetOverheadBytes;
  }

  appendImported(sessionId: string, { chunks, marks, holds }: ImportedPart): void {
    const live = this.#recording(sessionId);
    if (live.unsealed.length + live.pending.length > 0)
      throw new HubError(
        'data.refused',
        `Session ${sessionId} is being recorded and takes no imported parts.`,
      );
    let first = live.firstUnsealed;
    this.#write(() => {
      for (const { packetCount, lastAtMs, body } of chunks) {
        const checksum = pieceChecksum(live.sessionNo, first, packetCount, lastAtMs, body);
        this.#sql.addChunk.run(live.sessionNo, first, packetCount, lastAtMs, body, checksum);
        first += packetCount;
      }
      for (const mark of marks) {
        const { markId, athleteId, atMs } = mark.mark;
        this.#putEntry(live.sessionNo, 'mark', markId, athleteId, atMs, mark.removed, mark);
      }
      for (const hold of holds) {
        const { holdId, start, end } = hold.hold;
        const key = `${hold.athleteId}/${holdId}`;
        this.#putEntry(
          live.sessionNo,
          'hold',
          key,
          hold.athleteId,
          (end ?? start).atMs,
          hold.withdrawn,
          hold,
        );
      }
    }, 'process');
    live.firstUnsealed = first;
  }

  commit(durability: 'disk' | 'process' = 'disk'): void {
    let idle = true;
    for (const live of this.#live.values()) if (live.pending.length > 0) idle = false;
    if (idle && !(durability === 'disk' && this.#unsynced)) return;
    this.#write(() => {
      // A transaction that changes nothing would not be synced.
      if (idle) this.#sql.touch.run();
    }, durability);
  }

  saveMark(sessionId: string, mark: StoredMark): void {
    const { markId, athleteId, atMs } = mark.mark;
    this.#saveEntry(sessionId, 'mark', markId, athleteId, atMs, mark.removed, mark);
  }

  saveHold(sessionId: string, hold: StoredHold): void {
    const { holdId, start, end } = hold.hold;
    const key = `${hold.athleteId}/${holdId}`;
    this.#saveEntry(sessionId, 'hold', key, hold.athleteId, (end ?? start).atMs, hold.withdrawn, hold);
  }

  saveAlarm(sessionId: string, alarm: StoredAlarm): void {
    const key = `${alarm.athleteId}/${alarm.alarm.alarmId}`;
    const atMs = alarm.clearedAtMs ?? alarm.alarm.raisedAtMs;
    this.#saveEntry(sessionId, 'alarm', key, alarm.athleteId, atMs, false, alarm);
  }

  saveSettingsChange(
    sessionId: string,
    athleteId: string,
    atMs: MonotonicMs,
    settings: AthleteSettings,
  ): void {
    const change = { athleteId, atMs, settings };
    this.#saveEntry(sessionId, 'settings', null, athleteId, atMs, false, change);
  }

  saveLinkEvent(sessionId: string, event: StoredLinkEvent): void {
    this.#saveEntry(sessionId, 'link', null, null, event.atMs, false, event);
  }

  addCorrection(sessionId: string, correction: StoredCorrection): void {
    const { session_no } = this.#existing(sessionId);
    const { correctionId } = correction.step;
    if (this.#read(() => this.#sql.correction.get({ session: session_no, id: correctionId })) !== undefined)
      throw new HubError('data.refused', `There already is a correction ${correctionId}.`);
    const row = {
      session_no,
      correction_id: correctionId,
      athlete_id: correction.athleteId,
      body: JSON.stringify(correction),
    };
    this.#write(() => {
      this.#sql.addCorrection.run({ ...row, checksum: correctionChecksum(row) });
      this.#sql.removeSummary.run({ session: session_no, athlete: correction.athleteId });
    });
  }

  saveSummary(sessionId: string, athleteId: string, madeBy: string, body: unknown): void {
    const { session_no } = this.#existing(sessionId);
    const row = { session_no, athlete_id: athleteId, made_by: madeBy, body: JSON.stringify(body) };
    this.#write(() => {
      this.#sql.saveSummary.run({ ...row, checksum: summaryChecksum(row) });
    });
  }

  listSummaries(athleteId: string, madeBy: string): ReadonlyMap<string, unknown> {
    const rows = this.#read(() => this.#sql.summariesOf.all({ athlete: athleteId, madeBy }));
    return new Map(
      rows.flatMap((row): [string, unknown][] =>
        row.checksum === summaryChecksum(row) ? [[row.session_id, JSON.parse(row.body)]] : [],
      ),
    );
  }

  saveDocument(document: StoredDocument): void {
    const row = {
      kind: document.kind,
      document_id: document.documentId,
      group_id: document.groupId,
      athlete_id: document.athleteId,
      body: JSON.stringify(document.body),
    };
    this.#write(() => {
      this.#sql.saveDocument.run({ ...row, checksum: documentChecksum(row) });
    });
  }

  listDocuments(kind: DocumentKind, groupId?: string): readonly StoredDocument[] {
    const rows = this.#read(() =>
      groupId === undefined
        ? this.#sql.documents.all(kind)
        : this.#sql.documentsOfGroup.all({ kind, group: groupId }),
    );
    return rows.flatMap((row) => documentOf(row) ?? []);
  }

  readDocument(kind: DocumentKind, documentId: string): StoredDocument | undefined {
    const row = this.#read(() => this.#sql.document.get({ kind, id: documentId }));
    return row === undefined ? undefined : documentOf(row);
  }

  removeDocument(kind: DocumentKind, documentId: string): boolean {
    let removed = false;
    this.#write(() => {
      removed = this.#sql.removeDocument.run({ kind, id: documentId }).changes > 0;
      if (removed) this.#sql.removeGroup.run(documentId);
    });
    return removed;
  }

  listSessions(): readonly StoredSessionSummary[] {
    return this.#read(() => {
      const holdCounts = new Map(this.#sql.holdCounts.all().map((row) => [row.session_no, row.count]));
      const listed = this.#sql.sessions.all().filter((row) => !isBeingImported(row));
      return listed.map((row) => ({
        session: viewOf(row),
        athleteNames: bodyOf(row).athletes.map((athlete) => athlete.name),
        holdCount: holdCounts.get(row.session_no) ?? 0,
        durationMs: this.#durationOf(row),
      }));
    });
  }

  readSession(sessionId: string): StoredSession | undefined {
    const row = this.#row(sessionId);
    if (row === undefined) return undefined;
    return this.#read(() => {
      const damage: string[] = [];
      const entries = { sensor: [], mark: [], hold: [], alarm: [], settings: [], link: [] } as Record<
        EntryKind,
        unknown[]
      >;
      for (const entry of this.#sql.entries.all(row.session_no)) {
        if (entry.checksum === entryChecksum(entry)) entries[entry.kind].push(JSON.parse(entry.body));
        else damage.push(`A ${entryWords[entry.kind]} of this recording is damaged and was left out.`);
      }
      const corrections: StoredCorrection[] = [];
      for (const correction of this.#sql.corrections.all(row.session_no)) {
        if (correction.checksum === correctionChecksum(correction))
          corrections.push(JSON.parse(correction.body) as StoredCorrection);
        else damage.push('A correction of this recording is damaged and was left out.');
      }
      for (const piece of this.#pieces(row, 'check')) if ('damage' in piece) damage.push(piece.damage);
      return {
        session: viewOf(row),
        athletes: bodyOf(row).athletes,
        profiles: bodyOf(row).profiles,
        sensors: entries.sensor as StoredSensor[],
        marks: entries.mark as StoredMark[],
        holds: entries.hold as StoredHold[],
        alarms: entries.alarm as StoredAlarm[],
        settingsChanges: entries.settings as StoredSession['settingsChanges'][number][],
        linkEvents: entries.link as StoredLinkEvent[],
        corrections,
        durationMs: this.#durationOf(row),
        damage,
      };
    });
  }

  *readPackets(
    sessionId: string,
    options: { readonly skipDamaged?: boolean } = {},
  ): Generator<StoredPacket, void, undefined> {
    for (const piece of this.#readable(sessionId, options)) {
      if ('chunk' in piece) yield* packetsOf(piece.chunk);
      else yield* piece.packets;
    }
  }

  *readPacketColumns(
    sessionId: string,
    options: { readonly skipDamaged?: boolean } = {},
  ): Generator<readonly PacketColumns[], void, undefined> {
    for (const piece of this.#readable(sessionId, options))
      yield 'chunk' in piece ? piece.chunk.streams : columnsOfPackets(piece.packets);
  }

  deleteSession(sessionId: string): void {
    const row = this.#existing(sessionId);
    if (row.status === 'recording')
      throw new HubError('data.refused', 'This session is being recorded. End it first.');
    this.#write(() => {
      this.#sql.removeSession.run(row.session_no);
    });
    this.#scrub();
  }

  async writeDatabaseCopy(path: string): Promise<void> {
    this.commit();
    try {
      await this.#database.backup(path);
      // As one file that needs no log beside it. The recorder switches to a log again when it opens it.
      const copy = new SqliteDatabase(path, { fileMustExist: true });
      try {
        copy.pragma('journal_mode = DELETE');
      } finally {
        copy.close();
      }
    } catch (cause) {
      throw databaseFault(cause, path);
    }
  }

  close(): void {
    if (!this.#database.open) return;
    try {
      this.commit();
    } finally {
      this.#database.close();
    }
  }

  #row(sessionId: string): SessionRow | undefined {
    return this.#read(() => this.#sql.session.get(sessionId));
  }

  #existing(sessionId: string): SessionRow {
    const row = this.#row(sessionId);
    if (row === undefined) throw new HubError('data.refused', `There is no session ${sessionId}.`);
    return row;
  }

  #recording(sessionId: string): LiveSession {
    const live = this.#live.get(sessionId);
    if (live === undefined) throw new HubError('data.refused', `Session ${sessionId} is not being recorded.`);
    return live;
  }

  #read<Value>(read: () => Value): Value {
    try {
      return read();
    } catch (cause) {
      throw databaseFault(cause, this.#path);
    }
  }

  /**
   * One transaction: what is buffered, then `change`. If it fails nothing of it happened, and the buffers stay.
   * `ending` is sealed whatever its size.
   */
  #write(change: () => void, durability: 'disk' | 'process' = 'disk', ending?: LiveSession): void {
    const settle: (() => void)[] = [];
    try {
      if (durability !== this.#durability) {
        this.#database.pragma(`synchronous = ${durability === 'disk' ? 'FULL' : 'NORMAL'}`);
        this.#durability = durability;
      }
      this.#inTransaction(() => {
        change();
        for (const live of this.#live.values()) this.#flush(live, live === ending, settle);
      });
    } catch (cause) {
      throw databaseFault(cause, this.#path);
    }
    this.#unsynced = durability === 'process';
    for (const done of settle) done();
  }

  /** Pending packets into the journal; or, with what the journal holds, into chunks once there is enough. */
  #flush(live: LiveSession, ending: boolean, settle: (() => void)[]): void {
    const { pending, pendingBytes, sessionNo } = live;
    const first = live.firstUnsealed + live.unsealed.length;
    const enough = live.unsealedBytes + pendingBytes >= this.#sealAtBytes;
    if ((enough || ending) && this.#seal(sessionNo, live.firstUnsealed, live.unsealed.concat(pending))) {
      settle.push(() => {
        live.firstUnsealed = first + pending.length;
        live.unsealed = [];
        live.unsealedBytes = 0;
        live.pending = [];
        live.pendingBytes = 0;
      });
      return;
    }
    if (pending.length === 0) return;
    const body = encodeBatch(pending);
    const lastAtMs = latestOf(pending);
    this.#sql.addToJournal.run(
      sessionNo,
      first,
      pending.length,
      lastAtMs,
      body,
      pieceChecksum(sessionNo, first, pending.length, lastAtMs, body),
    );
    settle.push(() => {
      for (const packet of pending) live.unsealed.push(packet);
      live.unsealedBytes += pendingBytes;
      live.pending = [];
      live.pendingBytes = 0;
    });
  }

  /**
   * Moves a session's journal into chunks, after reading each chunk back. Answers false, with nothing changed, if
   * what was read back differs: the journal then stays, and stays readable.
   */
  #seal(sessionNo: number, firstUnsealed: number, packets: readonly StoredPacket[]): boolean {
    const chunks: { first: number; count: number; lastAtMs: number; body: Uint8Array }[] = [];
    let start = 0;
    while (start < packets.length) {
      let end = start;
      for (let bytes = 0; end < packets.length && bytes < 2 * this.#sealAtBytes; end++)
        bytes += packets[end]!.bytes.length + packetOverheadBytes;
      const part = packets.slice(start, end);
      const body = encodeChunk(part);
      if (!isChunkOf(body, part)) return false;
      chunks.push({ first: firstUnsealed + start, count: part.length, lastAtMs: latestOf(part), body });
      start = end;
    }
    for (const { first, count, lastAtMs, body } of chunks)
      this.#sql.addChunk.run(
        sessionNo,
        first,
        count,
        lastAtMs,
        body,
        pieceChecksum(sessionNo, first, count, lastAtMs, body),
      );
    this.#sql.clearJournal.run(sessionNo);
    return true;
  }

  #saveSession(row: Omit<SessionRow, 'checksum'>): void {
    this.#sql.saveSession.run({ ...row, checksum: sessionChecksum(row) });
  }

  #saveSensor(sessionNo: number, sensor: StoredSensor): void {
    const key = `${sensor.sensorId}/${sensor.fromMs}`;
    this.#putEntry(sessionNo, 'sensor', key, sensor.athleteId, sensor.fromMs, false, sensor);
  }

  #saveEntry(
    sessionId: string,
    kind: EntryKind,
    key: string | null,
    athleteId: string | null,
    atMs: number,
    withdrawn: boolean,
    body: unknown,
  ): void {
    const row = this.#existing(sessionId);
    this.#write(() => this.#putEntry(row.session_no, kind, key, athleteId, atMs, withdrawn, body));
  }

  #putEntry(
    sessionNo: number,
    kind: EntryKind,
    key: string | null,
    athleteId: string | null,
    atMs: number,
    withdrawn: boolean,
    body: unknown,
  ): void {
    const entry = {
      session_no: sessionNo,
      kind,
      entry_key: key,
      athlete_id: athleteId,
      at_ms: atMs,
      withdrawn: withdrawn ? 1 : 0,
      body: JSON.stringify(body),
    };
    this.#sql.saveEntry.run({ ...entry, checksum: entryChecksum(entry) });
  }

  #durationOf(row: SessionRow): number {
    return Math.max(row.ended_at_ms ?? 0, this.#sql.lastAt.get({ session: row.session_no })?.last ?? 0);
  }

  #closeInterrupted(): string[] {
    const open = this.#sql.sessions.all().filter((row) => row.status === 'recording');
    if (open.length === 0) return [];
    this.#write(() => {
      for (const row of open) {
        if (isBeingImported(row)) {
          this.#sql.removeSession.run(row.session_no);
          continue;
        }
        let packetCount = 0;
        let first: number | undefined;
        const packets: StoredPacket[] = [];
        let whole = true;
        for (const piece of this.#pieces(row, 'decode')) {
          if ('damage' in piece) whole = false;
          else if ('packets' in piece) {
            first ??= piece.first;
            for (const packet of piece.packets) packets.push(packet);
            packetCount = piece.first + piece.packets.length;
          } else packetCount = piece.first + piece.chunk.order.length;
        }
        // A damaged journal is left as it is: reading goes round it, and someone may still make sense of it.
        if (whole && first !== undefined) this.#seal(row.session_no, first, packets);
        this.#saveSession({
          ...row,
          status: 'interrupted',
          ended_at_ms: this.#durationOf(row),
          packet_count: packetCount,
        });
      }
    });
    return open.filter((row) => !isBeingImported(row)).map((row) => row.session_id);
  }

  *#readable(
    sessionId: string,
    options: { readonly skipDamaged?: boolean },
  ): Generator<Exclude<Piece, { damage: string }>, void, undefined> {
    const row = this.#row(sessionId);
    if (row === undefined) return;
    for (const piece of this.#pieces(row, 'decode')) {
      if (!('damage' in piece)) yield piece;
      else if (options.skipDamaged !== true)
        throw new HubError(
          'data.corrupt',
          `${piece.damage} The rest of this recording can be read. The file is ${this.#path}.`,
        );
    }
  }

  /**
   * A session's journal and chunks in the order of their packets, one query a piece: between two of them the
   * store may be written to, and the journal be sealed. `check` looks at checksums and yields damage only.
   */
  *#pieces(session: SessionRow, depth: 'decode' | 'check'): Generator<Piece, void, undefined> {
    const key = { session: session.session_no };
    let next = 0;
    for (;;) {
      const row = this.#read(
        () =>
          this.#sql.pieceAt.get({ ...key, packet: next }) ??
          this.#sql.pieceAfter.get({ ...key, packet: next }),
      );
      if (row === undefined) break;
      if (row.first_packet > next)
        yield { first: next, damage: `${row.first_packet - next} packets of this recording are missing.` };
      const piece = readPiece(row, Math.max(next, row.first_packet), depth);
      if (piece !== undefined) yield piece;
      // What a damaged row says of its place may be wrong: go on where the next row begins.
      const from = Math.max(next, row.first_packet);
      const following =
        piece !== undefined && 'damage' in piece
          ? (this.#read(() => this.#sql.pieceAfter.get({ ...key, packet: from }))?.first_packet ??
            Number.MAX_SAFE_INTEGER)
          : row.first_packet + row.packet_count;
      // A damaged index can lead back to the same row for ever.
      if (following <= next) {
        yield { first: next, damage: 'The rest of this recording cannot be found any more.' };
        return;
      }
      next = following;
    }
    if (session.packet_count !== null && next < session.packet_count)
      yield { first: next, damage: `${session.packet_count - next} packets of this recording are missing.` };
  }

  /** In a transaction. What cannot be read any more goes too, since it may hold what is to be erased. */
  #eraseFrom(row: SessionRow, athleteId: string): void {
    const sessionNo = row.session_no;
    const entries = this.#sql.entries.all(sessionNo);
    const sensors: StoredSensor[] = [];
    for (const entry of entries) {
      if (entry.checksum !== entryChecksum(entry)) this.#sql.removeEntry.run(entry.entry_no);
      else if (entry.kind === 'sensor') sensors.push(JSON.parse(entry.body) as StoredSensor);
    }
    const isTheirs = (event: { readonly sensorId: string; readonly atMs: number }): boolean =>
      wearerOf(sensors, event.sensorId, event.atMs) === athleteId;
    for (const entry of entries) {
      if (entry.checksum !== entryChecksum(entry)) continue;
      const theirs =
        entry.kind === 'link' ? isTheirs(JSON.parse(entry.body)) : entry.athlete_id === athleteId;
      if (theirs) this.#sql.removeEntry.run(entry.entry_no);
    }
    for (const correction of this.#sql.corrections.all(sessionNo))
      if (correction.athlete_id === athleteId || correction.checksum !== correctionChecksum(correction))
        this.#sql.removeCorrection.run({ session: sessionNo, id: correction.correction_id });
    const kept: StoredPacket[][] = [];
    for (const piece of this.#pieces(row, 'decode')) {
      if ('damage' in piece) continue;
      const packets = 'chunk' in piece ? [...packetsOf(piece.chunk)] : piece.packets;
      kept.push(packets.filter((packet) => !isTheirs(packet)));
    }
    this.#sql.clearJournal.run(sessionNo);
    this.#sql.clearChunks.run(sessionNo);
    let packetCount = 0;
    for (const packets of kept) {
      if (packets.length > 0 && !this.#seal(sessionNo, packetCount, packets))
        throw new HubError('data.failed', 'A recording could not be rewritten; nothing was erased.');
      packetCount += packets.length;
    }
    const body = bodyOf(row);
    const athletes = body.athletes.filter((athlete) => athlete.athleteId !== athleteId);
    this.#saveSession({
      ...row,
      packet_count: packetCount,
      body: textOfBody({ ...body, athletes }),
    });
  }

  /** Gives freed pages back, and empties the log of what was deleted. */
  #scrub(): void {
    this.#read(() => {
      this.#database.pragma('incremental_vacuum');
      this.#database.pragma('wal_checkpoint(TRUNCATE)');
    });
  }
}

const entryWords: Record<EntryKind, string> = {
  sensor: 'sensor',
  mark: 'mark',
  hold: 'hold',
  alarm: 'alarm',
  settings: 'change of settings',
  link: 'change of a link',
};

/** JSON knows no bytes: those of profiles stand as `{"hex": "d17e"}`. */
const textOfBody = (body: SessionBody): string =>
  JSON.stringify(body, (_key, value: unknown) =>
    value instanceof Uint8Array ? { hex: Buffer.from(value).toString('hex') } : value,
  );

function bodyOf(row: SessionRow): SessionBody {
  return JSON.parse(row.body, (_key, value: unknown) =>
    typeof value === 'object' && value !== null && 'hex' in value
      ? new Uint8Array(Buffer.from(String(value.hex), 'hex'))
      : value,
  ) as SessionBody;
}

/** There as a whole when it is ended, and not before. */
const isBeingImported = (row: SessionRow): boolean =>
  row.status === 'recording' && bodyOf(row).source === 'import';

function viewOf(row: SessionRow): SessionView {
  const { simulated, source, title, athletes } = bodyOf(row);
  return {
    sessionId: row.session_id,
    startedWallAtMs: row.started_wall_at_ms as WallMs,
    endedAtMs: row.ended_at_ms as MonotonicMs | null,
    status: row.status,
    simulated,
    source,
    title,
    athleteIds: athletes.map((athlete) => athlete.athleteId),
  };
}

/** The packets of a row from number `from` on; undefined if there is nothing to say. */
function readPiece(row: PieceRow, from: number, depth: 'decode' | 'check'): Piece | undefined {
  const { session_no, first_packet, packet_count, last_at_ms, body } = row;
  const damage = `About ${packet_count} packets of this recording are damaged and cannot be read.`;
  if (row.checksum !== pieceChecksum(session_no, first_packet, packet_count, last_at_ms, body))
    return { first: from, damage };
  if (depth === 'check') return undefined;
  const passed = from - first_packet;
  if (row.sealed === 0) {
    const batch = decodeBatch(body);
    if (!batch.ok || batch.value.length !== packet_count) return { first: from, damage };
    return { first: from, packets: batch.value.slice(passed) };
  }
  const chunk = decodeChunk(body);
  if (!chunk.ok || chunk.value.order.length !== packet_count) return { first: from, damage };
  if (passed === 0) return { first: from, chunk: chunk.value };
  return { first: from, packets: [...packetsOf(chunk.value)].slice(passed) };
}

function latestOf(packets: readonly StoredPacket[]): number {
  let latest = 0;
  for (const packet of packets)
    if (packet.atMs > latest && packet.atMs < Number.POSITIVE_INFINITY) latest = packet.atMs;
  return latest;
}

function checksumOf(columns: readonly (string | number | null)[]): number {
  return crc32(JSON.stringify(columns));
}

function sessionChecksum(row: Omit<SessionRow, 'checksum'>): number {
  return checksumOf([
    row.session_no,
    row.session_id,
    row.started_wall_at_ms,
    row.status,
    row.ended_at_ms,
    row.packet_count,
    row.body,
  ]);
}

function documentChecksum(row: Omit<DocumentRow, 'checksum'>): number {
  return checksumOf([row.kind, row.document_id, row.group_id, row.athlete_id, row.body]);
}

/** Undefined for a row that does not match its checksum: opening has said how many those are. */
function documentOf(row: DocumentRow): StoredDocument | undefined {
  if (row.checksum !== documentChecksum(row)) return undefined;
  return {
    kind: row.kind,
    documentId: row.document_id,
    groupId: row.group_id,
    athleteId: row.athlete_id,
    body: JSON.parse(row.body),
  };
}

/** One sentence when plans or training entries are damaged; recordings do not hang on them. */
function documentNotices(database: Database): string[] {
  const rows = prepareStatements(database).allDocuments.all();
  const damagedCount = rows.filter((row) => row.checksum !== documentChecksum(row)).length;
  if (damagedCount === 0) return [];
  return [
    `${damagedCount} saved ${damagedCount === 1 ? 'plan or training entry is' : 'plans or training entries are'} damaged and left out. Recordings are not affected.`,
  ];
}

function entryChecksum(row: Omit<EntryRow, 'entry_no' | 'checksum'>): number {
  return checksumOf([
    row.session_no,
    row.kind,
    row.entry_key,
    row.athlete_id,
    row.at_ms,
    row.withdrawn,
    row.body,
  ]);
}

function summaryChecksum(row: Omit<SummaryRow, 'checksum'>): number {
  return checksumOf([row.session_no, row.athlete_id, row.made_by, row.body]);
}

function correctionChecksum(row: Omit<CorrectionRow, 'checksum'>): number {
  return checksumOf([row.session_no, row.correction_id, row.athlete_id, row.body]);
}

function pieceChecksum(
  sessionNo: number,
  first: number,
  count: number,
  lastAtMs: number,
  body: Uint8Array,
): number {
  return crc32(body, checksumOf([sessionNo, first, count, lastAtMs]));
}

/** Rows that everything else hangs on, the same in every version, are read through before the file is used at all. */
function verifyRows(database: Database, path: string): void {
  const rowsOf = <Row>(sql: string): Row[] => database.prepare<[], Row>(sql).all();
  const good =
    rowsOf<SessionRow>('SELECT * FROM sessions').every((row) => row.checksum === sessionChecksum(row)) &&
    rowsOf<AthleteRow>('SELECT * FROM athletes').every(
      (row) => row.checksum === checksumOf([row.athlete_id, row.body]),
    ) &&
    rowsOf<AssignmentRow>('SELECT * FROM assignments').every(
      (row) => row.checksum === checksumOf([row.sensor_id, row.athlete_id]),
    );
  if (!good) throw damaged(path, new Error('a row does not match its checksum'));
}

type Named<Row> = Omit<Row, 'entry_no'>;

function prepareStatements(database: Database) {
  const prepare = <Parameters extends unknown[] | object, Row = unknown>(
    sql: string,
  ): Statement<Parameters extends unknown[] ? Parameters : [Parameters], Row> =>
    database.prepare(sql) as Statement<Parameters extends unknown[] ? Parameters : [Parameters], Row>;
  const documentColumns = 'kind, document_id, group_id, athlete_id, body, checksum';
  const pieceColumns = 'session_no, first_packet, packet_count, last_at_ms, body, checksum';
  return {
    athletes: prepare<[], AthleteRow>('SELECT athlete_id, body, checksum FROM athletes ORDER BY athlete_no'),
    athlete: prepare<[string], { athlete_id: string }>(
      'SELECT athlete_id FROM athletes WHERE athlete_id = ?',
    ),
    saveAthlete: prepare<[string, string, number]>(
      `INSERT INTO athletes (athlete_id, body, checksum) VALUES (?, ?, ?)
       ON CONFLICT (athlete_id) DO UPDATE SET body = excluded.body, checksum = excluded.checksum`,
    ),
    removeAthlete: prepare<[string]>('DELETE FROM athletes WHERE athlete_id = ?'),
    assignments: prepare<[], AssignmentRow>(
      'SELECT sensor_id, athlete_id, checksum FROM assignments ORDER BY assignment_no',
    ),
    assign: prepare<[string, string, number]>(
      `INSERT INTO assignments (sensor_id, athlete_id, checksum) VALUES (?, ?, ?)
       ON CONFLICT (sensor_id) DO UPDATE SET athlete_id = excluded.athlete_id, checksum = excluded.checksum`,
    ),
    unassign: prepare<[string]>('DELETE FROM assignments WHERE sensor_id = ?'),
    sessions: prepare<[], SessionRow>(
      'SELECT * FROM sessions ORDER BY started_wall_at_ms DESC, session_no DESC',
    ),
    session: prepare<[string], SessionRow>('SELECT * FROM sessions WHERE session_id = ?'),
    nextSessionNo: prepare<[], { next: number }>(
      'SELECT coalesce(max(session_no), 0) + 1 AS next FROM sessions',
    ),
    saveSession: prepare<SessionRow>(
      `INSERT INTO sessions VALUES (@session_no, @session_id, @started_wall_at_ms, @status, @ended_at_ms,
         @packet_count, @body, @checksum)
       ON CONFLICT (session_no) DO UPDATE SET status = excluded.status, ended_at_ms = excluded.ended_at_ms,
         packet_count = excluded.packet_count, body = excluded.body, checksum = excluded.checksum`,
    ),
    removeSession: prepare<[number]>('DELETE FROM sessions WHERE session_no = ?'),
    touch: prepare<[]>(`UPDATE sessions SET status = status WHERE status = 'recording'`),
    entries: prepare<[number], EntryRow>('SELECT * FROM entries WHERE session_no = ? ORDER BY entry_no'),
    saveEntry: prepare<Named<EntryRow>>(
      `INSERT INTO entries (session_no, kind, entry_key, athlete_id, at_ms, withdrawn, body, checksum)
       VALUES (@session_no, @kind, @entry_key, @athlete_id, @at_ms, @withdrawn, @body, @checksum)
       ON CONFLICT (session_no, kind, entry_key) DO UPDATE SET athlete_id = excluded.athlete_id,
         at_ms = excluded.at_ms, withdrawn = excluded.withdrawn, body = excluded.body,
         checksum = excluded.checksum`,
    ),
    removeEntry: prepare<[number]>('DELETE FROM entries WHERE entry_no = ?'),
    corrections: prepare<[number], CorrectionRow>(
      `SELECT session_no, correction_id, athlete_id, body, checksum FROM corrections
       WHERE session_no = ? ORDER BY correction_no`,
    ),
    correction: prepare<{ session: number; id: string }, { correction_no: number }>(
      'SELECT correction_no FROM corrections WHERE session_no = @session AND correction_id = @id',
    ),
    addCorrection: prepare<CorrectionRow>(
      `INSERT INTO corrections (session_no, correction_id, athlete_id, body, checksum)
       VALUES (@session_no, @correction_id, @athlete_id, @body, @checksum)`,
    ),
    removeCorrection: prepare<{ session: number; id: string }>(
      'DELETE FROM corrections WHERE session_no = @session AND correction_id = @id',
    ),
    summariesOf: prepare<{ athlete: string; madeBy: string }, SummaryRow & { session_id: string }>(
      `SELECT summaries.session_no, session_id, athlete_id, made_by, summaries.body, summaries.checksum
       FROM summaries JOIN sessions USING (session_no) WHERE athlete_id = @athlete AND made_by = @madeBy`,
    ),
    saveSummary: prepare<SummaryRow>(
      `INSERT INTO summaries (session_no, athlete_id, made_by, body, checksum)
       VALUES (@session_no, @athlete_id, @made_by, @body, @checksum)
       ON CONFLICT (athlete_id, session_no) DO UPDATE SET made_by = excluded.made_by, body = excluded.body,
         checksum = excluded.checksum`,
    ),
    removeSummary: prepare<{ session: number; athlete: string }>(
      'DELETE FROM summaries WHERE session_no = @session AND athlete_id = @athlete',
    ),
    removeSummariesOf: prepare<[string]>('DELETE FROM summaries WHERE athlete_id = ?'),
    allDocuments: prepare<[], DocumentRow>(`SELECT ${documentColumns} FROM documents`),
    documents: prepare<[DocumentKind], DocumentRow>(
      `SELECT ${documentColumns} FROM documents WHERE kind = ? ORDER BY document_no`,
    ),
    documentsOfGroup: prepare<{ kind: DocumentKind; group: string }, DocumentRow>(
      `SELECT ${documentColumns} FROM documents WHERE kind = @kind AND group_id = @group ORDER BY document_no`,
    ),
    document: prepare<{ kind: DocumentKind; id: string }, DocumentRow>(
      `SELECT ${documentColumns} FROM documents WHERE kind = @kind AND document_id = @id`,
    ),
    saveDocument: prepare<DocumentRow>(
      `INSERT INTO documents (${documentColumns})
       VALUES (@kind, @document_id, @group_id, @athlete_id, @body, @checksum)
       ON CONFLICT (kind, document_id) DO UPDATE SET group_id = excluded.group_id,
         athlete_id = excluded.athlete_id, body = excluded.body, checksum = excluded.checksum`,
    ),
    removeDocument: prepare<{ kind: DocumentKind; id: string }>(
      'DELETE FROM documents WHERE kind = @kind AND document_id = @id',
    ),
    removeGroup: prepare<[string]>('DELETE FROM documents WHERE group_id = ?'),
    removeDocumentsOf: prepare<[string]>('DELETE FROM documents WHERE athlete_id = ?'),
    holdCounts: prepare<[], { session_no: number; count: number }>(
      `SELECT session_no, count(*) AS count FROM entries WHERE kind = 'hold' AND withdrawn = 0
       GROUP BY session_no`,
    ),
    lastAt: prepare<{ session: number }, { last: number | null }>(
      `SELECT max(last) AS last FROM (
         SELECT max(at_ms) AS last FROM entries WHERE session_no = @session
         UNION ALL SELECT max(last_at_ms) FROM journal WHERE session_no = @session
         UNION ALL SELECT max(last_at_ms) FROM chunks WHERE session_no = @session)`,
    ),
    addToJournal: prepare<[number, number, number, number, Uint8Array, number]>(
      `INSERT INTO journal (${pieceColumns}) VALUES (?, ?, ?, ?, ?, ?)`,
    ),
    addChunk: prepare<[number, number, number, number, Uint8Array, number]>(
      `INSERT INTO chunks (${pieceColumns}) VALUES (?, ?, ?, ?, ?, ?)`,
    ),
    clearJournal: prepare<[number]>('DELETE FROM journal WHERE session_no = ?'),
    clearChunks: prepare<[number]>('DELETE FROM chunks WHERE session_no = ?'),
    pieceAt: prepare<{ session: number; packet: number }, PieceRow>(
      `SELECT * FROM (SELECT ${pieceColumns}, 1 AS sealed FROM chunks WHERE session_no = @session
           AND first_packet <= @packet ORDER BY first_packet DESC LIMIT 1)
         WHERE first_packet + packet_count > @packet
       UNION ALL
       SELECT * FROM (SELECT ${pieceColumns}, 0 AS sealed FROM journal WHERE session_no = @session
           AND first_packet <= @packet ORDER BY first_packet DESC LIMIT 1)
         WHERE first_packet + packet_count > @packet
       LIMIT 1`,
    ),
    pieceAfter: prepare<{ session: number; packet: number }, PieceRow>(
      `SELECT * FROM (
         SELECT * FROM (SELECT ${pieceColumns}, 1 AS sealed FROM chunks WHERE session_no = @session
           AND first_packet > @packet ORDER BY first_packet LIMIT 1)
         UNION ALL
         SELECT * FROM (SELECT ${pieceColumns}, 0 AS sealed FROM journal WHERE session_no = @session
           AND first_packet > @packet ORDER BY first_packet LIMIT 1))
       ORDER BY first_packet LIMIT 1`,
    ),
  };
}
