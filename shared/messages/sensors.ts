// sensors: the state of every sensor the hub knows, sent when any of it changes, at most once a second.

import * as z from 'zod/mini';
import { saidSchema } from '../said.ts';
import { sensorViewSchema } from '../views.ts';

export const sensorsMessageSchema = z.object({
  type: z.literal('sensors'),
  sensors: z.array(sensorViewSchema),
  /** What a person should know of the hub: its radio, its recorder, what it found when it started. Empty when all is well. */
  notices: z.array(saidSchema),
});
export type SensorsMessage = z.infer<typeof sensorsMessageSchema>;
