// hello: the first message of a page. A reconnecting page says what it has, and gets the missed part.

import * as z from 'zod/mini';
import { idSchema, monotonicMsSchema } from '../schema-parts.ts';

export const helloMessageSchema = z.object({
  type: z.literal('hello'),
  protocolVersion: z.number(),
  /** The session and time up to which the page has traces, or null for a page with none. */
  resume: z.nullable(z.object({ sessionId: idSchema, haveToMs: monotonicMsSchema })),
});
export type HelloMessage = z.infer<typeof helloMessageSchema>;
