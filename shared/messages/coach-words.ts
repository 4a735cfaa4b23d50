// coachWords: a coach's short message to one athlete, to their own pages once it may be shown, and to coaches as it fares.

import * as z from 'zod/mini';
import { coachWordsSchema } from '../course.ts';

export const coachWordsMessageSchema = z.object({
  type: z.literal('coachWords'),
  words: coachWordsSchema,
});
