// Packets that the recorder's thread has not written yet, in a file in memory: written before anything is made of them, and
// there after a kill of the process, which takes memory and messages between threads. Linux; elsewhere there is no such file.

import { createHash } from 'node:crypto';
import {
  closeSync,
  constants,
  fstatSync,
  ftruncateSync,
  openSync,
  readFileSync,
  realpathSync,
  statfsSync,
  unlinkSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { crc32 } from 'node:zlib';
import type { StoredPacket } from '../base/ports/stored-session.ts';
import { ByteReader, MalformedBytes } from './byte-reader.ts';
import { ByteWriter } from './byte-writer.ts';
import { decodeBatch, encodeBatch } from './packet-batch.ts';

/** TMPFS_MAGIC of statfs(2). */
const tmpfsType = 0x01021994;
/** Emptied at this size once all in it is written. Our choice: some minutes of a course. */
const emptyAtBytes = 2 ** 18;
/** Length and CRC-32 of what follows. */
const headBytes = 8;

/**
 * Where the packets of a data folder are kept, or null where no folder in memory is there. Under systemd the unit's own runtime
 * folder, which a restart leaves; else /dev/shm.
 */
export function unsavedPathOf(
  directory: string,
  places: readonly (string | undefined)[] = [process.env['RUNTIME_DIRECTORY'], '/dev/shm'],
): string | null {
  const folder = places.find((place) => place !== undefined && isInMemory(place));
  if (folder === undefined) return null;
  const ofFolder = createHash('sha256').update(realpathSync(directory)).digest('hex').slice(0, 24);
  return join(folder, `slackwater-${ofFolder}.unsaved`);
}

function isInMemory(folder: string): boolean {
  try {
    return statfsSync(folder).type === tmpfsType;
  } catch {
    return false;
  }
}

export class UnsavedPackets {
  readonly #path: string;
  readonly #warn: (message: string, error?: unknown) => void;
  #file: number | undefined;
  #length = 0;

  /** Begins empty: what an earlier process left has been taken by then. */
  static open(path: string, warn: (message: string, error?: unknown) => void): UnsavedPackets | null {
    try {
      const file = openOwn(path, constants.O_CREAT);
      ftruncateSync(file);
      return new UnsavedPackets(path, file, warn);
    } catch (error) {
      warn('unsavedFile.notOpened', error);
      return null;
    }
  }

  private constructor(path: string, file: number, warn: (message: string, error?: unknown) => void) {
    this.#path = path;
    this.#file = file;
    this.#warn = warn;
  }

  /** It takes packets: what is added outlives a kill. */
  get works(): boolean {
    return this.#file !== undefined;
  }

  add(sessionId: string, packet: StoredPacket): void {
    if (this.#file === undefined) return;
    const record = recordOf(sessionId, packet);
    try {
      if (writeSync(this.#file, record, 0, record.length, this.#length) < record.length)
        throw new Error('ENOSPC');
      this.#length += record.length;
    } catch (error) {
      // Memory is full: monitoring and recording go on without.
      this.#warn('unsavedFile.givenUp', error);
      this.#drop();
    }
  }

  /** All that was added is written elsewhere; with `isOver` nothing of it may stay here either. */
  allSaved(isOver: boolean): void {
    if (this.#file === undefined || this.#length < (isOver ? 1 : emptyAtBytes)) return;
    ftruncateSync(this.#file);
    this.#length = 0;
  }

  /** With `isSaved` nothing is left; otherwise the next process finds what is there. */
  close(isSaved: boolean): void {
    if (isSaved) this.#drop();
    else if (this.#file !== undefined) closeSync(this.#file);
    this.#file = undefined;
  }

  #drop(): void {
    if (this.#file === undefined) return;
    closeSync(this.#file);
    this.#file = undefined;
    unlinkSync(this.#path);
  }
}

/** By session, in the order in which they came, up to the first that was not written whole. */
export function readUnsaved(path: string): ReadonlyMap<string, readonly StoredPacket[]> {
  const bySession = new Map<string, StoredPacket[]>();
  const bytes = bytesOf(path);
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  let at = 0;
  while (at + headBytes <= bytes.length) {
    const body = bytes.subarray(at + headBytes, at + headBytes + view.getUint32(at, true));
    const record = view.getUint32(at + 4, true) === crc32(body) ? readRecord(body) : undefined;
    if (record === undefined) break;
    const packets = bySession.get(record.sessionId) ?? [];
    packets.push(record.packet);
    bySession.set(record.sessionId, packets);
    at += headBytes + body.length;
  }
  return bySession;
}

/**
 * Those of `unsaved` that come after what is `stored`: the end of the one is the beginning of the other, as far as it was
 * written before the process ended. Not more than `unsaved.length` of the stored ones are looked at.
 */
export function afterStored(
  unsaved: readonly StoredPacket[],
  stored: readonly StoredPacket[],
): readonly StoredPacket[] {
  for (let count = Math.min(unsaved.length, stored.length); count > 0; count--) {
    const isSame = (packet: StoredPacket, i: number) => isEqual(packet, stored[stored.length - count + i]!);
    if (isEqual(unsaved[count - 1]!, stored.at(-1)!) && unsaved.slice(0, count).every(isSame))
      return unsaved.slice(count);
  }
  return unsaved;
}

function isEqual(a: StoredPacket, b: StoredPacket): boolean {
  return (
    Object.is(a.atMs, b.atMs) &&
    Object.is(a.wallAtMs, b.wallAtMs) &&
    a.sensorId === b.sensorId &&
    a.characteristic === b.characteristic &&
    Buffer.compare(a.bytes, b.bytes) === 0
  );
}

function recordOf(sessionId: string, packet: StoredPacket): Uint8Array {
  const writer = new ByteWriter();
  writer.bytes(new Uint8Array(headBytes));
  writer.text(sessionId);
  writer.block(encodeBatch([packet]));
  const record = writer.finish();
  const body = record.subarray(headBytes);
  const head = new DataView(record.buffer, record.byteOffset, headBytes);
  head.setUint32(0, body.length, true);
  head.setUint32(4, crc32(body), true);
  return record;
}

function readRecord(body: Uint8Array): { sessionId: string; packet: StoredPacket } | undefined {
  try {
    const reader = new ByteReader(body);
    const sessionId = reader.text();
    const batch = decodeBatch(reader.block());
    reader.end();
    const packet = batch.ok ? batch.value[0] : undefined;
    return packet && { sessionId, packet };
  } catch (cause) {
    if (cause instanceof MalformedBytes) return undefined;
    throw cause;
  }
}

/** Nobody else's, however it came under this name. Throws. */
function openOwn(path: string, flags: number): number {
  const file = openSync(path, constants.O_RDWR | constants.O_NOFOLLOW | flags, 0o600);
  const { uid, mode } = fstatSync(file);
  if (uid === process.getuid?.() && (mode & 0o077) === 0) return file;
  closeSync(file);
  throw new Error(`notOwn: ${path}`);
}

function bytesOf(path: string): Uint8Array {
  let file: number | undefined;
  try {
    file = openOwn(path, 0);
    return readFileSync(file);
  } catch {
    return new Uint8Array();
  } finally {
    if (file !== undefined) closeSync(file);
  }
}
