// Reads recordings for a copy elsewhere: packets by their number, what stands beside them as it is stored, and which
// sessions have changed.

import { randomUUID } from 'node:crypto';
import type {
  ArchivedEntry,
  ArchivedSegment,
  ArchivedTold,
  ToldChanges,
} from '../base/ports/archive-reads.ts';
import type { StoredPacket } from '../base/ports/stored-session.ts';
import { encodeChunk, packetsOf } from './packet-chunk.ts';
import type { PacketJournal } from './packet-journal.ts';
import { bodyOf, type SessionRow } from './rows.ts';
import type { SessionTables } from './session-tables.ts';

/** What a packet takes beside its bytes, about. */
const packetOverheadBytes = 20;

export class ArchiveReading {
  readonly #tables: SessionTables;
  readonly #journal: PacketJournal;
  readonly #opened = randomUUID();
  readonly #versions = new Map<number, number>();
  #version = 1;

  constructor(tables: SessionTables, journal: PacketJournal) {
    this.#tables = tables;
    this.#journal = journal;
    tables.onChange((sessionNo) => {
      this.#version += 1;
      this.#versions.set(sessionNo, this.#version);
    });
  }

  changesSince(since: number): ToldChanges {
    const rows = this.#tables
      .rows()
      .filter((row) => row.status === 'recording' || (this.#versions.get(row.session_no) ?? 1) > since)
      .filter((row) => !isBeingImported(row));
    return { version: this.#version, sessionIds: rows.map((row) => row.session_id).toReversed() };
  }

  told(row: SessionRow): ArchivedTold {
    const corrections = this.#tables.correctionsOf(row, []).map((correction) => ({
      athleteId: correction.athleteId,
      correctionId: correction.step.correctionId,
      body: JSON.stringify(correction),
    }));
    return {
      sessionId: row.session_id,
      numbering: this.#numberingOf(row),
      startedWallAtMs: row.started_wall_at_ms,
      status: row.status,
      endedAtMs: row.ended_at_ms,
      durationMs: this.#tables.durationOf(row),
      packetCount: row.packet_count,
      head: row.body,
      athleteIds: bodyOf(row).athletes.map(({ athleteId }) => athleteId),
      entries: this.#tables.wholeRowsOf(row).map(
        (entry): ArchivedEntry => ({
          kind: entry.kind,
          key: entry.entry_key,
          athleteId: entry.athlete_id,
          atMs: entry.at_ms,
          withdrawn: entry.withdrawn === 1,
          body: entry.body,
        }),
      ),
      corrections,
    };
  }

  segment(row: SessionRow, asked: number, mostBytes: number): ArchivedSegment | undefined {
    const packets: StoredPacket[] = [];
    let first = asked;
    let bytes = 0;
    const numbering = this.#numberingOf(row);
    for (const piece of this.#journal.pieces(row, 'decode', asked)) {
      if ('damage' in piece) {
        if (packets.length > 0) break;
        continue;
      }
      if (packets.length === 0) first = piece.first;
      else if (piece.first !== first + packets.length) break;
      for (const packet of 'chunk' in piece ? packetsOf(piece.chunk) : piece.packets) {
        if (bytes >= mostBytes) break;
        packets.push(packet);
        bytes += packet.bytes.length + packetOverheadBytes;
      }
      if (bytes >= mostBytes) break;
    }
    if (packets.length === 0) return undefined;
    let lastAtMs = 0;
    for (const { atMs } of packets) if (atMs > lastAtMs && Number.isFinite(atMs)) lastAtMs = atMs;
    return {
      first,
      packetCount: packets.length,
      unreadableBefore: first - asked,
      lastAtMs,
      body: encodeChunk(packets),
      numbering,
    };
  }

  /** A session that was deleted and came back has another number; a file that was opened again may hold less. */
  #numberingOf({ session_no }: SessionRow): string {
    return `${this.#opened}.${session_no}.${this.#journal.rewritesOf(session_no)}`;
  }
}

const isBeingImported = (row: SessionRow): boolean =>
  row.status === 'recording' && bodyOf(row).source === 'import';
