// endSession: stop recording; the recording stays for review.

import * as z from 'zod/mini';
import { requestIdSchema } from './request-id.ts';

export const endSessionMessageSchema = z.object({
  type: z.literal('endSession'),
  requestId: requestIdSchema,
});
