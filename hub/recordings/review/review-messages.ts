// What the hub and its review thread say to one another.

import type { PacketColumns } from '../../base/ports/stored-session.ts';
import type { ReviewNews, ReviewResults, ReviewSubject, ReviewTask } from './review-task.ts';

export type ToReviewThread =
  /** Answered with a preview at once, before the packets themselves. */
  | { readonly type: 'preview'; readonly subject: ReviewSubject; readonly streams: readonly PacketColumns[] }
  /** As the journal encodes them (packet-batch.ts), in order. */
  | { readonly type: 'packets'; readonly batch: Uint8Array }
  | { readonly type: 'run'; readonly task: ReviewTask }
  /** The packets so far belong to nothing any more. */
  | { readonly type: 'forget' };

export type FromReviewThread =
  | { readonly type: 'news'; readonly news: ReviewNews }
  | { readonly type: 'done'; readonly result: ReviewResults[keyof ReviewResults] }
  | { readonly type: 'failed'; readonly reason: string };
