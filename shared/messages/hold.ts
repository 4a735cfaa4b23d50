// hold: a hold has started, been revised, ended, or been withdrawn by the detector.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { holdViewSchema } from '../views.ts';

export const holdMessageSchema = z.object({
  type: z.literal('hold'),
  athleteId: idSchema,
  holdId: idSchema,
  /** The hold as it now stands, or null when it has been withdrawn. */
  hold: z.nullable(holdViewSchema),
});
