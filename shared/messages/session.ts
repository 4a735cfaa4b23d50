// session: the session began, ended, or there is none; also an athlete's settings or name changing.

import * as z from 'zod/mini';
import { athleteSchema, sessionViewSchema } from '../views.ts';

export const sessionMessageSchema = z.object({
  type: z.literal('session'),
  session: z.nullable(sessionViewSchema),
  athletes: z.array(athleteSchema),
});
