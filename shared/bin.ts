// What was deleted and can still come back: the bin, as pages see it.

import * as z from 'zod/mini';
import { idSchema, wallMsSchema } from './schema-parts.ts';

/** How long what was deleted can be brought back. */
export const binKeepsDays = 30;

const binIdSchema = z.string().check(z.minLength(1), z.maxLength(200));
const binnedKindSchema = z.enum(['recording', 'part', 'athlete', 'plan', 'planRun', 'entry']);
export type BinnedKind = z.infer<typeof binnedKindSchema>;

export const binnedItemSchema = z.object({
  binId: binIdSchema,
  /** `part`: what a recording of several has of one athlete. `entry`: of the training log. */
  kind: binnedKindSchema,
  /** Of the recording, plan or run; empty where it has none. */
  title: z.string(),
  /** When what it is took place; null for what has no such time. */
  ofWallMs: z.nullable(wallMsSchema),
  deletedWallAtMs: wallMsSchema,
  /** From then on it may be gone for good. */
  keptUntilWallMs: wallMsSchema,
  /** Whom it takes; an empty name where it is not known any more. */
  athletes: z.array(z.object({ athleteId: idSchema, name: z.string() })),
});
export type BinnedItem = z.infer<typeof binnedItemSchema>;

/**
 * GET /api/bin, what was deleted last first; an athlete's device gets what is of its athlete alone. POST /api/bin/:binId/restore
 * brings one back, DELETE /api/bin/:binId deletes it for good.
 */
export const binBodySchema = z.object({ items: z.array(binnedItemSchema) });
/** What deleting a recording, a part of one, an athlete, a plan, a run or an entry answers: by which it comes back. */
export const deletedBodySchema = z.object({ binId: binIdSchema });
export type DeletedBody = z.infer<typeof deletedBodySchema>;
