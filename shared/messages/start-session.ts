// startSession: begin recording and monitoring the named athletes.

import * as z from 'zod/mini';
import { nameTextSchema, optionalNameTextSchema } from '../name-text.ts';
import { idSchema } from '../schema-parts.ts';
import { mostLeaders } from '../views.ts';
import { requestIdSchema } from './request-id.ts';

export const startSessionMessageSchema = z.object({
  type: z.literal('startSession'),
  requestId: requestIdSchema,
  athleteIds: z.array(idSchema).check(z.minLength(1), z.maxLength(32)),
  title: optionalNameTextSchema(120),
  /** Who leads it, as a coach says; left out, the coach whose device begins it. */
  ledBy: z.optional(z.array(nameTextSchema(80)).check(z.maxLength(mostLeaders))),
});
