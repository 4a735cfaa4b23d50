// sensors: the sensors that the hub knows, as far as a person sees anything of them; all of them to a page that joins, then
// those that have changed, at most once a second.

import * as z from 'zod/mini';
import { saidSchema } from '../said.ts';
import { idSchema } from '../schema-parts.ts';
import { shownSensorSchema } from '../views.ts';

export const sensorsMessageSchema = z.object({
  type: z.literal('sensors'),
  /** True: these are all. False: these are new or have changed, and those of `gone` are no longer there. */
  whole: z.boolean(),
  sensors: z.array(shownSensorSchema),
  gone: z.array(idSchema),
  /** What a person should know of the hub: its radio, its recorder, what it found when it started. Empty when all is well. */
  notices: z.array(saidSchema),
});
export type SensorsMessage = z.infer<typeof sensorsMessageSchema>;
