// What a page is told of the computer under the hub: each check good, or with what to do.

import * as z from 'zod/mini';
import { saidSchema } from './said.ts';
import { wallMsSchema } from './schema-parts.ts';

export const findingSchema = z.object({
  /** Which check: `machine.CHECK` words its title. */
  check: z.string(),
  /** `warning`: the hub runs, with less than it could have. `fault`: something will not work. */
  state: z.enum(['good', 'warning', 'fault']),
  said: saidSchema,
});
export type FindingView = z.infer<typeof findingSchema>;

/** POST /api/computer/checks: looks now, beside the hub, which takes some seconds. What was looked at, in order. */
export const computerChecksBodySchema = z.object({
  checkedWallAtMs: wallMsSchema,
  findings: z.array(findingSchema),
});
export type ComputerChecksBody = z.infer<typeof computerChecksBodySchema>;
