// Looking back: the bodies for holds side by side and for weeks of sessions of one athlete.

import * as z from 'zod/mini';
import { holdLungsSchema, idSchema, wallMsSchema } from './schema-parts.ts';
import { sessionDetailsSchema } from './session-details.ts';
import { holdViewSchema, sessionViewSchema, traceSchema } from './views.ts';

/**
 * GET /api/sessions/:sessionId/athletes/:athleteId/holds: the traces round each hold, in session time. A window holds
 * nothing of the hold before or after.
 */
export const holdWindowsBodySchema = z.object({
  session: sessionViewSchema,
  holds: z.array(
    z.object({
      /** Counted from one. */
      number: z.number(),
      hold: holdViewSchema,
      fromMs: z.number(),
      toMs: z.number(),
      /** Saturation, and heart rate or, without a strap, pulse rate. */
      traces: z.array(traceSchema),
    }),
  ),
});
export type HoldWindowsBody = z.infer<typeof holdWindowsBodySchema>;

const column = z.array(z.nullable(z.number()));

export const sessionSummarySchema = z.object({
  holdIds: z.array(idSchema),
  startAtMs: z.array(z.number()),
  durationUncertaintyS: column,
  /** Keys and order as in src/sessions/session-summary.ts; a place a hold. */
  measures: z.record(z.string(), column),
  /** How full the lungs were, as was marked; null when nobody said. Empty in a summary of before. */
  lungs: z._default(z.array(z.nullable(holdLungsSchema)), []),
  /** How each hold felt, as was said after it. Empty in a summary of before. */
  comfort: z._default(column, []),
});

/**
 * GET /api/athletes/:athleteId/history: every ended session of one athlete, oldest first, as far as they are worked out.
 * The rest is worked out meanwhile, the newest first: ask again while `missingCount` is not 0.
 */
export const historyBodySchema = z.object({
  sessions: z.array(
    z.object({
      sessionId: idSchema,
      title: z.string(),
      startedWallAtMs: wallMsSchema,
      simulated: z.boolean(),
      durationMs: z.number(),
      /** 1 very uncomfortable, 5 easy, as said in a plan's run; null when not said. */
      comfort: z.nullable(z.number()),
      /** Null until somebody noted something. */
      details: z.nullable(sessionDetailsSchema),
      /** Titles of the plans run in it. */
      plans: z.array(z.string()),
      /** Of each hold of the summary, its row of the plan, counted from one; null for one outside a plan. */
      planRows: z.array(z.nullable(z.number())),
      /** Null where the recording cannot be read. */
      summary: z.nullable(sessionSummarySchema),
    }),
  ),
  /** Not in `sessions` yet, or by an earlier version's rules. */
  missingCount: z.number(),
  /** Of every ended session, those that are missing among them. */
  allCount: z.number(),
  /** Nothing is worked out while a session is recorded: alarms go first. */
  waitsForSession: z.boolean(),
});
export type HistoryBody = z.infer<typeof historyBodySchema>;

/** GET /api/athletes/:athleteId/beside/:otherAthleteId: both histories; refused while one of the two has not agreed. */
export const besideBodySchema = z.object({ one: historyBodySchema, other: historyBodySchema });
export type BesideBody = z.infer<typeof besideBodySchema>;
