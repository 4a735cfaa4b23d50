// The recorder on disk: SQLite with a write-ahead log. Composes the tables, and does what concerns several of them at once.

import { readdirSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import SqliteDatabase, { type Database } from 'better-sqlite3';
import { type Said, said } from '../../shared/said.ts';
import type { MonotonicMs, WallMs } from '../../shared/units.ts';
import type { Athlete, AthleteSettings, SessionLeader, UnwatchedSpan } from '../../shared/views.ts';
import { HubError } from '../base/hub-error.ts';
import type {
  ArchivedSegment,
  ArchivedTold,
  ArchiveReads,
  ToldChanges,
} from '../base/ports/archive-reads.ts';
import type { DocumentKind, StoredDocument } from '../base/ports/documents.ts';
import type { ImportedPart, SessionStart } from '../base/ports/session-log.ts';
import type { Store } from '../base/ports/store.ts';
import type {
  BinnedRecording,
  PacketColumns,
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
  StoredSessionSummary,
} from '../base/ports/stored-session.ts';
import { ArchiveReading } from './archive-reading.ts';
import { AthleteTable } from './athlete-table.ts';
import { binnedAthleteIds, isWhollyBinned, showsPacket, withoutParts } from './binned-parts.ts';
import { databaseFileName, prepareDataDirectory } from './data-directory.ts';
import { damaged, databaseFault } from './database-fault.ts';
import { DocumentTable } from './document-table.ts';
import { headUnnamed, unnamedOf } from './led-by.ts';
import { beforeMark, openDatabase } from './open-database.ts';
import { columnsOfPackets, packetsOf } from './packet-chunk.ts';
import { PacketJournal, type ReadablePiece } from './packet-journal.ts';
import type { TakingOver } from './reassigned-part.ts';
import { checksumOf } from './row-checksums.ts';
import {
  type AssignmentRow,
  type AthleteRow,
  bodyOf,
  type SessionRow,
  sessionChecksum,
  textOfBody,
  viewOf,
} from './rows.ts';
import { migrate } from './schema.ts';
import { SessionBin } from './session-bin.ts';
import {
  alarmEntry,
  aliveEntry,
  besideEntries,
  changeEntry,
  holdEntry,
  linkEntry,
  markEntry,
  scheduleEntry,
  sensorEntry,
  settingsEntry,
  unwatchedEntry,
} from './session-entries.ts';
import { type ListChanges, SessionList } from './session-list.ts';
import { SessionTables } from './session-tables.ts';
import { alarmsWithEnds } from './stored-alarm.ts';
import { SummaryTable } from './summary-table.ts';
import { type Durability, Transactions } from './transactions.ts';

/** The journal is sealed into a chunk when its packets take this much; a smaller chunk costs more a sample. */
const sealAtBytesByDefault = 2 ** 18;

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
  /** What was to be written of a session when the process before this ended, kept elsewhere. */
  readonly unsavedOf?: (sessionId: string) => readonly StoredPacket[];
}

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
    const sealAtBytes = options.sealAtBytes ?? sealAtBytesByDefault;
    return new SqliteStore(database, path, [...directoryNotices, ...notices], sealAtBytes, options.unsavedOf);
  } catch (cause) {
    database.close();
    throw databaseFault(cause, path);
  }
}

/** An empty database of today's version, made once in a process: every migration again is most of what opening one costs. */
let emptyInMemory: Buffer | undefined;
function emptyDatabase(): Buffer {
  const database = new SqliteDatabase(':memory:');
  migrate(database);
  const bytes = database.serialize();
  database.close();
  return bytes;
}

/** The same recorder without a file: gone with the process. For tests. */
export function openStoreInMemory(): SqliteStore {
  emptyInMemory ??= emptyDatabase();
  const database = new SqliteDatabase(emptyInMemory);
  database.pragma('foreign_keys = ON');
  return new SqliteStore(database, null, [], sealAtBytesByDefault);
}

export class SqliteStore implements Store, ArchiveReads {
  readonly interruptedSessionIds: readonly string[];
  readonly notices: readonly Said[];
  readonly #database: Database;
  /** Null where nothing is kept in a file. */
  readonly #path: string | null;
  readonly #transactions: Transactions;
  readonly #athletes: AthleteTable;
  readonly #sessions: SessionTables;
  readonly #journal: PacketJournal;
  readonly #documents: DocumentTable;
  readonly #summaries: SummaryTable;
  readonly #bin: SessionBin;
  readonly #list: SessionList;
  readonly #archive: ArchiveReading;

  /** Use `openSqliteStore`. */
  constructor(
    database: Database,
    path: string | null,
    notices: readonly Said[],
    sealAtBytes: number,
    unsavedOf: (sessionId: string) => readonly StoredPacket[] = () => [],
  ) {
    this.#database = database;
    this.#path = path;
    this.#transactions = new Transactions(database, path ?? 'memory');
    this.#athletes = new AthleteTable(database, this.#transactions);
    this.#sessions = new SessionTables(database, this.#transactions);
    this.#journal = new PacketJournal(database, this.#transactions, sealAtBytes);
    this.#documents = new DocumentTable(database, this.#transactions);
    this.#summaries = new SummaryTable(database, this.#transactions);
    this.#bin = new SessionBin(this.#sessions, this.#transactions);
    this.#list = new SessionList(this.#sessions, this.#summaries, () => this.#names());
    this.#archive = new ArchiveReading(this.#sessions, this.#journal);
    this.notices = [...notices, ...this.#documents.notices()];
    this.interruptedSessionIds = this.#closeInterrupted(unsavedOf);
  }

  listAthletes(): readonly Athlete[] {
    return this.#athletes.list();
  }

  saveAthlete(athlete: Athlete): void {
    const isRenamed = this.#names().get(athlete.athleteId) !== athlete.name;
    this.#athletes.save(athlete);
    if (isRenamed) this.#list.renamed(athlete.athleteId);
  }

  removeAthlete(athleteId: string): void {
    const name = this.#names().get(athleteId);
    this.#transactions.write(() => {
      // Recordings go by the list of athletes for names: who leaves it keeps the last one there.
      if (name !== undefined) this.#sessions.renameWithin(athleteId, name);
      this.#athletes.removeWithin(athleteId);
    });
  }

  eraseAthlete(athleteId: string): void {
    const rows = this.#sessions.rows();
    const isIn = (row: SessionRow): boolean =>
      bodyOf(row).athletes.some((athlete) => athlete.athleteId === athleteId);
    const who = unnamedOf(new Set([athleteId]), rows.map(bodyOf), this.#athletes.list());
    const theirs = rows.filter((row) => isIn(row) || headUnnamed(bodyOf(row), who) !== undefined);
    if (theirs.some((row) => row.status === 'recording'))
      throw new HubError('data.refused', said('data.athleteRecorded'));
    this.#transactions.write(() => {
      for (const row of theirs)
        if (isIn(row) && bodyOf(row).athletes.length === 1) this.#sessions.removeWithin(row);
      this.#sessions.unnameWithin(who);
      // What they led has another head by now.
      for (const row of this.#sessions.rows()) if (isIn(row)) this.#eraseFrom(row, athleteId);
      this.#documents.removeOfWithin(athleteId);
      this.#summaries.removeOfWithin(athleteId);
      this.#athletes.removeWithin(athleteId);
    });
    this.#scrub();
  }

  assignSensor(sensorId: string, athleteId: string | null): void {
    this.#athletes.assignSensor(sensorId, athleteId);
  }

  sensorAssignments(): ReadonlyMap<string, string> {
    return this.#athletes.assignments();
  }

  startSession(start: SessionStart): void {
    this.#journal.begin(start.sessionId, this.#sessions.begin(start));
  }

  endSession(sessionId: string, endedAtMs: MonotonicMs): void {
    this.#journal.end(sessionId, (packetCount) => {
      const row = this.#sessions.existing(sessionId);
      this.#transactions.write(() =>
        this.#sessions.saveWithin({
          ...row,
          status: 'ended',
          ended_at_ms: endedAtMs,
          packet_count: packetCount,
        }),
      );
    });
  }

  resumeSession(sessionId: string, gap: UnwatchedSpan): void {
    const row = this.#sessions.existing(sessionId);
    if (row.status === 'recording' || row.packet_count === null)
      throw new HubError('data.refused', said('data.sessionRecorded'));
    this.#transactions.write(() => {
      this.#sessions.saveWithin({ ...row, status: 'recording', ended_at_ms: null, packet_count: null });
      this.#sessions.putEntryWithin(row.session_no, unwatchedEntry(gap));
      // They were made of a part of it.
      for (const { athleteId } of bodyOf(row).athletes)
        this.#summaries.removeWithin(row.session_no, athleteId);
    });
    this.#journal.begin(sessionId, row.session_no, row.packet_count);
  }

  saveUnwatched(sessionId: string, gap: UnwatchedSpan): void {
    this.#sessions.saveEntry(sessionId, unwatchedEntry(gap));
  }

  saveAlive(sessionId: string, alive: StoredAlive): void {
    this.#sessions.saveEntry(sessionId, aliveEntry(alive));
  }

  saveSchedule(sessionId: string, schedule: StoredSchedule): void {
    this.#sessions.saveEntry(sessionId, scheduleEntry(schedule));
  }

  saveSessionSensor(sessionId: string, sensor: StoredSensor): void {
    this.#sessions.saveEntry(sessionId, sensorEntry(sensor));
  }

  addSessionAthlete(sessionId: string, athlete: Athlete): void {
    this.#sessions.addAthlete(sessionId, athlete);
  }

  saveSessionChange(sessionId: string, change: StoredChange): void {
    this.#sessions.saveEntry(sessionId, changeEntry(change));
  }

  appendPacket(sessionId: string, packet: StoredPacket): void {
    this.#journal.append(sessionId, packet);
  }

  appendImported(sessionId: string, { chunks, marks, holds, beside }: ImportedPart): void {
    this.#journal.appendSealed(sessionId, chunks, (sessionNo) => {
      if (beside !== undefined) {
        for (const entry of besideEntries(beside)) this.#sessions.putEntryWithin(sessionNo, entry);
        for (const step of beside.corrections) this.#sessions.addCorrectionWithin(sessionNo, step);
      }
      for (const mark of marks) this.#sessions.putEntryWithin(sessionNo, markEntry(mark));
      for (const hold of holds) this.#sessions.putEntryWithin(sessionNo, holdEntry(hold));
    });
  }

  /** While set, only `commit('disk')` makes what is written proof against a power cut. */
  set syncOnlyOnCommit(isSet: boolean) {
    this.#transactions.usual = isSet ? 'process' : 'disk';
  }

  commit(durability: Durability = 'disk'): void {
    const { isIdle } = this.#journal;
    if (isIdle && !(durability === 'disk' && this.#transactions.unsynced)) return;
    this.#transactions.write(() => {
      // A transaction that changes nothing would not be synced.
      if (isIdle) this.#sessions.touchWithin();
    }, durability);
  }

  saveMark(sessionId: string, mark: StoredMark): void {
    this.#sessions.saveEntry(sessionId, markEntry(mark));
  }

  saveHold(sessionId: string, hold: StoredHold): void {
    this.#sessions.saveEntry(sessionId, holdEntry(hold));
  }

  saveAlarm(sessionId: string, alarm: StoredAlarm): void {
    this.#sessions.saveEntry(sessionId, alarmEntry(alarm));
  }

  saveSettingsChange(
    sessionId: string,
    athleteId: string,
    atMs: MonotonicMs,
    settings: AthleteSettings,
  ): void {
    this.#sessions.saveEntry(sessionId, settingsEntry({ athleteId, atMs, settings }));
  }

  saveLinkEvent(sessionId: string, event: StoredLinkEvent): void {
    this.#sessions.saveEntry(sessionId, linkEntry(event));
  }

  addCorrection(sessionId: string, correction: StoredCorrection): void {
    this.#sessions.addCorrection(sessionId, correction, (row) =>
      this.#summaries.removeWithin(row.session_no, correction.athleteId),
    );
  }

  saveSummary(sessionId: string, athleteId: string, madeBy: string, body: unknown): void {
    const { session_no } = this.#sessions.existing(sessionId);
    this.#summaries.save(session_no, athleteId, madeBy, body);
    this.#list.changed(session_no);
  }

  listSummaries(athleteId: string, madeBy: string): ReadonlyMap<string, unknown> {
    return this.#summaries.list(athleteId, madeBy);
  }

  listOtherSummaries(athleteId: string, madeBy: string): ReadonlyMap<string, unknown> {
    return this.#summaries.listOthers(athleteId, madeBy);
  }

  saveDocument(document: StoredDocument): void {
    this.#documents.save(document);
  }

  listDocuments(kind: DocumentKind, groupId?: string): readonly StoredDocument[] {
    return this.#documents.list(kind, groupId);
  }

  readDocument(kind: DocumentKind, documentId: string): StoredDocument | undefined {
    return this.#documents.read(kind, documentId);
  }

  removeDocument(kind: DocumentKind, documentId: string): boolean {
    return this.#documents.remove(kind, documentId);
  }

  listSessions(): readonly StoredSessionSummary[] {
    return this.#transactions.read(() => this.#list.all());
  }

  /** For a copy of the list in another thread. */
  listChanges(since: number): ListChanges {
    return this.#transactions.read(() => this.#list.changesSince(since));
  }

  toldChanges(since: number): ToldChanges {
    return this.#transactions.read(() => this.#archive.changesSince(since));
  }

  readTold(sessionId: string): ArchivedTold | undefined {
    const row = this.#sessions.row(sessionId);
    return row && this.#transactions.read(() => this.#archive.told(row));
  }

  readSegment(sessionId: string, first: number, mostBytes: number): ArchivedSegment | undefined {
    const row = this.#sessions.row(sessionId);
    return row && this.#archive.segment(row, first, mostBytes);
  }

  readSession(sessionId: string): StoredSession | undefined {
    const row = this.#sessions.row(sessionId);
    if (row === undefined) return undefined;
    const body = bodyOf(row);
    if (isWhollyBinned(body)) return undefined;
    return this.#transactions.read(() => {
      const damage: Said[] = [];
      const { profiles, madeBy } = body;
      const names = this.#names();
      const athletes = body.athletes.map((athlete) => ({
        ...athlete,
        name: names.get(athlete.athleteId) ?? athlete.name,
      }));
      const { unwatched, ...entries } = this.#sessions.entriesOf(row, damage);
      const session = viewOf(row, unwatched);
      const corrections = this.#sessions.correctionsOf(row, damage);
      for (const piece of this.#journal.pieces(row, 'check'))
        if ('damage' in piece) damage.push(piece.damage);
      return withoutParts(
        {
          session,
          athletes,
          profiles,
          madeBy,
          ...entries,
          alarms: alarmsWithEnds(entries.alarms, session),
          corrections,
          durationMs: this.#sessions.durationOf(row),
          damage,
        },
        binnedAthleteIds(body),
      );
    });
  }

  *readPackets(
    sessionId: string,
    options: { readonly skipDamaged?: boolean } = {},
  ): Generator<StoredPacket, void, undefined> {
    const isShown = this.#shownPackets(sessionId);
    for (const piece of this.#readable(sessionId, options)) {
      const packets = 'chunk' in piece ? packetsOf(piece.chunk) : piece.packets;
      if (isShown === undefined) yield* packets;
      else for (const packet of packets) if (isShown(packet)) yield packet;
    }
  }

  *readPacketColumns(
    sessionId: string,
    options: { readonly skipDamaged?: boolean } = {},
  ): Generator<readonly PacketColumns[], void, undefined> {
    const isShown = this.#shownPackets(sessionId);
    for (const piece of this.#readable(sessionId, options)) {
      if (isShown === undefined)
        yield 'chunk' in piece ? piece.chunk.streams : columnsOfPackets(piece.packets);
      else {
        const packets = 'chunk' in piece ? [...packetsOf(piece.chunk)] : piece.packets;
        yield columnsOfPackets(packets.filter(isShown));
      }
    }
  }

  titleSession(sessionId: string, title: string): void {
    const row = this.#sessions.existing(sessionId);
    this.#transactions.write(() =>
      this.#sessions.saveWithin({ ...row, body: textOfBody({ ...bodyOf(row), title }) }),
    );
  }

  nameLeaders(sessionId: string, leaders: readonly SessionLeader[]): void {
    const row = this.#sessions.existing(sessionId);
    const { leaders: _before, ...body } = bodyOf(row);
    const named = { ...body, ...(leaders.length > 0 && { leaders: [...leaders] }) };
    this.#transactions.write(() => this.#sessions.saveWithin({ ...row, body: textOfBody(named) }));
    // The name that stood there before may have been somebody's wish to have gone.
    this.#transactions.scrub();
  }

  reassignPart(sessionId: string, athleteId: string, to: TakingOver): void {
    const row = this.#sessions.existing(sessionId);
    if (row.status === 'recording') throw new HubError('data.refused', said('data.sessionRecorded'));
    const isIn = (id: string): boolean => bodyOf(row).athletes.some((each) => each.athleteId === id);
    if (!isIn(athleteId) || isIn(to.athleteId))
      throw new HubError('data.refused', said('data.noSuchSession', { sessionId }));
    this.#transactions.write(() => {
      this.#sessions.reassignWithin(row, athleteId, to);
      this.#summaries.removeWithin(row.session_no, athleteId);
    });
  }

  binRecording(sessionId: string, athleteId: string | null, atWallMs: WallMs): void {
    this.#bin.put(sessionId, athleteId, atWallMs);
  }

  unbinRecording(sessionId: string, athleteId: string | null): void {
    this.#bin.takeOut(sessionId, athleteId);
  }

  listBinned(): readonly BinnedRecording[] {
    const names = this.#names();
    return this.#transactions.read(() => this.#bin.list((athleteId) => names.get(athleteId)));
  }

  deletePart(sessionId: string, athleteId: string): void {
    const row = this.#sessions.existing(sessionId);
    if (row.status === 'recording') throw new HubError('data.refused', said('data.sessionRecorded'));
    this.#transactions.write(() => {
      if (bodyOf(row).athletes.length === 1) this.#sessions.removeWithin(row);
      else this.#eraseFrom(row, athleteId);
      this.#summaries.removeWithin(row.session_no, athleteId);
    });
    this.#transactions.scrub();
  }

  deleteSession(sessionId: string): void {
    const row = this.#sessions.existing(sessionId);
    if (row.status === 'recording') throw new HubError('data.refused', said('data.sessionRecorded'));
    this.#transactions.write(() => this.#sessions.removeWithin(row));
    this.#scrub();
  }

  async writeDatabaseCopy(path: string): Promise<void> {
    if (this.#path === null) throw new HubError('data.refused', said('data.inMemoryOnly'));
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

  /** What was deleted is in no copy of before an update either. */
  #scrub(): void {
    this.#transactions.scrub();
    const path = this.#path;
    if (path === null) return;
    for (const name of readdirSync(dirname(path)))
      if (name.startsWith(`${databaseFileName}${beforeMark}`)) rmSync(join(dirname(path), name));
  }

  /** Of those on the list, as they are called now. */
  #names(): ReadonlyMap<string, string> {
    return new Map(this.#athletes.list().map(({ athleteId, name }) => [athleteId, name]));
  }

  /** Undefined where all of them are. */
  #shownPackets(sessionId: string): ReturnType<typeof showsPacket> | undefined {
    const row = this.#sessions.row(sessionId);
    const hidden = row === undefined ? new Set<string>() : binnedAthleteIds(bodyOf(row));
    if (row === undefined || hidden.size === 0) return undefined;
    return showsPacket(this.#sessions.entriesOf(row, []).sensors, hidden);
  }

  #closeInterrupted(unsavedOf: (sessionId: string) => readonly StoredPacket[]): string[] {
    const open = this.#sessions.rows().filter((row) => row.status === 'recording');
    if (open.length === 0) return [];
    const interrupted = open.filter((row) => !isBeingImported(row));
    this.#transactions.write(() => {
      for (const row of open) if (isBeingImported(row)) this.#sessions.removeWithin(row);
      for (const row of interrupted)
        this.#sessions.saveWithin({
          ...row,
          status: 'interrupted',
          packet_count: this.#journal.closeInterrupted(row, unsavedOf(row.session_id)),
          ended_at_ms: this.#sessions.durationOf(row),
        });
    });
    return interrupted.map((row) => row.session_id);
  }

  *#readable(
    sessionId: string,
    options: { readonly skipDamaged?: boolean },
  ): Generator<ReadablePiece, void, undefined> {
    const row = this.#sessions.row(sessionId);
    if (row === undefined) return;
    for (const piece of this.#journal.pieces(row, 'decode')) {
      if (!('damage' in piece)) yield piece;
      else if (options.skipDamaged !== true)
        throw new HubError(
          'data.corrupt',
          said('data.restReadable', { damage: piece.damage, path: this.#path ?? '' }),
        );
    }
  }

  /** In a transaction. */
  #eraseFrom(row: SessionRow, athleteId: string): void {
    const isTheirs = this.#sessions.eraseWithin(row, athleteId);
    const packetCount = this.#journal.keepOnly(row, (packet) => !isTheirs(packet));
    this.#sessions.removeAthleteWithin(row, athleteId, packetCount);
  }
}

/** There as a whole when it is ended, and not before. */
const isBeingImported = (row: SessionRow): boolean =>
  row.status === 'recording' && bodyOf(row).source === 'import';

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
  if (!good) throw damaged(path, new Error('rowChecksum'));
}
