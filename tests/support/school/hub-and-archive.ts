// A hub's recordings in files and a school's archive in a real database, with what lies between them in this process, so that
// every fault can be put at a chosen moment: messages that come twice, crashes, files put back, cursors lost.

import { copyFileSync, existsSync, mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { StoredPacket } from '../../../hub/base/ports/stored-session.ts';
import { databaseFileName } from '../../../hub/recorder/data-directory.ts';
import { decodeChunk, packetsOf } from '../../../hub/recorder/packet-chunk.ts';
import { openSqliteStore, type SqliteStore } from '../../../hub/recorder/sqlite-store.ts';
import { type Archive, openArchive, type SentMessage } from '../../../hub/school/archive/archive.ts';
import { type AsideCopy, linesOfAside, listAside } from '../../../hub/school/archive/aside-copies.ts';
import { SendingCursor } from '../../../hub/school/publish/cursor.ts';
import { RecordingSender } from '../../../hub/school/publish/recording-sender.ts';
import { schoolVersion } from '../../../shared/school/school-version.ts';
import { subjects } from '../../../shared/school/subjects.ts';
import { monotonicMs, wallMs } from '../../../shared/units.ts';
import { writeSession } from '../written-sessions.ts';
import type { PostgresServer } from './servers.ts';

const who = { hub: 'quay', hubId: '0123456789abcdef01234567' };
const startedWallAtMs = Date.UTC(2026, 10, 30, 9);
const cursorFile = 'school-cursor.db';

/** The process of the hub ended where it was. */
class Crash extends Error {}

export class HubAndArchive {
  readonly #postgres: PostgresServer;
  readonly #folder: string;
  #store: SqliteStore;
  #cursor: SendingCursor;
  #sender: RecordingSender;
  #archive: Archive;
  #archiveUrl: string;
  /** Of the message server: sent and not yet in the archive. */
  #stream: SentMessage[] = [];
  readonly #everSent: SentMessage[] = [];
  #known = new Set<string>();
  #crashAfter = Number.POSITIVE_INFINITY;
  isSchoolThere = true;
  #generations = 0;
  #sessions = 0;
  #packets = 0;
  #nowMs = startedWallAtMs;

  private constructor(postgres: PostgresServer, folder: string, archiveUrl: string, archive: Archive) {
    this.#postgres = postgres;
    this.#folder = folder;
    this.#archiveUrl = archiveUrl;
    this.#archive = archive;
    mkdirSync(this.#path('now'), { recursive: true, mode: 0o700 });
    this.#store = this.#openStore();
    this.#cursor = this.#openCursor();
    this.#sender = this.#newSender();
  }

  static async open(postgres: PostgresServer, folder: string): Promise<HubAndArchive> {
    const url = await postgres.createDatabase();
    return new HubAndArchive(postgres, folder, url, await openArchive({ url }));
  }

  async close(): Promise<void> {
    this.#cursor.close();
    this.#store.close();
    await this.#archive.close();
  }

  /** The session that is being recorded, gone on with where it broke off, begun where there is none. */
  #recording(): string {
    const id = `s${this.#sessions}`;
    const told = this.#store.readTold(id);
    if (told?.status === 'interrupted')
      this.#store.resumeSession(id, {
        fromMs: monotonicMs(told.durationMs),
        toMs: monotonicMs(told.durationMs + 5),
        fromWallMs: wallMs(startedWallAtMs + told.durationMs),
        toWallMs: wallMs(startedWallAtMs + told.durationMs + 5),
        cause: 'hubDied',
      });
    if (told !== undefined && told.status !== 'ended') return id;
    this.#sessions += 1;
    const sessionId = `s${this.#sessions}`;
    if (this.#store.readTold(sessionId) !== undefined) return this.#recording();
    writeSession(this.#store, {
      sessionId,
      athleteId: 'ath-1',
      athleteName: 'One',
      startedWallAtMs: startedWallAtMs + this.#sessions * 3_600_000,
      title: '',
      holdsS: [],
      others: [{ athleteId: 'ath-2', athleteName: 'Two' }],
      ended: false,
    });
    this.#store.commit();
    return sessionId;
  }

  /** Packets never seen before, of everybody in the session. */
  record(count: number): void {
    const sessionId = this.#recording();
    // Of those who are in it: somebody may have been erased since it broke off.
    const worn = this.#store.readTold(sessionId)?.athleteIds ?? [];
    for (let i = 0; i < count; i++) {
      this.#packets += 1;
      this.#store.appendPacket(sessionId, {
        sensorId: `strap-${worn[this.#packets % worn.length]}`,
        characteristic: '2a37',
        bytes: Uint8Array.of(0, this.#packets & 255, (this.#packets >> 8) & 255),
        atMs: monotonicMs(100_000 + this.#packets * 10),
        wallAtMs: wallMs(startedWallAtMs + 100_000 + this.#packets * 10),
      });
    }
    this.#store.commit();
  }

  endSession(): void {
    const sessionId = `s${this.#sessions}`;
    if (this.#store.readTold(sessionId)?.status === 'recording')
      this.#store.endSession(sessionId, monotonicMs(100_000 + this.#packets * 10 + 1_000));
  }

  /** The newest session is called something else: news of what ended. */
  rename(title: string): void {
    this.#store.titleSession(`s${this.#sessions}`, title);
  }

  get archive(): Archive {
    return this.#archive;
  }

  erase(athleteId: string): void {
    this.endSession();
    this.#store.eraseAthlete(athleteId);
  }

  /** The hub's process is killed after so many messages, in whatever it does, and starts anew. */
  async sendUntilKilled(messages: number): Promise<void> {
    this.#crashAfter = messages;
    try {
      await this.send();
    } catch (error) {
      if (!(error instanceof Crash)) throw error;
    } finally {
      this.#crashAfter = Number.POSITIVE_INFINITY;
    }
    this.#restart(() => undefined);
  }

  async send(): Promise<void> {
    await this.#greet();
    for (let turn = 0; ; turn++) {
      if (turn === 1_000) throw new Error('it never ends');
      this.#nowMs += 1_000;
      if (await this.#sender.turn()) return;
    }
  }

  /** Out of the stream into the archive; some of it twice, as when an acknowledgement was lost. */
  async deliver(again: number): Promise<void> {
    const waiting = this.#stream;
    this.#stream = [];
    await this.#archive.keep(waiting);
    if (again > 0) await this.#archive.keep(this.#everSent.slice(-again));
  }

  backUpHub(): void {
    this.#copyFiles('now', 'backup');
  }

  /** The recordings as they were at the backup; `withCursor`: the whole data folder. */
  restoreHub(withCursor: boolean): void {
    if (!existsSync(this.#path('backup'))) return;
    this.#restart(() => this.#copyBack('backup', withCursor));
  }

  /** What was recorded and sent since is gone from the hub's disk, and other packets take its numbers. */
  async powerCut(lost: number, then: number): Promise<void> {
    this.record(1);
    this.#copyFiles('now', 'before');
    this.record(lost);
    await this.send();
    this.#restart(() => this.#copyBack('before', false));
    this.record(then);
  }

  loseCursor(): void {
    this.#restart(() => {
      for (const ending of ['', '-wal', '-shm'])
        rmSync(join(this.#path('now'), `${cursorFile}${ending}`), { force: true });
    });
  }

  damageCursor(at: number): void {
    this.#restart(() => {
      const path = join(this.#path('now'), cursorFile);
      const bytes = readFileSync(path);
      bytes.fill(0x5a, at % bytes.length, (at % bytes.length) + 700);
      writeFileSync(path, bytes);
    });
  }

  /** The archive's database as it was: a copy by the database itself. */
  async putArchiveBack(meanwhile: () => Promise<void>): Promise<void> {
    await this.#archive.close();
    const copy = await this.#postgres.createDatabase(this.#archiveUrl);
    this.#archive = await openArchive({ url: this.#archiveUrl });
    await meanwhile();
    await this.#archive.close();
    this.#archiveUrl = copy;
    this.#archive = await openArchive({ url: copy });
  }

  moveClock(byMs: number): void {
    this.#nowMs += byMs;
  }

  /** Until nothing is left to send: both sides are there, nothing fails any more. */
  async settle(): Promise<void> {
    this.endSession();
    this.isSchoolThere = true;
    for (let round = 0; round < 6; round++) {
      await this.send();
      await this.deliver(0);
    }
  }

  /** Of the sessions that the hub has. */
  async both(): Promise<{ readonly hub: unknown; readonly archive: unknown }> {
    const hub: Record<string, unknown> = {};
    const archive: Record<string, unknown> = {};
    for (let n = 1; n <= this.#sessions; n++) {
      const sessionId = `s${n}`;
      const told = this.#store.readTold(sessionId);
      if (told === undefined) continue;
      const shown = (packets: Iterable<StoredPacket>): string[] =>
        [...packets].map(({ sensorId, bytes, atMs }) => `${sensorId} ${atMs} ${[...bytes].join('.')}`);
      hub[sessionId] = {
        status: told.status,
        athletes: told.athleteIds,
        packets: shown(this.#store.readPackets(sessionId)),
        ofOthers: 0,
      };
      const { rows } = await this.#archive.pool.query<{ status: string; athlete_ids: string[] }>(
        'SELECT status, athlete_ids FROM sessions WHERE session_id = $1',
        [sessionId],
      );
      const segments = await this.#archive.pool.query<{ body: Buffer }>(
        `SELECT segments.body FROM segments JOIN sessions USING (month, hub_id, session_id)
         WHERE session_id = $1 AND segments.generation = shown_generation ORDER BY first_packet`,
        [sessionId],
      );
      const packets = segments.rows.flatMap(({ body }) => {
        const chunk = decodeChunk(body);
        return chunk.ok ? [...packetsOf(chunk.value)] : [];
      });
      archive[sessionId] = {
        status: rows[0]?.status,
        athletes: rows[0]?.athlete_ids,
        packets: shown(packets),
        ofOthers: await this.#packetsOfOthers(sessionId, told.athleteIds),
      };
    }
    return { hub, archive };
  }

  /** Earlier copies as pages are told of them, with their packets as a file has them. */
  async aside(): Promise<readonly { readonly copy: AsideCopy; readonly packets: readonly string[] }[]> {
    const copies: { copy: AsideCopy; packets: string[] }[] = [];
    for (const copy of await listAside(this.#archive)) {
      let text = '';
      for await (const piece of linesOfAside(this.#archive, copy)) text += piece;
      const [, ...lines] = text.trimEnd().split('\n');
      copies.push({ copy, packets: lines.map((line) => JSON.parse(line).hex as string) });
    }
    return copies;
  }

  /** Generations in the archive, by what became of them; and the packets of somebody in any of them. */
  async generations(): Promise<Readonly<Record<string, number>>> {
    const { rows } = await this.#archive.pool.query<{ state: string; n: number }>(
      'SELECT state, count(*)::int AS n FROM coverage GROUP BY 1',
    );
    return Object.fromEntries(rows.map(({ state, n }) => [state, n]));
  }

  /** In any generation of a session: packets of who is not in it, as the hub has it. */
  async #packetsOfOthers(sessionId: string, athleteIds: readonly string[]): Promise<number> {
    const { rows } = await this.#archive.pool.query<{ body: Buffer }>(
      'SELECT body FROM segments WHERE session_id = $1',
      [sessionId],
    );
    const isOfNone = ({ sensorId }: StoredPacket): boolean => !athleteIds.some((id) => sensorId.endsWith(id));
    return rows.reduce((sum, { body }) => {
      const chunk = decodeChunk(body);
      return sum + (chunk.ok ? [...packetsOf(chunk.value)].filter(isOfNone).length : 0);
    }, 0);
  }

  async keepsPacketsOf(athleteId: string): Promise<boolean> {
    const { rows } = await this.#archive.pool.query<{ body: Buffer }>('SELECT body FROM segments');
    return rows.some(({ body }) => {
      const chunk = decodeChunk(body);
      return chunk.ok && [...packetsOf(chunk.value)].some(({ sensorId }) => sensorId.endsWith(athleteId));
    });
  }

  #path(name: string): string {
    return join(this.#folder, name);
  }

  #openStore(): SqliteStore {
    return openSqliteStore({ directory: this.#path('now'), sealAtBytes: 900 });
  }

  #openCursor(): SendingCursor {
    return new SendingCursor(
      join(this.#path('now'), cursorFile),
      { school: 'test', hub: 'quay' },
      () => undefined,
    );
  }

  #restart(meanwhile: () => void): void {
    this.#cursor.close();
    this.#store.close();
    meanwhile();
    this.#store = this.#openStore();
    this.#cursor = this.#openCursor();
    this.#sender = this.#newSender();
  }

  #copyFiles(from: string, to: string): void {
    this.#restart(() => {
      rmSync(this.#path(to), { recursive: true, force: true });
      mkdirSync(this.#path(to));
      for (const file of [databaseFileName, cursorFile])
        copyFileSync(join(this.#path(from), file), join(this.#path(to), file));
    });
  }

  #copyBack(from: string, withCursor: boolean): void {
    for (const file of withCursor ? [databaseFileName, cursorFile] : [databaseFileName]) {
      for (const ending of ['-wal', '-shm'])
        rmSync(join(this.#path('now'), `${file}${ending}`), { force: true });
      copyFileSync(join(this.#path(from), file), join(this.#path('now'), file));
    }
  }

  async #greet(): Promise<void> {
    if (!this.isSchoolThere) return;
    const sessionIds = this.#cursor.all().map(({ sessionId }) => sessionId);
    this.#sender.compare(await this.#archive.have('quay', sessionIds, this.#stream.length));
  }

  #newSender(): RecordingSender {
    const store = this.#store;
    return new RecordingSender({
      room: 'Quay hall',
      cursor: this.#cursor,
      wallNowMs: () => this.#nowMs,
      growEveryMs: 1,
      newGeneration: () => `g${++this.#generations}`,
      keep: async (kind, key, bytes) => {
        if (this.#crashAfter-- <= 0) throw new Crash();
        // As the server drops what it was sent a moment ago.
        if (this.#known.has(key)) return;
        this.#known.add(key);
        const message = { subject: subjects.kept('test', who, kind), version: String(schoolVersion), bytes };
        this.#stream.push(message);
        this.#everSent.push(message);
      },
      have: async (sessionIds) =>
        this.isSchoolThere ? this.#archive.have('quay', sessionIds, this.#stream.length) : undefined,
      sums: async (asked) => (this.isSchoolThere ? this.#archive.sums('quay', asked) : undefined),
      toldChanges: async (since) => store.toldChanges(since),
      readTold: async (sessionId) => store.readTold(sessionId),
      readSegment: async (...args) => store.readSegment(...args),
      readList: async () => ({ athletes: [], documents: [] }),
      heldAthleteIds: () => new Set(),
      segmentKept: () => undefined,
      setAside: (_sessionId, why) => {
        if (why !== undefined) throw why;
      },
    });
  }
}
