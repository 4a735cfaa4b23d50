// latest: the newest values of one athlete. A slow page gets only the newest; how many were dropped is said. The hub sends
// it as a block of a live frame (shared/live-frame).

import * as z from 'zod/mini';
import { idSchema, monotonicMsSchema, phaseSchema } from '../schema-parts.ts';
import { forecastViewSchema, readoutSchema } from '../views.ts';

export const latestMessageSchema = z.object({
  type: z.literal('latest'),
  athleteId: idSchema,
  atMs: monotonicMsSchema,
  phase: phaseSchema,
  spo2: readoutSchema,
  heartRate: readoutSchema,
  forecast: forecastViewSchema,
  /** Updates dropped since the last `latest` to this page because it was slow. */
  droppedCount: z.number(),
});
export type LatestMessage = z.infer<typeof latestMessageSchema>;
