// pageState: what a page does for its athletes now; sent every second and at every change, so its silence is noticed too.

import * as z from 'zod/mini';
import { alarmPrioritySchema, idSchema } from '../schema-parts.ts';

export const pageStateMessageSchema = z.object({
  type: z.literal('pageState'),
  visible: z.boolean(),
  /** The person has passed the sound check on this page and its audio is running. */
  soundReady: z.boolean(),
  /** The alarms that stand on the page as it is drawn, not as it was told. Without an athlete: of the watching itself. */
  presented: z
    .array(z.object({ athleteId: z.nullable(idSchema), alarmIds: z.array(idSchema).check(z.maxLength(100)) }))
    .check(z.maxLength(64)),
  /** What its sound is scheduled to play; null for silence. */
  sounding: z.nullable(alarmPrioritySchema),
});
export type PageStateMessage = z.infer<typeof pageStateMessageSchema>;
