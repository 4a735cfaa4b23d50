// Sensor profiles and the bench on which a sensor is looked at: bodies of HTTP, for coaches.

import * as z from 'zod/mini';
import { saidSchema } from './said.ts';
import { wallMsSchema } from './schema-parts.ts';
import { sensorViewSchema } from './views.ts';

/** A file of the data folder's `profiles`. */
export const profileFileSchema = z.string().check(z.regex(/^[A-Za-z0-9][A-Za-z0-9._-]{0,60}\.json$/));

/** GET /api/profiles */
export const profilesBodySchema = z.object({
  profiles: z.array(
    z.object({
      file: z.string(),
      text: z.string(),
      /** False: something is wrong in it, and it is not used. */
      isGood: z.boolean(),
    }),
  ),
  /** What was saved while a session runs is used when it has ended. */
  waits: z.boolean(),
  /** False where the hub has no radio to look at sensors with. */
  hasBench: z.boolean(),
});
export type ProfilesBody = z.infer<typeof profilesBodySchema>;

/** PUT /api/profiles/:file: takes its place, if it is in order. The former version is kept. */
export const saveProfileRequestSchema = z.object({ text: z.string().check(z.maxLength(60_000)) });

/** GET /api/profiles/:file/former, newest first. */
export const formerProfilesBodySchema = z.object({
  former: z.array(z.object({ text: z.string(), replacedWallAtMs: wallMsSchema })),
});
export type FormerProfilesBody = z.infer<typeof formerProfilesBodySchema>;

const benchSensorSchema = z.object({
  sensorId: z.string(),
  name: z.string(),
  kinds: sensorViewSchema.shape.kinds,
  rssiDbm: z.nullable(z.number()),
  link: sensorViewSchema.shape.link,
  detail: sensorViewSchema.shape.detail,
  /** Somebody wears it: it is not to be looked at. */
  isWorn: z.boolean(),
});
export type BenchSensor = z.infer<typeof benchSensorSchema>;

/** POST /api/bench/around: what is in the air, best heard first. */
export const aroundBodySchema = z.object({ sensors: z.array(benchSensorSchema) });

/** PUT /api/bench: looks at one; with `profileText` it is started by that profile, which need not be saved. */
export const examineRequestSchema = z.object({
  sensorId: z.string().check(z.minLength(1), z.maxLength(64)),
  profileText: z.nullable(z.string().check(z.maxLength(60_000))),
});

/** GET /api/bench?after=NUMBER: what has come since. Null where nothing is looked at. */
export const benchBodySchema = z.object({
  examined: z.nullable(
    z.object({
      sensor: benchSensorSchema,
      characteristics: z.array(
        z.object({ service: z.string(), characteristic: z.string(), properties: z.array(z.string()) }),
      ),
      packets: z.array(
        z.object({ number: z.number(), atMs: z.number(), characteristic: z.string(), hex: z.string() }),
      ),
    }),
  ),
});
export type BenchBody = z.infer<typeof benchBodySchema>;

/** What a refused profile's body says beside the code: where and why, in order. */
export const profileProblemSchema = z.object({
  line: z.number(),
  column: z.number(),
  place: z.string(),
  reason: saidSchema,
});
