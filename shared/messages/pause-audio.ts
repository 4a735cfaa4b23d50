// pauseAudio: silence one athlete's alarm sound for a limited time (or end the pause); lights and text stay.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { requestIdSchema } from './request-id.ts';

export const pauseAudioMessageSchema = z.object({
  type: z.literal('pauseAudio'),
  requestId: requestIdSchema,
  athleteId: idSchema,
  /** False ends a pause early. */
  paused: z.boolean(),
});
