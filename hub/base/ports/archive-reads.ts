// What a copy of the recordings elsewhere is made from: packets by their number, and whatever stands beside them as it is
// stored. What lies in the bin is included, and said to lie there.

/** Consecutive packets of a recording. Their numbers never change, but when some are taken out of it for good. */
export interface ArchivedSegment {
  readonly first: number;
  readonly packetCount: number;
  /** So many right before `first`, from where was asked, cannot be read any more. */
  readonly unreadableBefore: number;
  readonly lastAtMs: number;
  /** As recorder/packet-chunk.ts writes it. */
  readonly body: Uint8Array;
  /** As `ArchivedTold` has it: another one counts other packets. */
  readonly numbering: string;
}

export interface ArchivedEntry {
  readonly kind: string;
  readonly key: string | null;
  readonly athleteId: string | null;
  readonly atMs: number;
  readonly withdrawn: boolean;
  readonly body: string;
}

/** Everything of a session but its packets; JSON as it is stored. */
export interface ArchivedTold {
  readonly sessionId: string;
  /** While it stays the same, packets keep their numbers; another one after some were taken out, and at each opening. */
  readonly numbering: string;
  readonly startedWallAtMs: number;
  readonly status: 'recording' | 'ended' | 'interrupted';
  readonly endedAtMs: number | null;
  readonly durationMs: number;
  /** Null while it is being recorded. */
  readonly packetCount: number | null;
  readonly head: string;
  readonly athleteIds: readonly string[];
  /** Damaged ones are left out. */
  readonly entries: readonly ArchivedEntry[];
  readonly corrections: readonly {
    readonly athleteId: string;
    readonly correctionId: string;
    readonly body: string;
  }[];
}

export interface ToldChanges {
  readonly version: number;
  /** The oldest first; those of a session being recorded come each time. */
  readonly sessionIds: readonly string[];
}

export interface ArchiveReads {
  /** Sessions of which something has changed since a version; all of them since 0. Imports only when they are whole. */
  toldChanges(since: number): ToldChanges;
  readTold(sessionId: string): ArchivedTold | undefined;
  /** Committed packets from number `first` on, about `mostBytes` of them at most; undefined where there are none. */
  readSegment(sessionId: string, first: number, mostBytes: number): ArchivedSegment | undefined;
}
