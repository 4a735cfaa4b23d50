// takeCues: this page gives the cues from now on, or no longer. Said again after each new connection.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { requestIdSchema } from './request-id.ts';

export const takeCuesMessageSchema = z.object({
  type: z.literal('takeCues'),
  requestId: requestIdSchema,
  /** The page's own name for itself, the same over reloads of its tab. */
  speakerId: idSchema,
  takes: z.boolean(),
});
export type TakeCuesMessage = z.infer<typeof takeCuesMessageSchema>;
