// The archive as a store that pages read: recordings of all hubs in one list, athletes as the persons they are. Nothing of a
// recording is changed here; it is the hub's, and comes from there.

import * as z from 'zod/mini';
import { said } from '../../../shared/said.ts';
import { toldSchema } from '../../../shared/school/kept-messages.ts';
import type { Athlete, SessionView } from '../../../shared/views.ts';
import { HubError } from '../../base/hub-error.ts';
import type { DocumentKind, StoredDocument } from '../../base/ports/documents.ts';
import type { HubStore } from '../../base/ports/hub-store.ts';
import type {
  BinnedRecording,
  ListedPart,
  PacketColumns,
  StoredPacket,
  StoredSession,
  StoredSessionSummary,
} from '../../base/ports/stored-session.ts';
import { figuresOfSummary, figuresToldLive } from '../../recorder/hold-figures.ts';
import { columnsOfPackets, decodeChunk, type PacketChunk, packetsOf } from '../../recorder/packet-chunk.ts';
import { readAthlete } from '../../recorder/stored-shapes.ts';
import { StoreMirror } from '../../recorder/thread/store-mirror.ts';
import { unpackJson } from '../kept-bytes.ts';
import type { Archive } from './archive.ts';
import { type ArchivedSession, sessionOfTold } from './archived-session.ts';
import { hubOfSession, inSchoolIds, schoolSessionId } from './school-ids.ts';

/** Segments read from the database at a time. */
const segmentsPerRead = 8;
/** A page asks for the same recording often while it is looked at. */
const mostKeptSessions = 16;

interface AthleteRow {
  readonly hub_id: string;
  readonly athlete_id: string;
  readonly person_id: string;
  readonly name: string;
  readonly body: string;
  readonly is_listed: boolean;
}

interface SessionRow {
  readonly hub_id: string;
  readonly session_id: string;
  readonly view: string | null;
  readonly duration_ms: number;
  readonly hold_count: number;
  readonly longest_hold_ms: number | null;
  readonly lowest_percent: number | null;
  readonly revision: string;
  readonly changed: string;
}

/** What the list tells of athletes' parts beside the rows of sessions, by the school's ids of session and person. */
interface PartRows {
  readonly toldLive: ReadonlyMap<string, Parameters<typeof figuresToldLive>[0]>;
  readonly workedOut: ReadonlyMap<string, NonNullable<ListedPart['workedOut']>>;
}

const partKey = (sessionId: string, personId: string): string => `${sessionId} ${personId}`;

interface Listed {
  readonly summary: StoredSessionSummary;
  readonly revision: string;
  /** Another with every message of it that the archive took. */
  readonly changed: string;
}

const noParts: PartRows = { toldLive: new Map(), workedOut: new Map() };

const refuse = (): never => {
  throw new HubError('data.refused', said('school.changedAtHub'));
};

export class ArchiveStore implements HubStore {
  readonly interruptedSessionIds: readonly string[] = [];
  readonly notices = [];
  readonly #archive: Archive;
  #mirror = new StoreMirror({
    athletes: [],
    assignments: [],
    documents: [],
    notices: [],
    interruptedSessionIds: [],
  });
  readonly #persons = new Map<string, string>();
  readonly #names = new Map<string, string>();
  /** By the school's id. */
  readonly #listed = new Map<string, Listed>();
  #order: readonly StoredSessionSummary[] | undefined;
  #changed = '0';
  #peopleKey = '';
  readonly #kept = new Map<string, { readonly key: string; readonly read: ArchivedSession }>();
  #refreshing: Promise<boolean> | undefined;

  constructor(archive: Archive) {
    this.#archive = archive;
  }

  /** Reads what is new in the archive; answers whether people or their documents are. */
  refresh(): Promise<boolean> {
    this.#refreshing ??= this.#refresh().finally(() => {
      this.#refreshing = undefined;
    });
    return this.#refreshing;
  }

  listAthletes = () => this.#mirror.listAthletes();
  sensorAssignments = () => this.#mirror.sensorAssignments();
  listDocuments: StoreMirror['listDocuments'] = (kind, groupId) => this.#mirror.listDocuments(kind, groupId);
  readDocument: StoreMirror['readDocument'] = (kind, id) => this.#mirror.readDocument(kind, id);

  /** Who trains at one of these hubs. */
  personsAt(hubs: readonly string[]): readonly string[] {
    const persons = new Set<string>();
    for (const [place, personId] of this.#persons)
      if (hubs.includes(place.slice(0, place.indexOf(' ')))) persons.add(personId);
    return [...persons];
  }

  async listSessions(): Promise<readonly StoredSessionSummary[]> {
    this.#order ??= [...this.#listed.values()]
      .map(({ summary }) => summary)
      .sort((one, other) => other.session.startedWallAtMs - one.session.startedWallAtMs);
    return this.#order;
  }

  async readSession(sessionId: string): Promise<StoredSession | undefined> {
    return (await this.#read(sessionId))?.session;
  }

  async *readPackets(sessionId: string): AsyncGenerator<StoredPacket, void, undefined> {
    const { isShown } = await this.#existing(sessionId);
    for await (const chunk of this.#chunks(sessionId))
      for (const packet of packetsOf(chunk)) if (isShown(packet)) yield packet;
  }

  async *readPacketColumns(sessionId: string): AsyncGenerator<readonly PacketColumns[], void, undefined> {
    const { isShown } = await this.#existing(sessionId);
    for await (const chunk of this.#chunks(sessionId))
      yield columnsOfPackets([...packetsOf(chunk)].filter(isShown));
  }

  stateOf = (sessionId: string): string | undefined => this.#listed.get(sessionId)?.changed;

  async saveSummary(
    sessionId: string,
    athleteId: string,
    madeBy: string,
    body: unknown,
    madeOf = this.stateOf(sessionId),
  ): Promise<void> {
    const place = hubOfSession(sessionId);
    if (place === undefined) return;
    // The lock waits for news of the session that are being taken now: they are then seen, or take this away again.
    const { rowCount } = await this.#archive.pool.query(
      `WITH same AS (SELECT 1 FROM sessions WHERE hub_id = $5 AND session_id = $6 AND changed = $7 FOR SHARE)
       INSERT INTO summaries (session_id, athlete_id, made_by, body) SELECT $1, $2, $3, $4 FROM same
       ON CONFLICT (session_id, athlete_id) DO UPDATE SET made_by = excluded.made_by, body = excluded.body`,
      [sessionId, athleteId, madeBy, JSON.stringify(body), place.hub, place.sessionId, madeOf],
    );
    if (rowCount === 0) return;
    const listed = this.#listed.get(sessionId);
    const figures = figuresOfSummary(body);
    if (listed === undefined || figures === undefined) return;
    const parts = listed.summary.parts.map((part) =>
      part.athleteId === athleteId ? { ...part, workedOut: { madeBy, figures } } : part,
    );
    this.#listed.set(sessionId, { ...listed, summary: { ...listed.summary, parts } });
    this.#order = undefined;
  }

  listSummaries = (athleteId: string, madeBy: string) => this.#summaries(athleteId, madeBy, '=');
  listOtherSummaries = (athleteId: string, madeBy: string) => this.#summaries(athleteId, madeBy, '<>');

  async listBinned(): Promise<readonly BinnedRecording[]> {
    return [];
  }

  saveAthlete = refuse;
  removeAthlete = refuse;
  eraseAthlete = refuse;
  assignSensor = refuse;
  saveDocument = refuse;
  removeDocument = refuse;
  startSession = refuse;
  resumeSession = refuse;
  endSession = refuse;
  appendImported = refuse;
  appendPacket = refuse;
  saveUnwatched = refuse;
  saveAlive = refuse;
  saveSchedule = refuse;
  saveSessionSensor = refuse;
  addSessionAthlete = refuse;
  saveSessionChange = refuse;
  saveMark = refuse;
  saveHold = refuse;
  saveAlarm = refuse;
  saveSettingsChange = refuse;
  saveLinkEvent = refuse;
  addCorrection = refuse;
  titleSession = refuse;
  nameLeaders = refuse;
  reassignPart = refuse;
  binRecording = refuse;
  unbinRecording = refuse;
  deleteSession = refuse;
  deletePart = refuse;
  writeDatabaseCopy = refuse;
  /** Nothing is ever buffered here. */
  commit(): void {}
  close(): void {}

  async #refresh(): Promise<boolean> {
    const arePeopleNew = await this.#refreshPeople();
    const { rows } = await this.#archive.pool.query<SessionRow>(
      `SELECT hub_id, session_id, view, duration_ms, hold_count, longest_hold_ms, lowest_percent, revision, changed
       FROM sessions WHERE changed > $1 OR $2 ORDER BY changed`,
      [this.#changed, arePeopleNew],
    );
    const parts = rows.length === 0 ? noParts : await this.#partRows(rows, arePeopleNew);
    for (const row of rows) {
      this.#list(row, parts);
      if (BigInt(row.changed) > BigInt(this.#changed)) this.#changed = row.changed;
    }
    if (rows.length > 0) this.#order = undefined;
    return arePeopleNew;
  }

  /** Of these sessions, which are those that changed since, or all. */
  async #partRows(rows: readonly SessionRow[], areAll: boolean): Promise<PartRows> {
    const { pool } = this.#archive;
    const holds = await pool.query<{
      hub_id: string;
      session_id: string;
      athlete_id: string;
      count: number;
      longest_ms: number | null;
      lowest_percent: number | null;
    }>(
      `SELECT hub_id, session_id, athlete_id, count(*)::int AS count, max(length_ms) AS longest_ms,
         min(holds.lowest_percent) AS lowest_percent
       FROM holds JOIN sessions USING (month, hub_id, session_id)
       WHERE changed > $1 OR $2 GROUP BY hub_id, session_id, athlete_id`,
      [this.#changed, areAll],
    );
    const summaries = await pool.query<{
      session_id: string;
      athlete_id: string;
      made_by: string;
      figures: unknown;
    }>(
      `SELECT session_id, athlete_id, made_by, body::json -> 'figures' AS figures FROM summaries
       WHERE $2 OR session_id = ANY($1)`,
      [areAll ? [] : rows.map((row) => schoolSessionId(row.hub_id, row.session_id)), areAll],
    );
    return {
      toldLive: new Map(
        holds.rows.map((row) => [
          partKey(schoolSessionId(row.hub_id, row.session_id), this.personOf(row.hub_id, row.athlete_id)),
          row,
        ]),
      ),
      workedOut: new Map(
        summaries.rows.flatMap(({ session_id, athlete_id, made_by, figures: read }) => {
          const figures = figuresOfSummary({ figures: read });
          return figures === undefined
            ? []
            : [[partKey(session_id, athlete_id), { madeBy: made_by, figures }] as const];
        }),
      ),
    };
  }

  #list(row: SessionRow, parts: PartRows): void {
    const id = schoolSessionId(row.hub_id, row.session_id);
    if (row.view === null) {
      this.#listed.delete(id);
      return;
    }
    const ids = { hub: row.hub_id, personOf: (athleteId: string) => this.personOf(row.hub_id, athleteId) };
    // Views of before say nothing of who led.
    const view = { leaders: [], ...(JSON.parse(row.view) as Partial<SessionView>) } as SessionView;
    const session = inSchoolIds(view, ids);
    this.#listed.set(id, {
      revision: row.revision,
      changed: row.changed,
      summary: {
        session,
        athleteNames: session.athleteIds.map((personId) => this.#names.get(personId) ?? personId),
        durationMs: row.duration_ms,
        parts: session.athleteIds.map((personId) => ({
          athleteId: personId,
          toldLive: figuresToldLive(parts.toldLive.get(partKey(id, personId))),
          workedOut: parts.workedOut.get(partKey(id, personId)) ?? null,
        })),
        holdCount: row.hold_count,
        longestHoldMs: row.longest_hold_ms,
        lowestSpo2Percent: row.lowest_percent,
      },
    });
  }

  /** Athletes and documents are few beside recordings: read whole whenever something of them has changed. */
  async #refreshPeople(): Promise<boolean> {
    const { pool } = this.#archive;
    const stamp = await pool.query<{ key: string }>(
      `SELECT coalesce((SELECT string_agg(hub_id || list_revision, ' ' ORDER BY hub_id) FROM hubs), '')
         || ' ' || (SELECT count(*) FROM athletes) || ' ' || (SELECT count(*) FROM erased_recordings) || ' ' || (SELECT count(*) || ' ' || count(undone_at) FROM merges) AS key`,
    );
    const key = stamp.rows[0]?.key ?? '';
    if (key === this.#peopleKey) return false;
    const athletes = await pool.query<AthleteRow>('SELECT * FROM athletes ORDER BY hub_id, athlete_id');
    const documents = await pool.query<{
      hub_id: string;
      kind: string;
      document_id: string;
      group_id: string | null;
      athlete_id: string | null;
      body: string;
    }>('SELECT * FROM documents ORDER BY hub_id, kind, position');
    this.#persons.clear();
    this.#names.clear();
    // Recordings may have gone: all that are there are read anew.
    this.#listed.clear();
    this.#order = undefined;
    for (const sessionId of this.#kept.keys()) this.#kept.delete(sessionId);
    for (const { hub_id, athlete_id, person_id } of athletes.rows)
      this.#persons.set(`${hub_id} ${athlete_id}`, person_id);
    this.#mirror = new StoreMirror({
      athletes: this.#personsOf(athletes.rows),
      assignments: [],
      documents: documents.rows.map((row) => this.#documentOf(row)),
      notices: [],
      interruptedSessionIds: [],
    });
    this.#peopleKey = key;
    return true;
  }

  /** Under the name of whoever's id the person bears; one whom no hub lists any more is in recordings only. */
  #personsOf(rows: readonly AthleteRow[]): Athlete[] {
    const persons = new Map<string, Athlete>();
    for (const row of rows) {
      const isNamed = row.person_id === `${row.hub_id}.${row.athlete_id}`;
      if (isNamed || !this.#names.has(row.person_id)) this.#names.set(row.person_id, row.name);
      const read = readAthlete(JSON.parse(row.body));
      if (read === undefined || !row.is_listed) continue;
      if (isNamed || !persons.has(row.person_id))
        persons.set(row.person_id, { ...(read as Athlete), athleteId: row.person_id, name: row.name });
    }
    return [...persons.values()];
  }

  #documentOf(row: {
    hub_id: string;
    kind: string;
    document_id: string;
    group_id: string | null;
    athlete_id: string | null;
    body: string;
  }): StoredDocument {
    const ids = { hub: row.hub_id, personOf: (athleteId: string) => this.personOf(row.hub_id, athleteId) };
    const athleteId = row.athlete_id === null ? null : ids.personOf(row.athlete_id);
    const isOfSession = row.kind === 'sessionDetails' && row.group_id !== null;
    const groupId = isOfSession ? schoolSessionId(row.hub_id, row.group_id!) : row.group_id;
    return {
      kind: row.kind as DocumentKind,
      // As recordings/session-details.ts names them.
      documentId: isOfSession ? `${groupId} ${athleteId}` : row.document_id,
      groupId,
      athleteId,
      body: inSchoolIds(JSON.parse(row.body), ids),
    };
  }

  /** Who an athlete of a hub is at the school. */
  personOf(hub: string, athleteId: string): string {
    return this.#persons.get(`${hub} ${athleteId}`) ?? `${hub}.${athleteId}`;
  }

  #keep(sessionId: string, key: string, read: ArchivedSession): void {
    this.#kept.delete(sessionId);
    this.#kept.set(sessionId, { key, read });
    for (const oldest of this.#kept.keys()) {
      if (this.#kept.size <= mostKeptSessions) break;
      this.#kept.delete(oldest);
    }
  }

  async #existing(sessionId: string): Promise<ArchivedSession> {
    const read = await this.#read(sessionId);
    if (read === undefined) throw new HubError('data.refused', said('data.noSuchSession', { sessionId }));
    return read;
  }

  async #read(sessionId: string): Promise<ArchivedSession | undefined> {
    const place = hubOfSession(sessionId);
    const listed = this.#listed.get(sessionId);
    if (place === undefined || listed === undefined) return undefined;
    const key = `${listed.revision} ${this.#peopleKey}`;
    const known = this.#kept.get(sessionId);
    if (known?.key === key) return known.read;
    const { rows } = await this.#archive.pool.query<{ body: Buffer }>(
      `SELECT told.body FROM told JOIN sessions USING (month, hub_id, session_id)
       WHERE hub_id = $1 AND session_id = $2`,
      [place.hub, place.sessionId],
    );
    const told = z.safeParse(toldSchema, unpackJson(rows[0]?.body ?? new Uint8Array()));
    if (!told.success) return undefined;
    const own = sessionOfTold(told.data);
    const read = { isShown: own.isShown, session: this.#inSchoolIds(place.hub, own.session) };
    this.#keep(sessionId, key, read);
    return read;
  }

  #inSchoolIds(hub: string, own: StoredSession): StoredSession {
    const renamed = inSchoolIds(own, { hub, personOf: (id) => this.personOf(hub, id) });
    const athletes = renamed.athletes.map((each) => ({
      ...each,
      name: this.#names.get(each.athleteId) ?? each.name,
    }));
    // Profiles are of sensors and hold bytes; nothing in them is an id of ours.
    return { ...renamed, profiles: own.profiles, athletes };
  }

  async *#chunks(sessionId: string): AsyncGenerator<PacketChunk, void, undefined> {
    const place = hubOfSession(sessionId);
    if (place === undefined) return;
    for (let next = 0; ; ) {
      const { rows } = await this.#archive.pool.query<{ first_packet: string; body: Buffer }>(
        `SELECT first_packet, segments.body FROM segments JOIN sessions USING (month, hub_id, session_id)
         WHERE hub_id = $1 AND session_id = $2 AND segments.generation = shown_generation AND first_packet >= $3
         ORDER BY first_packet LIMIT $4`,
        [place.hub, place.sessionId, next, segmentsPerRead],
      );
      for (const row of rows) {
        const chunk = decodeChunk(row.body);
        // It was read and checked when it came: the database's disk lost it since.
        if (!chunk.ok) throw new HubError('data.corrupt', said('data.corrupt', { path: sessionId }));
        yield chunk.value;
        next = Number(row.first_packet) + 1;
      }
      if (rows.length < segmentsPerRead) return;
    }
  }

  async #summaries(
    athleteId: string,
    madeBy: string,
    operator: '=' | '<>',
  ): Promise<ReadonlyMap<string, unknown>> {
    const { rows } = await this.#archive.pool.query<{ session_id: string; body: string }>(
      `SELECT session_id, body FROM summaries WHERE athlete_id = $1 AND made_by ${operator} $2`,
      [athleteId, madeBy],
    );
    return new Map(rows.map((row) => [row.session_id, JSON.parse(row.body)]));
  }
}
