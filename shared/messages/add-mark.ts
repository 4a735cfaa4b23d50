// addMark: a person marks a hold's start or end, a contraction, breathing again, or writes a note.

import * as z from 'zod/mini';
import { idSchema, markKindSchema, monotonicMsSchema } from '../schema-parts.ts';
import { requestIdSchema } from './request-id.ts';

export const addMarkMessageSchema = z.object({
  type: z.literal('addMark'),
  requestId: requestIdSchema,
  athleteId: idSchema,
  kind: markKindSchema,
  /** The session time the person meant; null means when the hub hears of it. */
  atMs: z.nullable(monotonicMsSchema),
  text: z.nullable(z.string().check(z.maxLength(2_000))),
});
export type AddMarkMessage = z.infer<typeof addMarkMessageSchema>;
