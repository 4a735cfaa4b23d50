// rateHold: how a hold felt, said after it by the athlete or for them. Said again, it replaces what was said before.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { holdFeelingSchema } from '../views.ts';
import { requestIdSchema } from './request-id.ts';

export const rateHoldMessageSchema = z.object({
  type: z.literal('rateHold'),
  requestId: requestIdSchema,
  athleteId: idSchema,
  holdId: idSchema,
  feeling: holdFeelingSchema,
});
