// alarms: the whole alarm state of one athlete, sent at once at every change, never coalesced or delayed.

import * as z from 'zod/mini';
import { idSchema, monotonicMsSchema } from '../schema-parts.ts';
import { alarmViewSchema, soundViewSchema } from '../views.ts';

export const alarmsMessageSchema = z.object({
  type: z.literal('alarms'),
  athleteId: idSchema,
  atMs: monotonicMsSchema,
  alarms: z.array(alarmViewSchema),
  sound: soundViewSchema,
});
