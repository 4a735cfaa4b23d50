// What hub and school ask each other and answer at once. Nothing here is kept; what must not be lost is a kept message.

import * as z from 'zod/mini';
import { saidSchema } from '../said.ts';
import { generationSchema } from './kept-messages.ts';

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
  sessions: z.array(z.object({ sessionId: z.string() })).check(z.maxLength(500)),
});

/** Of packets by their numbers (hub/school/packet-fingerprint.ts), hexadecimal. */
const fingerprintSchema = z.string().check(z.regex(/^[0-9a-f]{64}$/));

/**
 * `covered`: so many packets from the first on are in the archive without a gap, and their `fingerprint`. `isClosed`: it takes
 * no more of this one, another took its place.
 */
const hadGenerationSchema = z.object({
  generation: generationSchema,
  covered: count,
  fingerprint: fingerprintSchema,
  isClosed: z.boolean(),
});
export type HadGeneration = z.output<typeof hadGenerationSchema>;

const hadSessionSchema = z.object({
  sessionId: z.string(),
  /** Of what was told; 0 for none. */
  revision: count,
  generations: z.array(hadGenerationSchema),
});
export type HadSession = z.output<typeof hadSessionSchema>;

/** `pending`: messages of this hub that wait to be put into the archive; while there are any, less than all may be there. */
export const haveAnswerSchema = z.object({
  pending: count,
  sessions: z.array(hadSessionSchema),
  listRevision: count,
});
export type HaveAnswer = z.output<typeof haveAnswerSchema>;

/** Of an athlete of a hub, as nobody can tell from it who they were (`athleteHash` in hub/school/erased-hash.ts). */
const erasedHashSchema = z.string().check(z.regex(/^[0-9a-f]{64}$/));

/**
 * A hub asks whom it is to erase, and says whom it has: `askedHere` are those whom a person at the hub had erased, of `gone`
 * nothing is there any more, and `recordings` went whole with them. `after`: erasures up to this number it has heard of.
 */
export const erasedSchema = z.object({
  askedHere: z.array(erasedHashSchema).check(z.maxLength(500)),
  gone: z.array(erasedHashSchema).check(z.maxLength(500)),
  recordings: z.array(erasedHashSchema).check(z.maxLength(5_000)),
  after: count,
});
export type ErasedByHub = z.output<typeof erasedSchema>;

/** `athletes`: of this hub, erased since; there are more where `isAll` is false, after the number `upTo`. */
export const erasedAnswerSchema = z.object({
  athletes: z.array(erasedHashSchema),
  upTo: count,
  isAll: z.boolean(),
});
export type ErasedAnswer = z.output<typeof erasedAnswerSchema>;

/** Asked by a hub that cannot read all of its packets any more: what are those that it can? */
export const sumsSchema = z.object({
  sessionId: z.string(),
  generation: generationSchema,
  ranges: z.array(z.object({ first: count, packetCount: z.int().check(z.gte(1)) })).check(z.maxLength(500)),
});
export type SumsAsked = z.output<typeof sumsSchema>;

/** In the order they were asked; fewer packets where the archive lacks some. */
export const sumsAnswerSchema = z.object({
  sums: z.array(z.object({ packetCount: count, fingerprint: fingerprintSchema })),
});
export type SumsAnswer = z.output<typeof sumsAnswerSchema>;
