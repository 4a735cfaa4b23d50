// The pages and rows of a damaged SQLite file, read without its help: every page that looks like rows of a table is read by
// itself, so that a damaged page costs what stands on it and not what it leads to.

import { closeSync, existsSync, fstatSync, openSync, readFileSync, readSync } from 'node:fs';
import { readWholeFrames } from '../write-ahead-log.ts';

/** Layout: https://www.sqlite.org/fileformat2.html */
const tableLeaf = 0x0d;
const headerBytes = 100;
const usualPageBytes = 4_096;

export type Column = number | string | Uint8Array | null;

export interface FoundRow {
  readonly rowId: number;
  readonly columns: readonly Column[];
}

export interface DatabasePages {
  readonly pageCount: number;
  /** Undefined where the header cannot be read. */
  readonly schemaVersion: number | undefined;
  /** Pages that hold nothing but zeros, though SQLite does not list them as free. */
  zeroedCount(): number;
  /** Every row of every table that can be put together, in no particular order. */
  rows(): Generator<FoundRow>;
  close(): void;
}

/** The file with the part of its log that SQLite would use. Throws what the file system throws. */
export function openDatabasePages(path: string): DatabasePages {
  const file = openSync(path, 'r');
  const header = Buffer.alloc(headerBytes);
  readSync(file, header, 0, headerBytes, 0);
  const isHeaderGood = header.toString('latin1', 0, 16) === 'SQLite format 3\0';
  const claimed = header.readUInt16BE(16) === 1 ? 65_536 : header.readUInt16BE(16);
  const isSizeGood = isHeaderGood && claimed >= 512 && (claimed & (claimed - 1)) === 0;
  const pageBytes = isSizeGood ? claimed : usualPageBytes;
  const logPath = `${path}-wal`;
  const frames = existsSync(logPath) ? readWholeFrames(readFileSync(logPath), pageBytes) : new Map();
  const pageCount = Math.max(Math.ceil(fstatSync(file).size / pageBytes), ...frames.keys(), 0);

  function page(number: number): Buffer | undefined {
    if (number < 1 || number > pageCount) return undefined;
    const logged = frames.get(number);
    if (logged !== undefined) return logged;
    const bytes = Buffer.alloc(pageBytes);
    readSync(file, bytes, 0, pageBytes, (number - 1) * pageBytes);
    return bytes;
  }

  function* rows(): Generator<FoundRow> {
    for (let number = 1; number <= pageCount; number++) {
      const bytes = page(number);
      if (bytes !== undefined) yield* rowsOfPage(bytes, number === 1 ? headerBytes : 0, page);
    }
  }

  return {
    pageCount,
    schemaVersion: isHeaderGood ? header.readUInt32BE(60) : undefined,
    zeroedCount() {
      let count = 0;
      for (let number = 1; number <= pageCount; number++)
        if (page(number)?.every((byte) => byte === 0) === true) count++;
      // What is deleted is overwritten with zeros: those are no loss.
      return isHeaderGood ? Math.max(0, count - header.readUInt32BE(36)) : count;
    },
    rows,
    close: () => closeSync(file),
  };
}

function* rowsOfPage(
  bytes: Buffer,
  start: number,
  page: (number: number) => Buffer | undefined,
): Generator<FoundRow> {
  if (bytes[start] !== tableLeaf) return;
  const cellCount = bytes.readUInt16BE(start + 3);
  if (start + 8 + 2 * cellCount > bytes.length) return;
  for (let i = 0; i < cellCount; i++) {
    const row = rowAt(bytes, bytes.readUInt16BE(start + 8 + 2 * i), page);
    if (row !== undefined) yield row;
  }
}

function rowAt(
  bytes: Buffer,
  at: number,
  page: (number: number) => Buffer | undefined,
): FoundRow | undefined {
  const size = varintAt(bytes, at);
  const rowId = size === undefined ? undefined : varintAt(bytes, size.next);
  if (size === undefined || rowId === undefined || size.value > 2 ** 31) return undefined;
  const payload = payloadAt(bytes, rowId.next, size.value, page);
  const columns = payload === undefined ? undefined : columnsOf(payload);
  return columns === undefined ? undefined : { rowId: rowId.value, columns };
}

/** The record of a cell, with what of it lies on other pages; undefined if a link of that chain is broken. */
function payloadAt(
  bytes: Buffer,
  at: number,
  size: number,
  page: (number: number) => Buffer | undefined,
): Buffer | undefined {
  const usable = bytes.length;
  const most = usable - 35;
  const least = Math.floor(((usable - 12) * 32) / 255) - 23;
  const fitting = least + ((size - least) % (usable - 4));
  const local = size <= most ? size : fitting <= most ? fitting : least;
  if (at + local > usable) return undefined;
  const parts = [bytes.subarray(at, at + local)];
  let missing = size - local;
  if (missing > 0 && at + local + 4 > usable) return undefined;
  let next = missing > 0 ? bytes.readUInt32BE(at + local) : 0;
  while (missing > 0) {
    const overflow = page(next);
    if (overflow === undefined) return undefined;
    parts.push(overflow.subarray(4, 4 + Math.min(missing, usable - 4)));
    missing -= usable - 4;
    next = overflow.readUInt32BE(0);
  }
  return Buffer.concat(parts);
}

/** Serial types: https://www.sqlite.org/fileformat2.html#record_format */
function columnsOf(payload: Buffer): readonly Column[] | undefined {
  const head = varintAt(payload, 0);
  if (head === undefined || head.value > payload.length) return undefined;
  const types: number[] = [];
  for (let at = head.next; at < head.value; ) {
    const type = varintAt(payload, at);
    if (type === undefined) return undefined;
    types.push(type.value);
    at = type.next;
  }
  const columns: Column[] = [];
  let at = head.value;
  for (const type of types) {
    const bytes = type >= 12 ? Math.floor((type - 12) / 2) : (fixedBytes[type] ?? -1);
    if (bytes < 0 || at + bytes > payload.length) return undefined;
    columns.push(columnAt(payload, at, type, bytes));
    at += bytes;
  }
  return columns;
}

const fixedBytes = [0, 1, 2, 3, 4, 6, 8, 8, 0, 0];

function columnAt(payload: Buffer, at: number, type: number, bytes: number): Column {
  if (type === 0) return null;
  if (type === 6) return Number(payload.readBigInt64BE(at));
  if (type === 7) return payload.readDoubleBE(at);
  if (type >= 8 && type < 12) return type - 8;
  if (type < 6) return payload.readIntBE(at, bytes);
  const own = payload.subarray(at, at + bytes);
  return type % 2 === 0 ? Uint8Array.from(own) : own.toString('utf8');
}

function varintAt(bytes: Buffer, at: number): { value: number; next: number } | undefined {
  let value = 0;
  for (let i = 0; i < 9; i++) {
    const byte = bytes[at + i];
    if (byte === undefined) return undefined;
    if (i === 8) return { value: value * 256 + byte, next: at + 9 };
    value = value * 128 + (byte & 0x7f);
    if (byte < 0x80) return { value, next: at + i + 1 };
  }
  return undefined;
}
