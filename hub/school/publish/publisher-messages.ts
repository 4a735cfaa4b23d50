// What the hub and the thread that speaks with its school say to each other. The thread asks for what it sends, a piece at
// a time: it never holds more than one.

import type { HubList } from '../../../shared/school/kept-messages.ts';
import type { SchoolLink } from '../../../shared/school/pages.ts';
import type { SchoolQuestion } from '../../../shared/school/subjects.ts';
import type { ArchiveReads } from '../../base/ports/archive-reads.ts';
import type { NatsAccess } from '../nats/connect.ts';

export interface PublisherThreadData {
  readonly access: NatsAccess;
  readonly school: string;
  readonly hub: string;
  readonly hubId: string;
  readonly room: string;
  readonly hubVersion: string;
  /** Of the cursor. */
  readonly cursorPath: string;
  /** A recording that grows is sent in pieces so far apart. */
  readonly growEveryMs: number;
}

/** Who is known here, without the number that its sender gives it. */
export type ListToSend = Omit<HubList, 'revision' | 'name'>;

export type ReadMethod = keyof ArchiveReads | 'readList' | 'settleErased' | 'erasedTold';

export type ToPublisher =
  /** Numbered together, so that what is missing shows. */
  | { readonly type: 'text'; readonly number: number; readonly text: string }
  | { readonly type: 'frame'; readonly number: number; readonly frame: Uint8Array }
  | { readonly type: 'read'; readonly readId: number; readonly value?: unknown; readonly fault?: string }
  | { readonly type: 'answer'; readonly questionId: number; readonly body: Uint8Array }
  /** Somebody was erased at the hub. */
  | { readonly type: 'erased' }
  | { readonly type: 'close' };

export type FromPublisher =
  | { readonly type: 'state'; readonly state: SchoolLink }
  | {
      readonly type: 'read';
      readonly readId: number;
      readonly method: ReadMethod;
      readonly args: readonly unknown[];
    }
  | {
      readonly type: 'question';
      readonly questionId: number;
      readonly question: SchoolQuestion;
      readonly body: Uint8Array;
    }
  | { readonly type: 'closed' };
