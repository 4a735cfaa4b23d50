// heartbeat: sent twice a second; a page that has heard nothing for 2 s sounds its own alarm.

import * as z from 'zod/mini';
import { monotonicMsSchema, wallMsSchema } from '../schema-parts.ts';

export const heartbeatMessageSchema = z.object({
  type: z.literal('heartbeat'),
  sequence: z.number(),
  wallNowMs: wallMsSchema,
  /** The session's time now, or null between sessions. */
  atMs: z.nullable(monotonicMsSchema),
});
