// Backups as a page sees them: those made by the clock, and a file that is offered to be restored.

import * as z from 'zod/mini';
import { saidSchema } from './said.ts';
import { idSchema, wallMsSchema } from './schema-parts.ts';

/** GET /api/backups. POST makes one of the scheduled ones now, and answers alike. */
export const backupsBodySchema = z.object({
  /** Null where the settings name no folder for them. */
  scheduled: z.nullable(
    z.object({
      folder: z.string(),
      everyHours: z.number(),
      keep: z.number(),
      /** The newest first. */
      kept: z.array(z.object({ name: z.string(), madeWallAtMs: wallMsSchema, bytes: z.number() })),
      /** Why the last one could not be made; null when it could. */
      problem: z.nullable(saidSchema),
    }),
  ),
  /** Whether this hub can put a backup in the place of its recordings by itself. */
  mayRestore: z.boolean(),
});
export type BackupsBody = z.infer<typeof backupsBodySchema>;

/** POST /api/restore, the file's bytes as they are: it is kept for an hour, and nothing else is done with it. */
export const offeredBodySchema = z.object({
  restoreId: idSchema,
  /** Locked with a passphrase, which looking at it needs. */
  locked: z.boolean(),
});
/** POST /api/restore/:restoreId/look: opens and checks it, and touches nothing that is there. */
export const lookRequestSchema = z.object({ passphrase: z.nullable(z.string().check(z.maxLength(1_000))) });
export const lookedBodySchema = z.object({
  sessionCount: z.number(),
  athleteCount: z.number(),
  /** When the newest session in it began; null without any. */
  newestWallAtMs: z.nullable(wallMsSchema),
  /** What is there now, and is moved aside. */
  present: z.object({ sessionCount: z.number(), athleteCount: z.number() }),
});
export type LookedBody = z.infer<typeof lookedBodySchema>;
// POST /api/restore/:restoreId/begin: 202. The hub stops, moves what is there aside, takes the backup and starts again.
