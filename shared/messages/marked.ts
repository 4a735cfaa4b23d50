// marked: a mark was made or taken back; every page of the athlete hears of it.

import * as z from 'zod/mini';
import { markSchema } from '../views.ts';
import { requestIdSchema } from './request-id.ts';

export const markedMessageSchema = z.object({
  type: z.literal('marked'),
  mark: markSchema,
  removed: z.boolean(),
  /** Of the `addMark` that made it, so that the asking page knows its own; null for any other cause. */
  requestId: z.nullable(requestIdSchema),
});
export type MarkedMessage = z.infer<typeof markedMessageSchema>;
