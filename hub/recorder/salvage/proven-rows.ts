// Which table a row found in a damaged file belongs to. Its checksum proves it; a row that no checksum proves is left out.

import { decodeBatch } from '../packet-batch.ts';
import { decodeChunk } from '../packet-chunk.ts';
import { checksumOf, type EntryColumns, entryChecksum } from '../row-checksums.ts';
import {
  type AssignmentRow,
  type AthleteRow,
  type CorrectionRow,
  correctionChecksum,
  type DocumentRow,
  documentChecksum,
  type PieceRow,
  pieceChecksum,
  type SessionRow,
  sessionChecksum,
} from '../rows.ts';
import { readAthlete } from '../stored-shapes.ts';
import type { Column, FoundRow } from './database-pages.ts';

export interface ProvenRows {
  readonly athletes: Map<number, AthleteRow>;
  readonly assignments: Map<number, AssignmentRow>;
  readonly sessions: Map<number, SessionRow>;
  readonly entries: Map<number, EntryColumns & { readonly checksum: number }>;
  readonly journal: Map<number, PieceRow>;
  readonly chunks: Map<number, PieceRow>;
  readonly documents: Map<number, DocumentRow>;
  readonly corrections: Map<number, CorrectionRow>;
  /** Rows that could be put together, but that their checksum does not prove. */
  unprovenCount: number;
}

export const noRows = (): ProvenRows => ({
  athletes: new Map(),
  assignments: new Map(),
  sessions: new Map(),
  entries: new Map(),
  journal: new Map(),
  chunks: new Map(),
  documents: new Map(),
  corrections: new Map(),
  unprovenCount: 0,
});

const text = (column: Column | undefined): string => (typeof column === 'string' ? column : '');
const number = (column: Column | undefined): number => (typeof column === 'number' ? column : Number.NaN);
const textOrNull = (column: Column | undefined): string | null =>
  typeof column === 'string' ? column : null;
const numberOrNull = (column: Column | undefined): number | null =>
  typeof column === 'number' ? column : null;

/** Puts a row into its table. Summaries are left out: they are worked out again. */
export function sortRow(into: ProvenRows, { rowId, columns }: FoundRow): void {
  const [first, ...rest] = columns;
  // The key is the row's number and stands in the record as NULL.
  if (first !== null) return;
  const kept =
    rest.length === 3
      ? sortSmall(into, rowId, rest)
      : rest.length === 7
        ? sortSession(into, rowId, rest)
        : rest.length === 8
          ? sortEntry(into, rowId, rest)
          : rest.length === 6
            ? rest[4] instanceof Uint8Array
              ? sortPiece(into, rowId, rest)
              : sortDocument(into, rowId, rest)
            : rest.length === 5
              ? sortCorrection(into, rowId, rest)
              : true;
  if (!kept) into.unprovenCount += 1;
}

function sortSmall(into: ProvenRows, rowId: number, columns: readonly Column[]): boolean {
  const [id, body] = [text(columns[0]), text(columns[1])];
  const checksum = number(columns[2]);
  if (checksum !== checksumOf([id, body])) return false;
  if (readAthlete(parsed(body)) !== undefined) into.athletes.set(rowId, { athlete_id: id, body, checksum });
  else into.assignments.set(rowId, { sensor_id: id, athlete_id: body, checksum });
  return true;
}

function sortSession(into: ProvenRows, rowId: number, columns: readonly Column[]): boolean {
  const row: SessionRow = {
    session_no: rowId,
    session_id: text(columns[0]),
    started_wall_at_ms: number(columns[1]),
    status: text(columns[2]) as SessionRow['status'],
    ended_at_ms: numberOrNull(columns[3]),
    packet_count: numberOrNull(columns[4]),
    body: text(columns[5]),
    checksum: number(columns[6]),
  };
  if (row.checksum !== sessionChecksum(row)) return false;
  into.sessions.set(rowId, row);
  return true;
}

function sortEntry(into: ProvenRows, rowId: number, columns: readonly Column[]): boolean {
  const row = {
    session_no: number(columns[0]),
    kind: text(columns[1]),
    entry_key: textOrNull(columns[2]),
    athlete_id: textOrNull(columns[3]),
    at_ms: number(columns[4]),
    withdrawn: number(columns[5]),
    body: text(columns[6]),
    checksum: number(columns[7]),
  };
  if (row.checksum !== entryChecksum(row)) return false;
  into.entries.set(rowId, row);
  return true;
}

function sortPiece(into: ProvenRows, rowId: number, columns: readonly Column[]): boolean {
  const [session_no, first_packet, packet_count, last_at_ms] = columns.slice(0, 4).map(number) as [
    number,
    number,
    number,
    number,
  ];
  const body = columns[4] as Uint8Array;
  const checksum = number(columns[5]);
  if (checksum !== pieceChecksum(session_no, first_packet, packet_count, last_at_ms, body)) return false;
  const row = { session_no, first_packet, packet_count, last_at_ms, body, checksum };
  const chunk = decodeChunk(body);
  if (chunk.ok && chunk.value.order.length === packet_count) into.chunks.set(rowId, { ...row, sealed: 1 });
  else {
    const batch = decodeBatch(body);
    if (!batch.ok || batch.value.length !== packet_count) return false;
    into.journal.set(rowId, { ...row, sealed: 0 });
  }
  return true;
}

function sortDocument(into: ProvenRows, rowId: number, columns: readonly Column[]): boolean {
  const row: DocumentRow = {
    kind: text(columns[0]) as DocumentRow['kind'],
    document_id: text(columns[1]),
    group_id: textOrNull(columns[2]),
    athlete_id: textOrNull(columns[3]),
    body: text(columns[4]),
    checksum: number(columns[5]),
  };
  if (row.checksum !== documentChecksum(row)) return false;
  into.documents.set(rowId, row);
  return true;
}

function sortCorrection(into: ProvenRows, rowId: number, columns: readonly Column[]): boolean {
  const row: CorrectionRow = {
    session_no: number(columns[0]),
    correction_id: text(columns[1]),
    athlete_id: text(columns[2]),
    body: text(columns[3]),
    checksum: number(columns[4]),
  };
  if (row.checksum !== correctionChecksum(row)) return false;
  into.corrections.set(rowId, row);
  return true;
}

function parsed(json: string): unknown {
  try {
    return JSON.parse(json);
  } catch {
    // An id is no JSON.
    return undefined;
  }
}
