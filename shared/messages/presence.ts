// presence: who is at a page now, for coaches; sent at every change, at most once a second.

import * as z from 'zod/mini';
import { presentPageSchema } from '../views.ts';

export const presenceMessageSchema = z.object({
  type: z.literal('presence'),
  /** Every open page, and each joined device that has none, in a steady order. */
  pages: z.array(presentPageSchema),
});
