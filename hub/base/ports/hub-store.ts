// The recorder as the hub uses it: nothing here makes the alarm path wait for a disk. Reads may be answered later, writes are
// taken at once and are safe when `saved` says so.

import type { Said } from '../../../shared/said.ts';
import type { HubError } from '../hub-error.ts';
import type { ArchiveReads } from './archive-reads.ts';
import type { Athletes } from './athletes.ts';
import type { Documents } from './documents.ts';
import type { Recordings } from './recordings.ts';
import type { ImportedPart, SessionLog, SessionStart } from './session-log.ts';
import type { PacketColumns, StoredPacket } from './stored-session.ts';
import type { Summaries } from './summaries.ts';

/** At hand, or on its way. */
export type Awaitable<Value> = Value | Promise<Value>;

/** A port whose methods may answer later. The port itself, which answers at once, is one too. */
export type Later<Port> = {
  readonly [Name in keyof Port]: Port[Name] extends (...args: infer Args) => infer Answer
    ? (...args: Args) => Awaitable<Answer>
    : Port[Name];
};

type ReadOptions = { readonly skipDamaged?: boolean };

/** `Recordings` that may answer later, packets piece by piece. */
export interface RecordingsLater extends Omit<Later<Recordings>, 'readPackets' | 'readPacketColumns'> {
  readPackets(sessionId: string, options?: ReadOptions): Iterable<StoredPacket> | AsyncIterable<StoredPacket>;
  /**
   * The same packets as `readPackets`, some thousand at a time as recorder/packet-batch.ts writes them: to be handed on to
   * another thread unread. Missing where the store is in the calling thread.
   */
  readBatches?(sessionId: string, options?: ReadOptions): AsyncIterable<Uint8Array<ArrayBuffer>>;
  readPacketColumns(
    sessionId: string,
    options?: ReadOptions,
  ): Iterable<readonly PacketColumns[]> | AsyncIterable<readonly PacketColumns[]>;
}

/** What keeps a recorder from saving, and what it holds meanwhile. */
export interface WritingState {
  /** The fault of the last attempt; null when there was none. */
  readonly fault: HubError | null;
  /** How long the disk has not answered now, milliseconds; 0 when it does. */
  readonly silentMs: number;
  /** Packets handed in that are not safe from the end of the process. */
  readonly heldPacketCount: number;
  /** Packets that could not even be held, since the memory set aside for them was full. Nobody has them any more. */
  readonly lostPacketCount: number;
  /** From when on nothing is saved, Unix milliseconds; null when all is. */
  readonly unsavedSinceWallMs: number | null;
  /** Title, or else id, of the newest session that this concerns; null when it concerns none. */
  readonly session: string | null;
}

/**
 * Athletes, sensors and documents are read from memory and written behind. A write of those, of `SessionLog` or of
 * `removeDocument` is taken at once; one that the disk refuses is tried again, in order, until it is written.
 * `startSession`, `deleteSession`, `eraseAthlete`, corrections, summaries and imports are done or fail once.
 */
export interface HubStore
  extends Omit<Athletes, 'eraseAthlete'>,
    Documents,
    Omit<SessionLog, 'startSession' | 'resumeSession' | 'endSession' | 'appendImported' | 'addCorrection'>,
    RecordingsLater,
    Omit<Later<Summaries>, 'saveSummary'>,
    /** Missing where there is nothing to copy elsewhere. */
    Partial<Later<ArchiveReads>>,
    Later<Pick<SessionLog, 'addCorrection'>>,
    Later<Pick<Athletes, 'eraseAthlete'>> {
  /** May throw or reject: then there is no such session. */
  startSession(start: SessionStart): Awaitable<void>;
  /** May throw or reject: then it stays over. */
  resumeSession(...args: Parameters<SessionLog['resumeSession']>): Awaitable<void>;
  endSession(...args: Parameters<SessionLog['endSession']>): Awaitable<void>;
  appendImported(sessionId: string, part: ImportedPart): Awaitable<void>;
  /** `madeOf`: what `stateOf` said when the work began; of a session that is another by now nothing is kept. */
  saveSummary(
    ...args: [...Parameters<Summaries['saveSummary']>, madeOf?: string | undefined]
  ): Awaitable<void>;
  /**
   * Which state of an ended session is read here, where others change it too; undefined where there is none such. A store
   * without it is changed through this process only.
   */
  stateOf?(sessionId: string): string | undefined;
  readonly interruptedSessionIds: readonly string[];
  readonly notices: readonly Said[];
  writeDatabaseCopy(path: string): Promise<void>;
  close(): Awaitable<void>;
  /**
   * Resolves when everything handed in before is on the disk; rejects with the reason when an attempt at it failed.
   * A store without it saves before its methods return.
   */
  saved?(): Promise<void>;
  /** A packet that was handed in is there after a kill of the process, written yet or not. */
  readonly outlivesKill?: boolean;
  /** Tells how writing goes whenever that changes, and each second while all is not well. */
  watchWriting?(hear: (state: WritingState) => void): void;
}
