// Sessions and what happened in them, as tables: heads, entries (sensors, marks, holds, alarms, settings, links, changes)
// and corrections.

import type { Database } from 'better-sqlite3';
import { type Said, said } from '../../shared/said.ts';
import type { MonotonicMs } from '../../shared/units.ts';
import type { Athlete, UnwatchedSpan } from '../../shared/views.ts';
import { HubError } from '../base/hub-error.ts';
import type { SessionStart } from '../base/ports/session-log.ts';
import type { StoredCorrection, StoredSession } from '../base/ports/stored-session.ts';
import type { AthleteHolds } from './hold-figures.ts';
import { entryUnnamed, headUnnamed, kindsThatName, type Unnamed } from './led-by.ts';
import { correctionReassigned, entryReassigned, headReassigned, type TakingOver } from './reassigned-part.ts';
import { entryChecksum } from './row-checksums.ts';
import {
  bodyOf,
  type CorrectionRow,
  correctionChecksum,
  type EntryKind,
  type EntryRow,
  type SessionBody,
  type SessionRow,
  sessionChecksum,
  textOfBody,
  type Unchecked,
} from './rows.ts';
import { schemaVersion } from './schema.ts';
import { wearerOf } from './sensor-wearers.ts';
import { type Entry, sensorEntry } from './session-entries.ts';
import { prepare } from './statements.ts';
import { readEntry } from './stored-shapes.ts';
import type { Transactions } from './transactions.ts';

type Entries = Pick<
  StoredSession,
  | 'sensors'
  | 'marks'
  | 'holds'
  | 'alarms'
  | 'settingsChanges'
  | 'linkEvents'
  | 'changes'
  | 'schedules'
  | 'alive'
> & { readonly unwatched: readonly UnwatchedSpan[] };

export class SessionTables {
  readonly #database: Database;
  readonly #transactions: Transactions;
  readonly #sql: ReturnType<typeof statementsOf>;
  readonly #hearers: ((sessionNo: number) => void)[] = [];

  constructor(database: Database, transactions: Transactions) {
    this.#database = database;
    this.#transactions = transactions;
    this.#sql = statementsOf(database);
  }

  /** The newest first. */
  rows(): readonly SessionRow[] {
    return this.#transactions.read(() => this.#sql.sessions.all());
  }

  row(sessionId: string): SessionRow | undefined {
    return this.#transactions.read(() => this.#sql.session.get(sessionId));
  }

  existing(sessionId: string): SessionRow {
    const row = this.row(sessionId);
    if (row === undefined) throw new HubError('data.refused', said('data.noSuchSession', { sessionId }));
    return row;
  }

  /** Called with the number of a session whenever something of it, but for packets, is written or taken away. */
  onChange(hear: (sessionNo: number) => void): void {
    this.#hearers.push(hear);
  }

  rowOf(sessionNo: number): SessionRow | undefined {
    return this.#transactions.read(() => this.#sql.sessionOf.get(sessionNo));
  }

  /** By session number, a row an athlete; of a few sessions, or with null of all. */
  holdFigures(of: readonly number[] | null): ReadonlyMap<number, readonly AthleteHolds[]> {
    const bySession = new Map<number, AthleteHolds[]>();
    const found =
      of === null
        ? this.#sql.holdFigures.all()
        : of.flatMap((sessionNo) => this.#sql.holdFiguresOf.all(sessionNo));
    for (const row of found) {
      const rows = bySession.get(row.session_no);
      if (rows === undefined) bySession.set(row.session_no, [row]);
      else rows.push(row);
    }
    return bySession;
  }

  /** By session number, in order of time; of a few sessions, or with null of all. */
  unwatched(of: readonly number[] | null): ReadonlyMap<number, readonly UnwatchedSpan[]> {
    const spans = new Map<number, UnwatchedSpan[]>();
    const found =
      of === null
        ? this.#sql.unwatched.all()
        : of.flatMap((sessionNo) => this.#sql.unwatchedOf.all(sessionNo));
    for (const entry of found) {
      const span =
        entry.checksum === entryChecksum(entry) ? readEntry('unwatched', JSON.parse(entry.body)) : undefined;
      if (span === undefined) continue;
      const known = spans.get(entry.session_no);
      if (known === undefined) spans.set(entry.session_no, [span]);
      else known.push(span);
    }
    return spans;
  }

  /** By session number, the time of the last thing written of it; of a few sessions, or with null of all. */
  lastAt(of: readonly number[] | null): ReadonlyMap<number, number> {
    if (of !== null)
      return new Map(
        of.map((sessionNo) => [sessionNo, this.#sql.lastAt.get({ session: sessionNo })?.last ?? 0]),
      );
    return new Map(this.#sql.allLastAt.all().map(({ session_no, last }) => [session_no, last ?? 0]));
  }

  durationOf(row: SessionRow): number {
    return Math.max(row.ended_at_ms ?? 0, this.#sql.lastAt.get({ session: row.session_no })?.last ?? 0);
  }

  /** Answers the number of the new session. */
  begin(start: SessionStart): number {
    if (this.row(start.sessionId) !== undefined)
      throw new HubError('data.refused', said('data.sessionThere', { sessionId: start.sessionId }));
    const body: SessionBody = {
      simulated: start.simulated,
      source: start.source,
      title: start.title,
      athletes: start.athletes.map(({ athlete }) => athlete),
      profiles: start.profiles ?? [],
      ...(start.madeBy !== undefined && { madeBy: start.madeBy }),
      ...((start.leaders ?? []).length > 0 && { leaders: [...start.leaders!] }),
    };
    let sessionNo = 0;
    this.#transactions.write(() => {
      sessionNo = this.#sql.nextSessionNo.get()?.next ?? 1;
      this.saveWithin({
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
          this.putEntryWithin(
            sessionNo,
            sensorEntry({ ...sensor, athleteId: athlete.athleteId, fromMs: 0 as MonotonicMs }),
          );
    });
    return sessionNo;
  }

  /** In a transaction of the caller's. */
  saveWithin(row: Unchecked<SessionRow>): void {
    this.#hear(row.session_no);
    this.#sql.saveSession.run({ ...row, checksum: sessionChecksum(row) });
  }

  /** Puts somebody into the session's head, where they are not in it. */
  addAthlete(sessionId: string, athlete: Athlete): void {
    const row = this.existing(sessionId);
    const body = bodyOf(row);
    if (body.athletes.some(({ athleteId }) => athleteId === athlete.athleteId)) return;
    this.#transactions.write(() =>
      this.saveWithin({ ...row, body: textOfBody({ ...body, athletes: [...body.athletes, athlete] }) }),
    );
  }

  /** In a transaction of the caller's; everything of the session goes with it. */
  removeWithin(row: SessionRow): void {
    this.#hear(row.session_no);
    this.#sql.removeSession.run(row.session_no);
  }

  /** In a transaction of the caller's that else changes nothing and would not be synced. */
  touchWithin(): void {
    // Writes the first page, whatever the tables hold.
    this.#database.pragma(`user_version = ${schemaVersion}`);
  }

  saveEntry(sessionId: string, entry: Entry): void {
    const row = this.existing(sessionId);
    this.#transactions.write(() => this.putEntryWithin(row.session_no, entry));
  }

  /** Those that match their checksum, in the order they were first saved. */
  wholeRowsOf(row: SessionRow): readonly EntryRow[] {
    return this.#sql.entries.all(row.session_no).filter((entry) => entry.checksum === entryChecksum(entry));
  }

  /** What fits no schema or checksum is left out and told in `damage`. */
  entriesOf(row: SessionRow, damage: Said[]): Entries {
    const entries: { [Kind in EntryKind]: NonNullable<ReturnType<typeof readEntry<Kind>>>[] } = {
      sensor: [],
      mark: [],
      hold: [],
      alarm: [],
      settings: [],
      link: [],
      change: [],
      schedule: [],
      unwatched: [],
      alive: [],
    };
    for (const entry of this.#sql.entries.all(row.session_no)) {
      const body =
        entry.checksum === entryChecksum(entry) ? readEntry(entry.kind, JSON.parse(entry.body)) : undefined;
      if (body === undefined) damage.push(said(`damage.${entry.kind}`));
      else (entries[entry.kind] as unknown[]).push(body);
    }
    return {
      sensors: entries.sensor,
      marks: entries.mark,
      holds: entries.hold,
      alarms: entries.alarm,
      settingsChanges: entries.settings,
      linkEvents: entries.link,
      changes: entries.change,
      schedules: entries.schedule,
      unwatched: entries.unwatched,
      alive: entries.alive.at(-1),
    };
  }

  addCorrection(
    sessionId: string,
    correction: StoredCorrection,
    alsoWithin: (row: SessionRow) => void,
  ): void {
    const session = this.existing(sessionId);
    const { session_no } = session;
    const { correctionId } = correction.step;
    const known = this.#transactions.read(() =>
      this.#sql.correction.get({ session: session_no, id: correctionId }),
    );
    if (known !== undefined)
      throw new HubError('data.refused', said('data.correctionThere', { correctionId }));
    this.#transactions.write(() => {
      this.addCorrectionWithin(session_no, correction);
      alsoWithin(session);
    });
  }

  /** In a transaction of the caller's. */
  addCorrectionWithin(sessionNo: number, correction: StoredCorrection): void {
    this.#hear(sessionNo);
    const row = {
      session_no: sessionNo,
      correction_id: correction.step.correctionId,
      athlete_id: correction.athleteId,
      body: JSON.stringify(correction),
    };
    this.#sql.addCorrection.run({ ...row, checksum: correctionChecksum(row) });
  }

  correctionsOf(row: SessionRow, damage: Said[]): readonly StoredCorrection[] {
    return this.#sql.corrections.all(row.session_no).flatMap((correction) => {
      if (correction.checksum === correctionChecksum(correction))
        return [JSON.parse(correction.body) as StoredCorrection];
      damage.push(said('damage.correction'));
      return [];
    });
  }

  /**
   * In a transaction of the caller's: takes an athlete's entries out, and answers whose each packet was. What cannot be
   * read any more goes too, since it may hold what is to be erased.
   */
  eraseWithin(row: SessionRow, athleteId: string): (packet: PacketPlace) => boolean {
    const isTheirs = this.#wornBy(row, athleteId);
    for (const entry of this.#sql.entries.all(row.session_no))
      if (this.#goesWith(entry, athleteId, isTheirs)) this.#sql.removeEntry.run(entry.entry_no);
    for (const correction of this.#sql.corrections.all(row.session_no))
      if (correction.athlete_id === athleteId || correction.checksum !== correctionChecksum(correction))
        this.#sql.removeCorrection.run({ session: row.session_no, id: correction.correction_id });
    return isTheirs;
  }

  /** In a transaction of the caller's: takes an athlete off the session's head. */
  removeAthleteWithin(row: SessionRow, athleteId: string, packetCount: number): void {
    const body = bodyOf(row);
    const athletes = body.athletes.filter((athlete) => athlete.athleteId !== athleteId);
    const { binned: before, ...rest } = body;
    const binned = before?.filter((each) => each.athleteId !== athleteId) ?? [];
    const kept: SessionBody = { ...rest, athletes, ...(binned.length > 0 && { binned }) };
    this.saveWithin({ ...row, packet_count: packetCount, body: textOfBody(kept) });
  }

  /** In a transaction of the caller's. */
  renameWithin(athleteId: string, name: string): void {
    for (const row of this.rows()) {
      const body = bodyOf(row);
      if (!body.athletes.some((athlete) => athlete.athleteId === athleteId && athlete.name !== name))
        continue;
      const athletes = body.athletes.map((athlete) =>
        athlete.athleteId === athleteId ? { ...athlete, name } : athlete,
      );
      this.saveWithin({ ...row, body: textOfBody({ ...body, athletes }) });
    }
  }

  /** In a transaction of the caller's: takes names out of heads and out of who did what. */
  unnameWithin(who: Unnamed): void {
    for (const row of this.rows()) {
      const body = headUnnamed(bodyOf(row), who);
      if (body !== undefined) this.saveWithin({ ...row, body: textOfBody(body) });
    }
    for (const entry of this.#sql.naming.all()) {
      const body = entry.checksum === entryChecksum(entry) ? entryUnnamed(entry.body, who) : undefined;
      if (body === undefined) continue;
      this.#hear(entry.session_no);
      const changed = { ...entry, body };
      this.#sql.replaceEntry.run({ ...changed, checksum: entryChecksum(changed) });
    }
  }

  /** In a transaction of the caller's: everything of one athlete becomes another's, who is not in the session. */
  reassignWithin(row: SessionRow, from: string, to: TakingOver): void {
    for (const entry of this.#sql.entries.all(row.session_no)) {
      const changed = entryReassigned(entry, from, to.athleteId);
      if (changed !== undefined) this.#sql.replaceEntry.run(changed);
    }
    for (const correction of this.#sql.corrections.all(row.session_no)) {
      const changed = correctionReassigned(correction, from, to.athleteId);
      if (changed !== undefined) this.#sql.replaceCorrection.run(changed);
    }
    this.saveWithin({ ...row, body: textOfBody(headReassigned(bodyOf(row), from, to)) });
  }

  #hear(sessionNo: number): void {
    for (const hear of this.#hearers) hear(sessionNo);
  }

  #wornBy(row: SessionRow, athleteId: string): (packet: PacketPlace) => boolean {
    const { sensors } = this.entriesOf(row, []);
    return ({ sensorId, atMs }) => wearerOf(sensors, sensorId, atMs) === athleteId;
  }

  #goesWith(entry: EntryRow, athleteId: string, isTheirs: (packet: PacketPlace) => boolean): boolean {
    if (entry.checksum !== entryChecksum(entry)) return true;
    if (entry.kind !== 'link') return entry.athlete_id === athleteId;
    const link = readEntry('link', JSON.parse(entry.body));
    return link === undefined || isTheirs(link);
  }

  /** In a transaction of the caller's. */
  putEntryWithin(sessionNo: number, { kind, key, athleteId, atMs, withdrawn = false, body }: Entry): void {
    const entry = {
      session_no: sessionNo,
      kind,
      entry_key: key,
      athlete_id: athleteId,
      at_ms: atMs,
      withdrawn: withdrawn ? 1 : 0,
      body: JSON.stringify(body),
    };
    this.#hear(sessionNo);
    this.#sql.saveEntry.run({ ...entry, checksum: entryChecksum(entry) });
  }
}

interface PacketPlace {
  readonly sensorId: string;
  readonly atMs: number;
}

const holdFigures = `athlete_id, count(*) AS count,
  max(json_extract(body, '$.hold.end.atMs') - json_extract(body, '$.hold.start.atMs')) AS longest_ms,
  min(json_extract(body, '$.hold.lowestSpo2.value')) AS lowest_percent`;

type Named<Row> = Omit<Row, 'entry_no'>;

const statementsOf = (database: Database) => ({
  sessions: prepare(database)<[], SessionRow>(
    'SELECT * FROM sessions ORDER BY started_wall_at_ms DESC, session_no DESC',
  ),
  session: prepare(database)<[string], SessionRow>('SELECT * FROM sessions WHERE session_id = ?'),
  sessionOf: prepare(database)<[number], SessionRow>('SELECT * FROM sessions WHERE session_no = ?'),
  nextSessionNo: prepare(database)<[], { next: number }>(
    'SELECT coalesce(max(session_no), 0) + 1 AS next FROM sessions',
  ),
  saveSession: prepare(database)<SessionRow>(
    `INSERT INTO sessions VALUES (@session_no, @session_id, @started_wall_at_ms, @status, @ended_at_ms,
       @packet_count, @body, @checksum)
     ON CONFLICT (session_no) DO UPDATE SET status = excluded.status, ended_at_ms = excluded.ended_at_ms,
       packet_count = excluded.packet_count, body = excluded.body, checksum = excluded.checksum`,
  ),
  removeSession: prepare(database)<[number]>('DELETE FROM sessions WHERE session_no = ?'),
  entries: prepare(database)<[number], EntryRow>(
    'SELECT * FROM entries WHERE session_no = ? ORDER BY entry_no',
  ),
  unwatched: prepare(database)<[], EntryRow>(
    `SELECT * FROM entries WHERE kind = 'unwatched' ORDER BY session_no, at_ms`,
  ),
  naming: prepare(database)<[], EntryRow>(
    `SELECT * FROM entries WHERE kind IN (${kindsThatName.map((kind) => `'${kind}'`).join(', ')})`,
  ),
  saveEntry: prepare(database)<Named<EntryRow>>(
    `INSERT INTO entries (session_no, kind, entry_key, athlete_id, at_ms, withdrawn, body, checksum)
     VALUES (@session_no, @kind, @entry_key, @athlete_id, @at_ms, @withdrawn, @body, @checksum)
     ON CONFLICT (session_no, kind, entry_key) DO UPDATE SET athlete_id = excluded.athlete_id,
       at_ms = excluded.at_ms, withdrawn = excluded.withdrawn, body = excluded.body,
       checksum = excluded.checksum`,
  ),
  replaceEntry: prepare(database)<EntryRow>(
    `UPDATE entries SET entry_key = @entry_key, athlete_id = @athlete_id, body = @body, checksum = @checksum
     WHERE entry_no = @entry_no`,
  ),
  removeEntry: prepare(database)<[number]>('DELETE FROM entries WHERE entry_no = ?'),
  corrections: prepare(database)<[number], CorrectionRow>(
    `SELECT session_no, correction_id, athlete_id, body, checksum FROM corrections
     WHERE session_no = ? ORDER BY correction_no`,
  ),
  correction: prepare(database)<{ session: number; id: string }, { correction_no: number }>(
    'SELECT correction_no FROM corrections WHERE session_no = @session AND correction_id = @id',
  ),
  addCorrection: prepare(database)<CorrectionRow>(
    `INSERT INTO corrections (session_no, correction_id, athlete_id, body, checksum)
     VALUES (@session_no, @correction_id, @athlete_id, @body, @checksum)`,
  ),
  replaceCorrection: prepare(database)<CorrectionRow>(
    `UPDATE corrections SET athlete_id = @athlete_id, body = @body, checksum = @checksum
     WHERE session_no = @session_no AND correction_id = @correction_id`,
  ),
  removeCorrection: prepare(database)<{ session: number; id: string }>(
    'DELETE FROM corrections WHERE session_no = @session AND correction_id = @id',
  ),
  holdFigures: prepare(database)<[], AthleteHolds>(
    `SELECT session_no, ${holdFigures}
     FROM entries WHERE kind = 'hold' AND withdrawn = 0 AND json_valid(body)
     GROUP BY session_no, athlete_id`,
  ),
  holdFiguresOf: prepare(database)<[number], AthleteHolds>(
    `SELECT session_no, ${holdFigures}
     FROM entries WHERE session_no = ? AND kind = 'hold' AND withdrawn = 0 AND json_valid(body)
     GROUP BY session_no, athlete_id`,
  ),
  unwatchedOf: prepare(database)<[number], EntryRow>(
    `SELECT * FROM entries WHERE session_no = ? AND kind = 'unwatched' ORDER BY at_ms`,
  ),
  allLastAt: prepare(database)<[], { session_no: number; last: number | null }>(
    `SELECT session_no, max(last) AS last FROM (
       SELECT session_no, max(at_ms) AS last FROM entries GROUP BY session_no
       UNION ALL SELECT session_no, max(last_at_ms) FROM journal GROUP BY session_no
       UNION ALL SELECT session_no, max(last_at_ms) FROM chunks GROUP BY session_no) GROUP BY session_no`,
  ),
  lastAt: prepare(database)<{ session: number }, { last: number | null }>(
    `SELECT max(last) AS last FROM (
       SELECT max(at_ms) AS last FROM entries WHERE session_no = @session
       UNION ALL SELECT max(last_at_ms) FROM journal WHERE session_no = @session
       UNION ALL SELECT max(last_at_ms) FROM chunks WHERE session_no = @session)`,
  ),
});
