// What a course asks of the hub over HTTP beside its recordings: whose a sensor is, who may train, what to do in an
// emergency, drills and incidents.

import * as z from 'zod/mini';
import { idSchema } from './schema-parts.ts';

/** GET /api/sensors/answering, a second after a second; POST of it begins. Null while nobody is being asked. */
export const answeringBodySchema = z.object({
  sensors: z.nullable(
    z.array(z.object({ sensorId: idSchema, state: z.enum(['unheard', 'steady', 'silent', 'answered']) })),
  ),
});
export type AnsweringBody = z.infer<typeof answeringBodySchema>;
