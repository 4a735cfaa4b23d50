// The packets of sessions: buffered, put into a journal at each commit, sealed into chunks once there is enough, and read
// back piece by piece round whatever is damaged.

import type { Database } from 'better-sqlite3';
import { type Said, said } from '../../shared/said.ts';
import { HubError } from '../base/hub-error.ts';
import type { SealedChunk } from '../base/ports/session-log.ts';
import type { StoredPacket } from '../base/ports/stored-session.ts';
import { decodeBatch, encodeBatch } from './packet-batch.ts';
import { decodeChunk, encodeChunk, isChunkOf, type PacketChunk, packetsOf } from './packet-chunk.ts';
import { type PieceRow, pieceChecksum, type SessionRow } from './rows.ts';
import { prepare } from './statements.ts';
import type { Transactions } from './transactions.ts';
import { afterStored } from './unsaved-packets.ts';

/** What a packet takes in the journal beside its bytes, about. */
const packetOverheadBytes = 20;

/** A session being recorded. `unsealed` packets are in the journal; `pending` ones only in memory. */
interface RecordedPackets {
  readonly sessionNo: number;
  /** Sealed at the next write, whatever its size. */
  ending: boolean;
  unsealed: StoredPacket[];
  unsealedBytes: number;
  pending: StoredPacket[];
  pendingBytes: number;
  /** Number of the first unsealed packet, counted from the session's first. */
  firstUnsealed: number;
}

/** Packets from `first` on that could be read, or a sentence that says why they could not. */
export type Piece =
  | { readonly first: number; readonly chunk: PacketChunk }
  | { readonly first: number; readonly packets: readonly StoredPacket[] }
  | { readonly first: number; readonly damage: Said };

export type ReadablePiece = Exclude<Piece, { damage: Said }>;

export class PacketJournal {
  readonly #transactions: Transactions;
  readonly #sealAtBytes: number;
  readonly #sql: ReturnType<typeof statementsOf>;
  readonly #recorded = new Map<string, RecordedPackets>();
  /** By number of the session: how often packets were taken out of it since this was opened. */
  readonly #rewrites = new Map<number, number>();

  constructor(database: Database, transactions: Transactions, sealAtBytes: number) {
    this.#transactions = transactions;
    this.#sealAtBytes = sealAtBytes;
    this.#sql = statementsOf(database);
    transactions.joinEach((settle) => {
      for (const recorded of this.#recorded.values()) this.#flush(recorded, settle);
    });
  }

  /** `packetCount`: so many of the session's packets are sealed already, where it is taken up again. */
  begin(sessionId: string, sessionNo: number, packetCount = 0): void {
    this.#recorded.set(sessionId, {
      sessionNo,
      ending: false,
      unsealed: [],
      unsealedBytes: 0,
      pending: [],
      pendingBytes: 0,
      firstUnsealed: packetCount,
    });
  }

  /** Buffers a packet for the next write; its bytes are copied. */
  append(sessionId: string, packet: StoredPacket): void {
    const recorded = this.#of(sessionId);
    recorded.pending.push({ ...packet, bytes: new Uint8Array(packet.bytes) });
    recorded.pendingBytes += packet.bytes.length + packetOverheadBytes;
  }

  /** Chunks sealed elsewhere, and `alsoWithin`, in one transaction; they come after those of the calls before. */
  appendSealed(
    sessionId: string,
    chunks: readonly SealedChunk[],
    alsoWithin: (sessionNo: number) => void,
  ): void {
    const recorded = this.#of(sessionId);
    if (recorded.unsealed.length + recorded.pending.length > 0)
      throw new HubError('data.refused', said('data.noImportedParts', { sessionId }));
    const { sessionNo } = recorded;
    let first = recorded.firstUnsealed;
    this.#transactions.write(() => {
      for (const { packetCount, lastAtMs, body } of chunks) {
        const checksum = pieceChecksum(sessionNo, first, packetCount, lastAtMs, body);
        this.#sql.addChunk.run(sessionNo, first, packetCount, lastAtMs, body, checksum);
        first += packetCount;
      }
      alsoWithin(sessionNo);
    }, 'process');
    recorded.firstUnsealed = first;
  }

  /** Seals all of a session's packets with `write`, which is told how many they are; it stays open if that fails. */
  end(sessionId: string, write: (packetCount: number) => void): void {
    const recorded = this.#of(sessionId);
    recorded.ending = true;
    try {
      write(recorded.firstUnsealed + recorded.unsealed.length + recorded.pending.length);
    } catch (error) {
      recorded.ending = false;
      throw error;
    }
    this.#recorded.delete(sessionId);
  }

  get isIdle(): boolean {
    for (const { pending } of this.#recorded.values()) if (pending.length > 0) return false;
    return true;
  }

  /**
   * In a transaction: seals what a crash left of a session, and answers how many packets it has. Of `unsaved`, packets that were to
   * be written when it crashed, those that are not there yet are its last.
   */
  closeInterrupted(session: SessionRow, unsaved: readonly StoredPacket[] = []): number {
    let packetCount = 0;
    let first: number | undefined;
    const packets: StoredPacket[] = [];
    let whole = true;
    let lastPieces: ReadablePiece[] = [];
    for (const piece of this.pieces(session, 'decode')) {
      if ('damage' in piece) {
        whole = false;
        continue;
      }
      if ('packets' in piece) {
        first ??= piece.first;
        for (const packet of piece.packets) packets.push(packet);
      }
      packetCount = piece.first + countOf(piece);
      lastPieces = [
        ...lastPieces.filter((each) => each.first + countOf(each) > packetCount - unsaved.length),
        piece,
      ];
    }
    if (unsaved.length > 0) {
      const added = afterStored(unsaved, lastPieces.flatMap(packetsOfPiece).slice(-unsaved.length));
      if (added.length > 0) this.#addToJournal(session.session_no, packetCount, added);
      first ??= packetCount;
      for (const packet of added) packets.push(packet);
      packetCount += added.length;
    }
    // A damaged journal is left as it is: reading goes round it, and someone may still make sense of it.
    if (whole && packets.length > 0) this.#seal(session.session_no, first!, packets);
    return packetCount;
  }

  rewritesOf(sessionNo: number): number {
    return this.#rewrites.get(sessionNo) ?? 0;
  }

  /** In a transaction: keeps only these packets, without what is damaged; answers how many are left. */
  keepOnly(session: SessionRow, isKept: (packet: StoredPacket) => boolean): number {
    // Counted though the transaction may fail: that costs sending it anew.
    this.#rewrites.set(session.session_no, this.rewritesOf(session.session_no) + 1);
    const kept: StoredPacket[][] = [];
    for (const piece of this.pieces(session, 'decode')) {
      if ('damage' in piece) continue;
      kept.push(packetsOfPiece(piece).filter(isKept));
    }
    this.#sql.clearJournal.run(session.session_no);
    this.#sql.clearChunks.run(session.session_no);
    let packetCount = 0;
    for (const packets of kept) {
      if (packets.length > 0 && !this.#seal(session.session_no, packetCount, packets))
        throw new HubError('data.failed', said('data.notRewritten'));
      packetCount += packets.length;
    }
    return packetCount;
  }

  /**
   * A session's journal and chunks in the order of their packets, one query a piece: between two of them the
   * store may be written to, and the journal be sealed. `check` looks at checksums and yields damage only. Packets before
   * number `from` are passed over.
   */
  *pieces(session: SessionRow, depth: 'decode' | 'check', from = 0): Generator<Piece, void, undefined> {
    const key = { session: session.session_no };
    let next = from;
    for (;;) {
      const row = this.#transactions.read(
        () =>
          this.#sql.pieceAt.get({ ...key, packet: next }) ??
          this.#sql.pieceAfter.get({ ...key, packet: next }),
      );
      if (row === undefined) break;
      if (row.first_packet > next)
        yield { first: next, damage: said('damage.packetsMissing', { count: row.first_packet - next }) };
      const piece = readPiece(row, Math.max(next, row.first_packet), depth);
      if (piece !== undefined) yield piece;
      // What a damaged row says of its place may be wrong: go on where the next row begins.
      const here = Math.max(next, row.first_packet);
      const following =
        piece !== undefined && 'damage' in piece
          ? (this.#transactions.read(() => this.#sql.pieceAfter.get({ ...key, packet: here }))
              ?.first_packet ?? Number.MAX_SAFE_INTEGER)
          : row.first_packet + row.packet_count;
      // A damaged index can lead back to the same row for ever.
      if (following <= next) {
        yield { first: next, damage: said('damage.restMissing') };
        return;
      }
      next = following;
    }
    if (session.packet_count !== null && next < session.packet_count)
      yield { first: next, damage: said('damage.packetsMissing', { count: session.packet_count - next }) };
  }

  /** Pending packets into the journal; or, with what the journal holds, into chunks once there is enough. */
  #flush(live: RecordedPackets, settle: (() => void)[]): void {
    const { pending, pendingBytes, sessionNo } = live;
    const first = live.firstUnsealed + live.unsealed.length;
    const enough = live.unsealedBytes + pendingBytes >= this.#sealAtBytes;
    if ((enough || live.ending) && this.#seal(sessionNo, live.firstUnsealed, live.unsealed.concat(pending))) {
      settle.push(() => {
        live.firstUnsealed = first + pending.length;
        live.unsealed = [];
        live.unsealedBytes = 0;
        live.pending = [];
        live.pendingBytes = 0;
      });
      return;
    }
    if (pending.length === 0) return;
    this.#addToJournal(sessionNo, first, pending);
    settle.push(() => {
      for (const packet of pending) live.unsealed.push(packet);
      live.unsealedBytes += pendingBytes;
      live.pending = [];
      live.pendingBytes = 0;
    });
  }

  #addToJournal(sessionNo: number, first: number, packets: readonly StoredPacket[]): void {
    const body = encodeBatch(packets);
    const lastAtMs = latestOf(packets);
    const checksum = pieceChecksum(sessionNo, first, packets.length, lastAtMs, body);
    this.#sql.addToJournal.run(sessionNo, first, packets.length, lastAtMs, body, checksum);
  }

  /**
   * Moves a session's journal into chunks, after reading each chunk back. Answers false, with nothing changed, if
   * what was read back differs: the journal then stays, and stays readable.
   */
  #seal(sessionNo: number, firstUnsealed: number, packets: readonly StoredPacket[]): boolean {
    const chunks: { first: number; count: number; lastAtMs: number; body: Uint8Array }[] = [];
    let start = 0;
    while (start < packets.length) {
      let end = start;
      for (let bytes = 0; end < packets.length && bytes < 2 * this.#sealAtBytes; end++)
        bytes += packets[end]!.bytes.length + packetOverheadBytes;
      const part = packets.slice(start, end);
      const body = encodeChunk(part);
      if (!isChunkOf(body, part)) return false;
      chunks.push({ first: firstUnsealed + start, count: part.length, lastAtMs: latestOf(part), body });
      start = end;
    }
    for (const { first, count, lastAtMs, body } of chunks)
      this.#sql.addChunk.run(
        sessionNo,
        first,
        count,
        lastAtMs,
        body,
        pieceChecksum(sessionNo, first, count, lastAtMs, body),
      );
    this.#sql.clearJournal.run(sessionNo);
    return true;
  }

  #of(sessionId: string): RecordedPackets {
    const recorded = this.#recorded.get(sessionId);
    if (recorded === undefined) throw new HubError('data.refused', said('data.notRecording', { sessionId }));
    return recorded;
  }
}

const countOf = (piece: ReadablePiece): number =>
  'packets' in piece ? piece.packets.length : piece.chunk.order.length;

const packetsOfPiece = (piece: ReadablePiece): readonly StoredPacket[] =>
  'packets' in piece ? piece.packets : [...packetsOf(piece.chunk)];

/** The packets of a row from number `from` on; undefined if there is nothing to say. */
function readPiece(row: PieceRow, from: number, depth: 'decode' | 'check'): Piece | undefined {
  const { session_no, first_packet, packet_count, last_at_ms, body } = row;
  const damage = said('damage.packetsDamaged', { count: packet_count });
  if (row.checksum !== pieceChecksum(session_no, first_packet, packet_count, last_at_ms, body))
    return { first: from, damage };
  if (depth === 'check') return undefined;
  const passed = from - first_packet;
  if (row.sealed === 0) {
    const batch = decodeBatch(body);
    if (!batch.ok || batch.value.length !== packet_count) return { first: from, damage };
    return { first: from, packets: batch.value.slice(passed) };
  }
  const chunk = decodeChunk(body);
  if (!chunk.ok || chunk.value.order.length !== packet_count) return { first: from, damage };
  if (passed === 0) return { first: from, chunk: chunk.value };
  return { first: from, packets: [...packetsOf(chunk.value)].slice(passed) };
}

function latestOf(packets: readonly StoredPacket[]): number {
  let latest = 0;
  for (const packet of packets)
    if (packet.atMs > latest && packet.atMs < Number.POSITIVE_INFINITY) latest = packet.atMs;
  return latest;
}

const pieceColumns = 'session_no, first_packet, packet_count, last_at_ms, body, checksum';

const statementsOf = (database: Database) => ({
  addToJournal: prepare(database)<[number, number, number, number, Uint8Array, number]>(
    `INSERT INTO journal (${pieceColumns}) VALUES (?, ?, ?, ?, ?, ?)`,
  ),
  addChunk: prepare(database)<[number, number, number, number, Uint8Array, number]>(
    `INSERT INTO chunks (${pieceColumns}) VALUES (?, ?, ?, ?, ?, ?)`,
  ),
  clearJournal: prepare(database)<[number]>('DELETE FROM journal WHERE session_no = ?'),
  clearChunks: prepare(database)<[number]>('DELETE FROM chunks WHERE session_no = ?'),
  pieceAt: prepare(database)<{ session: number; packet: number }, PieceRow>(
    `SELECT * FROM (SELECT ${pieceColumns}, 1 AS sealed FROM chunks WHERE session_no = @session
         AND first_packet <= @packet ORDER BY first_packet DESC LIMIT 1)
       WHERE first_packet + packet_count > @packet
     UNION ALL
     SELECT * FROM (SELECT ${pieceColumns}, 0 AS sealed FROM journal WHERE session_no = @session
         AND first_packet <= @packet ORDER BY first_packet DESC LIMIT 1)
       WHERE first_packet + packet_count > @packet
     LIMIT 1`,
  ),
  pieceAfter: prepare(database)<{ session: number; packet: number }, PieceRow>(
    `SELECT * FROM (
       SELECT * FROM (SELECT ${pieceColumns}, 1 AS sealed FROM chunks WHERE session_no = @session
         AND first_packet > @packet ORDER BY first_packet LIMIT 1)
       UNION ALL
       SELECT * FROM (SELECT ${pieceColumns}, 0 AS sealed FROM journal WHERE session_no = @session
         AND first_packet > @packet ORDER BY first_packet LIMIT 1))
     ORDER BY first_packet LIMIT 1`,
  ),
});
