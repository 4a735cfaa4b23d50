// refused: a request was not carried out; the code is stable; what is said is for a person.

import * as z from 'zod/mini';
import { errorCodeSchema } from '../error-codes.ts';
import { saidSchema } from '../said.ts';

export const refusedMessageSchema = z.object({
  type: z.literal('refused'),
  requestId: z.nullable(z.string().check(z.maxLength(64))),
  code: errorCodeSchema,
  said: saidSchema,
});
export type RefusedMessage = z.infer<typeof refusedMessageSchema>;
