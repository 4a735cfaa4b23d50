// acknowledgeAlarms: a person has seen these alarms of one athlete. One that began since, or got worse, still sounds.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { requestIdSchema } from './request-id.ts';

export const acknowledgeAlarmsMessageSchema = z.object({
  type: z.literal('acknowledgeAlarms'),
  requestId: requestIdSchema,
  athleteId: idSchema,
  /** Those the page showed when the person acted. */
  alarmIds: z.array(idSchema).check(z.minLength(1), z.maxLength(50)),
});
