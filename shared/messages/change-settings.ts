// changeSettings: an athlete's floor, thresholds and limits. Lowering the floor during a hold is refused.

import * as z from 'zod/mini';
import { idSchema } from '../schema-parts.ts';
import { athleteSettingsSchema } from '../views.ts';
import { requestIdSchema } from './request-id.ts';

export const changeSettingsMessageSchema = z.object({
  type: z.literal('changeSettings'),
  requestId: requestIdSchema,
  athleteId: idSchema,
  settings: athleteSettingsSchema,
});
