// What hub and school ask each other and answer at once. Nothing here is kept; what must not be lost is a kept message.

import * as z from 'zod/mini';
import { saidSchema } from '../said.ts';

const count = z.int().check(z.gte(0));

/** A hub says that it is there. */
export const helloSchema = z.object({
  version: count,
  name: z.string(),
  hubVersion: z.string(),
  wallNowMs: z.number(),
});
export type SchoolHello = z.output<typeof helloSchema>;

/** `refused`: why the school takes nothing of this hub. `notice`: what a person at the hub should know. */
export const helloAnswerSchema = z.object({
  version: count,
  refused: z.nullable(saidSchema),
  notice: z.nullable(saidSchema),
});
export type HelloAnswer = z.output<typeof helloAnswerSchema>;

/** What of these sessions does the archive have? */
export const haveSchema = z.object({
  sessions: z.array(z.object({ sessionId: z.string(), generation: count })).check(z.maxLength(500)),
});

/**
 * `covered`: so many packets from the first on are in the archive without a gap. `revision`: of what was told; 0 for none.
 * `pending`: messages of hubs that wait to be put into the archive; while there are any, less than all may be there.
 */
export const haveAnswerSchema = z.object({
  pending: count,
  sessions: z.array(z.object({ sessionId: z.string(), generation: count, covered: count, revision: count })),
  listRevision: count,
});
export type HaveAnswer = z.output<typeof haveAnswerSchema>;
