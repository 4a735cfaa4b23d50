// Reading what was recorded, and deleting it.

import type { PacketColumns, StoredPacket, StoredSession, StoredSessionSummary } from './stored-session.ts';

export interface Recordings {
  /** The newest first. */
  listSessions(): readonly StoredSessionSummary[];
  /** Marks, holds, alarms and events in the order they were first saved. Only what is committed. */
  readSession(sessionId: string): StoredSession | undefined;
  /**
   * Committed packets in the order they were appended, read piece by piece. Throws `data.corrupt` at a piece that
   * cannot be read any more, or passes over it with `skipDamaged`; `StoredSession.damage` names such pieces.
   */
  readPackets(sessionId: string, options?: { readonly skipDamaged?: boolean }): Iterable<StoredPacket>;
  /** The same packets by the column, a piece at a time: many times faster for waves. */
  readPacketColumns(
    sessionId: string,
    options?: { readonly skipDamaged?: boolean },
  ): Iterable<readonly PacketColumns[]>;
  /** Not while it is being recorded. */
  deleteSession(sessionId: string): void;
}
