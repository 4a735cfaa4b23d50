// marked: a mark was made or taken back; every page of the athlete hears of it.

import * as z from 'zod/mini';
import { markSchema } from '../views.ts';

export const markedMessageSchema = z.object({
  type: z.literal('marked'),
  mark: markSchema,
  removed: z.boolean(),
});
export type MarkedMessage = z.infer<typeof markedMessageSchema>;
