// What checksums prove of a damaged archive, as a new one. The damaged file is only read.

import { existsSync } from 'node:fs';
import { join } from 'node:path';
import SqliteDatabase, { type Database } from 'better-sqlite3';
import { percent } from '../../../shared/units.ts';
import { HubError, told } from '../../base/hub-error.ts';
import { databaseFileName, prepareDataDirectory } from '../data-directory.ts';
import { databaseFault } from '../database-fault.ts';
import { decodeBatch } from '../packet-batch.ts';
import { decodeChunk, packetsOf } from '../packet-chunk.ts';
import {
  bodyOf,
  type PieceRow,
  type SessionBody,
  type SessionRow,
  sessionChecksum,
  textOfBody,
} from '../rows.ts';
import { applicationId, migrate, schemaVersion } from '../schema.ts';
import { type KeptAthlete, readAthlete } from '../stored-shapes.ts';
import { openDatabasePages } from './database-pages.ts';
import { noRows, type ProvenRows, sortRow } from './proven-rows.ts';

export interface Salvaged {
  readonly athleteCount: number;
  readonly documentCount: number;
  readonly sessionCount: number;
  /** Sessions whose head was lost: with the times and ids that their packets and rows still tell. */
  readonly headlessCount: number;
  readonly packetCount: number;
  /** Known from heads and gaps; of a session that was running or lost its head, what came last cannot be known. */
  readonly missingPacketCount: number;
  /** Marks, holds, alarms, settings, links and corrections. */
  readonly entryCount: number;
  readonly zeroedPageCount: number;
  readonly unprovenRowCount: number;
}

/** `all`: everything. `small`: athletes, sensors and documents only, to begin a fresh archive with. */
type Part = 'all' | 'small';

/** What can be proven to be in the file. Never throws for what it holds. */
export function provenRowsOf(path: string): {
  readonly rows: ProvenRows;
  readonly version: number;
  readonly zeroedPageCount: number;
} {
  const pages = openDatabasePages(path);
  try {
    const rows = noRows();
    for (const row of pages.rows()) sortRow(rows, row);
    const { schemaVersion: told } = pages;
    const version = told === undefined || told < 1 || told > schemaVersion ? schemaVersion : told;
    return { rows, version, zeroedPageCount: pages.zeroedCount() };
  } finally {
    pages.close();
  }
}

/**
 * Writes what can be proven to be in the database at `path` to a new archive in `directory`. Throws `data.refused` where
 * there is an archive already or nothing can be proven, and `data.*` for a folder or disk that does not take it.
 */
export function salvage(path: string, directory: string, part: Part = 'all'): Salvaged {
  const target = join(directory, databaseFileName);
  if (existsSync(target)) throw new HubError('data.refused', told(target));
  const { rows, version, zeroedPageCount } = provenRowsOf(path);
  prepareDataDirectory(directory);
  let database: Database | undefined;
  try {
    database = new SqliteDatabase(target);
    database.pragma('auto_vacuum = INCREMENTAL');
    database.pragma(`application_id = ${applicationId}`);
    migrate(database, version);
    const headless = part === 'all' ? addMissingHeads(rows) : 0;
    const packets = write(database, rows, version, part);
    migrate(database);
    database.pragma('journal_mode = WAL');
    return {
      athleteCount: rows.athletes.size,
      documentCount: rows.documents.size,
      sessionCount: part === 'all' ? rows.sessions.size : 0,
      headlessCount: headless,
      ...packets,
      entryCount: part === 'all' ? rows.entries.size + rows.corrections.size : 0,
      zeroedPageCount,
      unprovenRowCount: rows.unprovenCount,
    };
  } catch (cause) {
    throw databaseFault(cause, target);
  } finally {
    database?.close();
    // What SQLite made is for this user alone.
    if (existsSync(target)) prepareDataDirectory(directory);
  }
}

function write(
  database: Database,
  rows: ProvenRows,
  version: number,
  part: Part,
): { packetCount: number; missingPacketCount: number } {
  let packetCount = 0;
  let missingPacketCount = 0;
  const inserting = (table: string, columns: readonly string[]) =>
    database.prepare(
      `INSERT OR IGNORE INTO ${table} (${columns.join(', ')}) VALUES (${columns.map((name) => `@${name}`).join(', ')})`,
    );
  const put = (
    table: string,
    found: ReadonlyMap<number, object>,
    isKept: (row: never) => boolean = () => true,
  ) => {
    let insert: ReturnType<typeof inserting> | undefined;
    for (const [, row] of [...found].sort(([a], [b]) => a - b)) {
      if (!isKept(row as never)) continue;
      const { sealed: _sealed, ...columns } = row as { sealed?: number };
      insert ??= inserting(table, Object.keys(columns));
      insert.run(columns);
    }
  };
  database.transaction(() => {
    put('athletes', rows.athletes);
    const known = new Set([...rows.athletes.values()].map(({ athlete_id }) => athlete_id));
    put('assignments', rows.assignments, ({ athlete_id }: { athlete_id: string }) => known.has(athlete_id));
    if (version >= 2) put('documents', rows.documents);
    if (part === 'small') return;
    put('sessions', rows.sessions);
    put('entries', rows.entries);
    put('chunks', rows.chunks);
    const sealed = [...rows.chunks.values()];
    // A journal that was sealed while the damage was done must not stand beside its chunk.
    const isUnsealed = (row: PieceRow): boolean =>
      !sealed.some(
        (chunk) =>
          chunk.session_no === row.session_no &&
          chunk.first_packet <= row.first_packet &&
          row.first_packet < chunk.first_packet + chunk.packet_count,
      );
    const unsealed = new Map([...rows.journal].filter(([, row]) => isUnsealed(row)));
    put('journal', unsealed);
    if (version >= 3) put('corrections', rows.corrections);
    for (const { session_no, packet_count } of rows.sessions.values()) {
      const own = [...sealed, ...unsealed.values()].filter((row) => row.session_no === session_no);
      const count = own.reduce((sum, row) => sum + row.packet_count, 0);
      const last = own.reduce((most, row) => Math.max(most, row.first_packet + row.packet_count), 0);
      packetCount += count;
      missingPacketCount += Math.max(0, (packet_count ?? last) - count);
    }
  })();
  return { packetCount, missingPacketCount };
}

/** A session whose head is lost gets one from what its packets and rows tell; answers how many those are. */
function addMissingHeads(rows: ProvenRows): number {
  const pieces = [...rows.chunks.values(), ...rows.journal.values()];
  const entries = [...rows.entries.values()];
  const numbers = new Set([...pieces, ...entries, ...rows.corrections.values()].map((row) => row.session_no));
  const known = knownAthletes(rows);
  const othersSimulated = [...rows.sessions.values()].some((row) => bodyOf(row).simulated);
  let count = 0;
  for (const session_no of numbers) {
    if (rows.sessions.has(session_no)) continue;
    count += 1;
    const own = pieces.filter((row) => row.session_no === session_no);
    const theirs = entries.filter((row) => row.session_no === session_no);
    const athleteIds = [...new Set(theirs.flatMap((row) => row.athlete_id ?? []))];
    const simulated =
      athleteIds.length === 0
        ? othersSimulated
        : athleteIds.some((id) => known.get(id)?.simulated === true) || hasSimulatedSensor(theirs);
    const body: SessionBody = {
      simulated,
      source: 'live',
      title: `Salvaged ${session_no}`,
      athletes: athleteIds.map((id) => known.get(id) ?? unknownAthlete(id, simulated)),
    };
    const row: Omit<SessionRow, 'checksum'> = {
      session_no,
      session_id: `salvaged-${session_no}`,
      started_wall_at_ms: startedWallAtMs(own),
      status: 'interrupted',
      ended_at_ms: own.reduce((most, piece) => Math.max(most, piece.last_at_ms), 0),
      packet_count: null,
      body: textOfBody(body),
    };
    rows.sessions.set(session_no, { ...row, checksum: sessionChecksum(row) });
  }
  return count;
}

/** Those on the list, and those who stand in the head of another session. */
function knownAthletes(rows: ProvenRows): ReadonlyMap<string, KeptAthlete> {
  const inHeads = [...rows.sessions.values()].flatMap((row) => bodyOf(row).athletes);
  const listed = [...rows.athletes.values()].flatMap((row) => readAthlete(JSON.parse(row.body)) ?? []);
  return new Map([...inHeads, ...listed].map((athlete) => [athlete.athleteId, athlete]));
}

const hasSimulatedSensor = (entries: readonly { readonly kind: string; readonly body: string }[]): boolean =>
  entries.some(
    ({ kind, body }) =>
      kind === 'sensor' && (JSON.parse(body) as { readonly source?: string }).source === 'simulated',
  );

/** With the settings of nobody: that a floor stood here cannot be known, so it is the one that new athletes get. */
const unknownAthlete = (athleteId: string, simulated: boolean): KeptAthlete => ({
  athleteId,
  name: athleteId,
  simulated,
  settings: {
    floorSpo2Percent: percent(88),
    thresholdsPercent: [],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'off',
  },
});

/** When the session began, by its first packet that was saved; 0 where there is none. */
function startedWallAtMs(pieces: readonly PieceRow[]): number {
  const [earliest] = pieces.toSorted((a, b) => a.first_packet - b.first_packet);
  if (earliest === undefined) return 0;
  if (earliest.sealed === 1) {
    const chunk = decodeChunk(earliest.body);
    if (!chunk.ok) return 0;
    for (const { atMs, wallAtMs } of packetsOf(chunk.value)) return wallAtMs - atMs;
    return 0;
  }
  const batch = decodeBatch(earliest.body);
  const first = batch.ok ? batch.value[0] : undefined;
  return first === undefined ? 0 : first.wallAtMs - first.atMs;
}
