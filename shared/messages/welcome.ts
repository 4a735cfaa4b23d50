// welcome: the first message on a socket; everything a page needs to draw the present.

import * as z from 'zod/mini';
import { idSchema, roleSchema, wallMsSchema } from '../schema-parts.ts';
import { athleteStateSchema, sessionViewSchema, shownSensorSchema } from '../views.ts';

export const welcomeMessageSchema = z.object({
  type: z.literal('welcome'),
  protocolVersion: z.number(),
  hubVersion: z.string(),
  /** Of the hub's process: another one knows nothing of what the former held in its memory only. */
  hubRunId: idSchema,
  wallNowMs: wallMsSchema,
  /** How many times real time the sensors run at: 1 except in a demo or a fast replay. */
  timeScale: z.number(),
  /** True when any source on this hub is not a real sensor. */
  simulated: z.boolean(),
  /** What this page may do, and for whom: 'all', or the athletes of an athlete's own device. */
  role: roleSchema,
  athleteIds: z.union([z.literal('all'), z.array(idSchema)]),
  /** The joined device this page runs on; null on the hub's own machine. */
  deviceId: z.nullable(idSchema),
  session: z.nullable(sessionViewSchema),
  /** The session the page asked to resume, if it has been ended as meant; a page alarms of one that is simply gone. */
  endedSessionId: z.nullable(idSchema),
  athletes: z.array(athleteStateSchema),
  sensors: z.array(shownSensorSchema),
});
export type WelcomeMessage = z.infer<typeof welcomeMessageSchema>;
