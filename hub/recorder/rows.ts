// The rows of the database as they are read and written: their columns, and the checksum that each of them carries.

import { crc32 } from 'node:zlib';
import type { MonotonicMs, WallMs } from '../../shared/units.ts';
import type { SessionView, UnwatchedSpan } from '../../shared/views.ts';
import type { SensorProfile } from '../../src/profiles/sensor-profile.ts';
import type { DocumentKind, StoredDocument } from '../base/ports/documents.ts';
import { checksumOf } from './row-checksums.ts';
import { readSessionHead, type SessionHead } from './stored-shapes.ts';

export interface SessionRow {
  readonly session_no: number;
  readonly session_id: string;
  readonly started_wall_at_ms: number;
  readonly status: SessionView['status'];
  readonly ended_at_ms: number | null;
  readonly packet_count: number | null;
  readonly body: string;
  readonly checksum: number;
}

export interface AthleteRow {
  readonly athlete_id: string;
  readonly body: string;
  readonly checksum: number;
}

export interface AssignmentRow {
  readonly sensor_id: string;
  readonly athlete_id: string;
  readonly checksum: number;
}

/** What of a session never changes in its life, but for its title, an erased athlete, those who come later, and what lies in the bin. */
export interface SessionBody extends SessionHead {
  /** Missing in sessions recorded before profiles were kept. */
  readonly profiles?: readonly SensorProfile[];
}

export interface DocumentRow {
  readonly kind: DocumentKind;
  readonly document_id: string;
  readonly group_id: string | null;
  readonly athlete_id: string | null;
  readonly body: string;
  readonly checksum: number;
}

export interface SummaryRow {
  readonly session_no: number;
  readonly athlete_id: string;
  readonly made_by: string;
  readonly body: string;
  readonly checksum: number;
}

export interface CorrectionRow {
  readonly session_no: number;
  readonly correction_id: string;
  readonly athlete_id: string;
  readonly body: string;
  readonly checksum: number;
}

export type EntryKind =
  | 'sensor'
  | 'mark'
  | 'hold'
  | 'alarm'
  | 'settings'
  | 'link'
  | 'change'
  | 'schedule'
  | 'unwatched'
  | 'alive';

export interface EntryRow {
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
export interface PieceRow {
  readonly session_no: number;
  readonly first_packet: number;
  readonly packet_count: number;
  readonly last_at_ms: number;
  readonly body: Uint8Array;
  readonly checksum: number;
  readonly sealed: number;
}

/** JSON knows no bytes: those of profiles stand as `{"hex": "d17e"}`. */
export const textOfBody = (body: SessionBody): string =>
  JSON.stringify(body, (_key, value: unknown) =>
    value instanceof Uint8Array ? { hex: Buffer.from(value).toString('hex') } : value,
  );

export function bodyOf(row: Pick<SessionRow, 'body'>): SessionBody {
  const body = JSON.parse(row.body, (_key, value: unknown) =>
    typeof value === 'object' && value !== null && 'hex' in value
      ? new Uint8Array(Buffer.from(String(value.hex), 'hex'))
      : value,
  ) as { readonly profiles?: readonly SensorProfile[] };
  const head = readSessionHead(body);
  return body.profiles === undefined ? head : { ...head, profiles: body.profiles };
}

/** `body` where it has been read already. */
export function viewOf(
  row: SessionRow,
  unwatched: readonly UnwatchedSpan[],
  body: SessionBody = bodyOf(row),
): SessionView {
  const { simulated, source, title, athletes, leaders = [] } = body;
  return {
    sessionId: row.session_id,
    startedWallAtMs: row.started_wall_at_ms as WallMs,
    endedAtMs: row.ended_at_ms as MonotonicMs | null,
    status: row.status,
    simulated,
    source,
    title,
    athleteIds: athletes.map((athlete) => athlete.athleteId),
    unwatched: [...unwatched],
    leaders,
  };
}

export function sessionChecksum(row: Omit<SessionRow, 'checksum'>): number {
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

export function documentChecksum(row: Omit<DocumentRow, 'checksum'>): number {
  return checksumOf([row.kind, row.document_id, row.group_id, row.athlete_id, row.body]);
}

/** Undefined for a row that does not match its checksum: opening has said how many those are. */
export function documentOf(row: DocumentRow): StoredDocument | undefined {
  if (row.checksum !== documentChecksum(row)) return undefined;
  return {
    kind: row.kind,
    documentId: row.document_id,
    groupId: row.group_id,
    athleteId: row.athlete_id,
    body: JSON.parse(row.body),
  };
}

export function summaryChecksum(row: Omit<SummaryRow, 'checksum'>): number {
  return checksumOf([row.session_no, row.athlete_id, row.made_by, row.body]);
}

export function correctionChecksum(row: Omit<CorrectionRow, 'checksum'>): number {
  return checksumOf([row.session_no, row.correction_id, row.athlete_id, row.body]);
}

export function pieceChecksum(
  sessionNo: number,
  first: number,
  count: number,
  lastAtMs: number,
  body: Uint8Array,
): number {
  return crc32(body, checksumOf([sessionNo, first, count, lastAtMs]));
}

/** A row without what is set by the database or made of its other columns. */
export type Unchecked<Row> = Omit<Row, 'checksum'>;
