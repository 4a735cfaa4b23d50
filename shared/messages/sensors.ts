// sensors: the state of every sensor the hub knows, sent when any of it changes, at most once a second.

import * as z from 'zod/mini';
import { sensorViewSchema } from '../views.ts';

export const sensorsMessageSchema = z.object({
  type: z.literal('sensors'),
  sensors: z.array(sensorViewSchema),
  /** The state of the hub's radio as one sentence with what to do, or null when all is well or no radio is used. */
  radioNotice: z.nullable(z.string()),
});
export type SensorsMessage = z.infer<typeof sensorsMessageSchema>;
