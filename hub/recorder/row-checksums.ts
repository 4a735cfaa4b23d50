// The CRC-32 that every row carries of its other columns, for the rows that migrations write too.

import { crc32 } from 'node:zlib';

export function checksumOf(columns: readonly (string | number | null)[]): number {
  return crc32(JSON.stringify(columns));
}

/** A row of `entries` without its number and its checksum. */
export interface EntryColumns {
  readonly session_no: number;
  readonly kind: string;
  readonly entry_key: string | null;
  readonly athlete_id: string | null;
  readonly at_ms: number;
  readonly withdrawn: number;
  readonly body: string;
}

export function entryChecksum(row: EntryColumns): number {
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
