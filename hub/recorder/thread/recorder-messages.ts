// What the hub and the recorder's thread say to each other.

import type { Said } from '../../../shared/said.ts';
import type { Athlete } from '../../../shared/views.ts';
import type { StoredDocument } from '../../base/ports/documents.ts';
import type { SqliteStore, SqliteStoreOptions } from '../sqlite-store.ts';
import type { Durability } from '../transactions.ts';

/** Tried again until it is written. */
export type WriteMethod =
  | 'saveMark'
  | 'saveHold'
  | 'saveAlarm'
  | 'saveSettingsChange'
  | 'saveLinkEvent'
  | 'saveSessionSensor'
  | 'addSessionAthlete'
  | 'saveSessionChange'
  | 'saveUnwatched'
  | 'saveAlive'
  | 'saveSchedule'
  | 'endSession'
  | 'saveAthlete'
  | 'removeAthlete'
  | 'assignSensor'
  | 'saveDocument'
  | 'removeDocument';

/** Answered once, with a value or a fault. */
export type CallMethod =
  | 'startSession'
  | 'resumeSession'
  | 'endSession'
  | 'appendImported'
  | 'addCorrection'
  | 'titleSession'
  | 'nameLeaders'
  | 'reassignPart'
  | 'binRecording'
  | 'unbinRecording'
  | 'listBinned'
  | 'deleteSession'
  | 'deletePart'
  | 'eraseAthlete'
  | 'saveSummary'
  | 'listSummaries'
  | 'listOtherSummaries'
  | 'listChanges'
  | 'readSession'
  | 'toldChanges'
  | 'readTold'
  | 'readSegment'
  | 'writeDatabaseCopy';

export type ArgsOf<Method extends WriteMethod | CallMethod> = Parameters<SqliteStore[Method]>;
export type AnswerOf<Method extends CallMethod> = Awaited<ReturnType<SqliteStore[Method]>>;

export type RecorderTask =
  | { readonly type: 'packets'; readonly sessionId: string; readonly batch: Uint8Array }
  | { readonly type: 'write'; readonly method: WriteMethod; readonly args: readonly unknown[] }
  | {
      readonly type: 'call';
      readonly callId: number;
      readonly method: CallMethod;
      readonly args: readonly unknown[];
    };

export interface ReadRequest {
  readonly sessionId: string;
  readonly skipDamaged: boolean;
  readonly shape: 'packets' | 'columns';
}

export type ToRecorder =
  | { readonly type: 'tasks'; readonly tasks: readonly RecorderTask[]; readonly durability: Durability }
  /** Beside the tasks: while writing fails, reading goes on. */
  | { readonly type: 'call'; readonly call: Extract<RecorderTask, { type: 'call' }> }
  | { readonly type: 'read'; readonly readerId: number; readonly request: ReadRequest }
  | { readonly type: 'next'; readonly readerId: number }
  | { readonly type: 'endRead'; readonly readerId: number }
  | { readonly type: 'close' };

/** An error across the thread: a HubError when it has a code. */
export interface Fault {
  readonly code: string | null;
  readonly message: string;
  readonly told: Said;
}

/** What the hub keeps in memory of the store, as it was opened. */
export interface OpenedStore {
  readonly athletes: readonly Athlete[];
  readonly assignments: readonly (readonly [string, string])[];
  readonly documents: readonly StoredDocument[];
  readonly notices: readonly Said[];
  readonly interruptedSessionIds: readonly string[];
}

export type FromRecorder =
  /** `unsavedPath`: where packets are kept until they are written; what an earlier process left there is in the store. */
  | { readonly type: 'opened'; readonly opened: OpenedStore; readonly unsavedPath: string | null }
  | { readonly type: 'notOpened'; readonly fault: Fault }
  /**
   * Of the last tasks the first `doneCount` are done. Without a fault they are on the disk as asked; with one, those
   * after them are not done. `refusals` are of writes that can never be done, by their place.
   */
  | {
      readonly type: 'tasks';
      readonly doneCount: number;
      readonly fault: Fault | null;
      readonly refusals: readonly (readonly [number, Fault])[];
    }
  | { readonly type: 'answer'; readonly callId: number; readonly value?: unknown; readonly fault?: Fault }
  | { readonly type: 'piece'; readonly readerId: number; readonly piece: unknown; readonly fault?: Fault }
  | { readonly type: 'closed'; readonly fault: Fault | null };

export type RecorderThreadData = Omit<SqliteStoreOptions, 'unsavedOf'>;
