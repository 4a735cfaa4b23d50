// course: what every page must have at hand before it is needed, at `hello` and at every change: the emergency card, and a
// drill that goes on.

import * as z from 'zod/mini';
import { drillSchema, emergencyCardSchema } from '../course.ts';

export const courseMessageSchema = z.object({
  type: z.literal('course'),
  /** Null where nobody has written one. */
  emergencyCard: z.nullable(emergencyCardSchema),
  drill: z.nullable(drillSchema),
});
export type CourseMessage = z.infer<typeof courseMessageSchema>;
