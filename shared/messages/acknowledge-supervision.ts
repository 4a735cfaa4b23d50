// acknowledgeSupervision: a person has seen these alarms of the watching itself.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { requestIdSchema } from './request-id.ts';

export const acknowledgeSupervisionMessageSchema = z.object({
  type: z.literal('acknowledgeSupervision'),
  requestId: requestIdSchema,
  alarmIds: z.array(idSchema).check(z.minLength(1), z.maxLength(50)),
});
