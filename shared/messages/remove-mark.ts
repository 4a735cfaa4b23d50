// removeMark: take back a mark made by mistake; the recording keeps that it was made and taken back.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { requestIdSchema } from './request-id.ts';

export const removeMarkMessageSchema = z.object({
  type: z.literal('removeMark'),
  requestId: requestIdSchema,
  markId: idSchema,
});
