// refused: a request was not carried out; the code is stable, the message is for a person.

import * as z from 'zod/mini';
import { errorCodeSchema } from '../error-codes.ts';

export const refusedMessageSchema = z.object({
  type: z.literal('refused'),
  requestId: z.nullable(z.string().check(z.maxLength(64))),
  code: errorCodeSchema,
  message: z.string(),
});
export type RefusedMessage = z.infer<typeof refusedMessageSchema>;
