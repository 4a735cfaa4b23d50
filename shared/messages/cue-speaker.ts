// cueSpeaker: the one page that gives the cues of plans aloud, so that a room hears each once; all others are quiet.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';

export const cueSpeakerMessageSchema = z.object({
  type: z.literal('cueSpeaker'),
  /** Null where none was chosen: then the page on which a plan is led gives them. */
  speaker: z.nullable(
    z.object({
      /** As the page named itself in `takeCues`. */
      speakerId: idSchema,
      /** The device's name; empty for the hub's own machine. */
      device: z.string(),
    }),
  ),
});
