// Where reviews are worked out: what asks for it sees neither thread nor queue.

import type { Said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import type { PacketColumns, StoredPacket } from '../../base/ports/stored-session.ts';
import type { ResultOf, ReviewNews, ReviewTask } from './review-task.ts';

export interface ReviewOrder {
  /** Asked for when its turn has come. None for a task that takes none. */
  readonly packets?: () => Iterable<StoredPacket> | AsyncIterable<StoredPacket>;
  /** The same packets as the recorder's thread has them, to go on unread; where it is there, it is taken instead. */
  readonly batches?: (() => AsyncIterable<Uint8Array<ArrayBuffer>>) | undefined;
  /** The same packets by the column, for a preview before the work; without it there is none. */
  readonly columns?: () => Iterable<readonly PacketColumns[]> | AsyncIterable<readonly PacketColumns[]>;
  /** Once aborted, the work is dropped at once and the promise rejects with the signal's reason. */
  readonly signal?: AbortSignal;
  readonly onNews?: (news: ReviewNews) => void;
  /** `page`: a person waits for it, and it goes before everything in the `background`. */
  readonly urgency: 'page' | 'background';
}

export interface ReviewRunner {
  /** Rejects with a `ReviewFault` where it could not be worked out; what the store throws comes through as it is. */
  run<Task extends ReviewTask>(task: Task, order: ReviewOrder): Promise<ResultOf<Task>>;
  /** A review is likely to be asked for soon. */
  warm(): void;
  /** Drops all work. */
  close(): Promise<void>;
}

/** A recording could not be worked out; the recording itself is whole. */
export class ReviewFault extends Error {
  override readonly name = 'ReviewFault';
  /** For a person. */
  readonly said: Said;

  constructor(said: Said, cause?: unknown) {
    super(sayInEnglish(said), cause === undefined ? undefined : { cause });
    this.said = said;
  }
}
