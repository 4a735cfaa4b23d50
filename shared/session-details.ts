// What a person noted about one athlete's session: how hard it was, with whom, where, under what conditions, and tags to find
// it by. Asked for, never needed.

import * as z from 'zod/mini';
import { idSchema } from './schema-parts.ts';

const shortText = (most: number) => z.string().check(z.trim(), z.maxLength(most));

export const effortSchema = z.enum(['easy', 'medium', 'hard']);
export type Effort = z.infer<typeof effortSchema>;

export const sessionDetailsSchema = z.strictObject({
  /** Of the session as a whole; null when not said. */
  effort: z.nullable(effortSchema),
  /** Null when not said. */
  company: z.nullable(z.enum(['alone', 'accompanied'])),
  /** Who was with them; '' when not said. */
  buddyName: shortText(80),
  place: shortText(120),
  tags: z.array(z.string().check(z.trim(), z.minLength(1), z.maxLength(40))).check(z.maxLength(12)),
  /** The night before. */
  sleep: z.nullable(z.enum(['poor', 'fair', 'good'])),
  /** How full the stomach was. */
  food: z.nullable(z.enum(['empty', 'light', 'full'])),
  illness: z.nullable(z.enum(['well', 'unwell', 'ill'])),
  note: z.string().check(z.maxLength(2_000)),
});
export type SessionDetails = z.infer<typeof sessionDetailsSchema>;

export const noDetails: SessionDetails = {
  effort: null,
  company: null,
  buddyName: '',
  place: '',
  tags: [],
  sleep: null,
  food: null,
  illness: null,
  note: '',
};

/** GET and PUT /api/sessions/:sessionId/athletes/:athleteId/details */
export const sessionDetailsRequestSchema = z.object({ details: sessionDetailsSchema });

/**
 * PUT /api/sessions/:sessionId/athletes/:athleteId/athlete: the whole part of one athlete in a recording becomes another
 * athlete's, who must not be in it. Not while a session is recorded. Written into the audit log for both.
 */
export const reassignRequestSchema = z.object({ athleteId: idSchema });

/** GET and PUT /api/athletes/:athleteId/sharing: whether they agreed to be shown beside others. False until they do. */
export const sharingSchema = z.object({ agreed: z.boolean() });
