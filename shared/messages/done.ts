// done: a request was carried out. Every request that bears an id is answered by that id, with this or with `refused`.

import * as z from 'zod/mini';
import { requestIdSchema } from './request-id.ts';

export const doneMessageSchema = z.object({
  type: z.literal('done'),
  requestId: requestIdSchema,
});
