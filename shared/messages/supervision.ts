// supervision: the alarms of the watching itself, all that stand; sent at once at every change, and after the welcome.

import * as z from 'zod/mini';
import { supervisionAlarmSchema } from '../views.ts';

export const supervisionMessageSchema = z.object({
  type: z.literal('supervision'),
  alarms: z.array(supervisionAlarmSchema),
});
export type SupervisionMessage = z.infer<typeof supervisionMessageSchema>;
