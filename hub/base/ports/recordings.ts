// Reading what was recorded, titling it, putting it into the bin, and deleting it.

import type { WallMs } from '../../../shared/units.ts';
import type { SessionLeader } from '../../../shared/views.ts';
import type {
  BinnedRecording,
  PacketColumns,
  StoredPacket,
  StoredSession,
  StoredSessionSummary,
} from './stored-session.ts';

export interface Recordings {
  /** The newest first. Without what lies in the bin. */
  listSessions(): readonly StoredSessionSummary[];
  /**
   * Marks, holds, alarms and events in the order they were first saved. Only what is committed, and nothing that lies in the
   * bin. Athletes have the names they have now; one who was taken off the list, the last one.
   */
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
  titleSession(sessionId: string, title: string): void;
  /** Replaces who led it. */
  nameLeaders(sessionId: string, leaders: readonly SessionLeader[]): void;
  /**
   * Everything of one athlete in a recording becomes another's: marks, holds, alarms, sensors, corrections. Throws
   * `data.refused` where the first is not in it or the other is, and while it is being recorded.
   */
  reassignPart(
    sessionId: string,
    athleteId: string,
    to: { readonly athleteId: string; readonly name: string },
  ): void;
  /**
   * Hides a recording, or one athlete's part of it, from everything but `listBinned`, erasing and deleting. The last part that
   * shows is hidden with the whole. Not while it is being recorded. Throws `data.refused` for what is not there.
   */
  binRecording(sessionId: string, athleteId: string | null, atWallMs: WallMs): void;
  /** Shows it again, as it was. Throws `data.refused` for what is not in the bin. */
  unbinRecording(sessionId: string, athleteId: string | null): void;
  /** Whole recordings and parts of some, the last binned first. */
  listBinned(): readonly BinnedRecording[];
  /** For good, down to the bytes of the file. Not while it is being recorded. */
  deleteSession(sessionId: string): void;
  /** One athlete's part, for good; of others nothing changes. Not while it is being recorded. */
  deletePart(sessionId: string, athleteId: string): void;
}
