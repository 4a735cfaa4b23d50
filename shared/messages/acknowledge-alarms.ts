// acknowledgeAlarms: a person has seen the present alarms of one athlete. A new condition still sounds.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { requestIdSchema } from './request-id.ts';

export const acknowledgeAlarmsMessageSchema = z.object({
  type: z.literal('acknowledgeAlarms'),
  requestId: requestIdSchema,
  athleteId: idSchema,
});
export type AcknowledgeAlarmsMessage = z.infer<typeof acknowledgeAlarmsMessageSchema>;
