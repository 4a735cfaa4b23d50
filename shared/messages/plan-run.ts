// planRun: the plan that the hub runs, as far as the page may see it: at `hello`, and at every step and change of it.
// `events` go on from number `since`; 0 means from the beginning.

import * as z from 'zod/mini';
import { currentPlanRunBodySchema } from '../plan-run.ts';

export const planRunMessageSchema = z.object({
  type: z.literal('planRun'),
  current: currentPlanRunBodySchema,
});
