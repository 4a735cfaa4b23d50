// trace: new samples for the plots. `fromMs` lets a page see that nothing is missing between two. The hub sends it as a block
// of a live frame (shared/live-frame).

import * as z from 'zod/mini';
import { idSchema, monotonicMsSchema } from '../schema-parts.ts';
import { traceSchema } from '../views.ts';

export const traceMessageSchema = z.object({
  type: z.literal('trace'),
  athleteId: idSchema,
  /** Covers samples with `fromMs < atMs <= toMs`; from 0 on it covers the very first too. */
  fromMs: monotonicMsSchema,
  toMs: monotonicMsSchema,
  traces: z.array(traceSchema),
  /** Samples left out because this page was slow; 0 in the ordinary case. */
  decimatedCount: z.number(),
});
export type TraceMessage = z.infer<typeof traceMessageSchema>;
