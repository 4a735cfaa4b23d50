// Training entered by hand or timed with lap buttons, without sensors: what is stored and sent.
// Nobody trains breath-holding in water alone: an in-water entry without a buddy's name is not accepted.

import * as z from 'zod/mini';
import { saidSchema } from './said.ts';
import { idSchema } from './schema-parts.ts';
import { effortSchema } from './session-details.ts';

const wholeNumber = (least: number, most: number) => z.number().check(z.int(), z.gte(least), z.lte(most));
const seconds = z.number().check(z.gte(0), z.lte(86_400));
const nameSchema = z.string().check(z.trim(), z.minLength(1), z.maxLength(80));

const common = {
  entryId: idSchema,
  athleteId: idSchema,
  /** When it began, Unix ms. */
  startedWallAtMs: z.number().check(z.gte(0), z.lte(8_640_000_000_000_000)),
  place: z.string().check(z.maxLength(120)),
  effort: effortSchema,
  /** How long it took in all, rests included; absent or null when not said. */
  minutes: z.optional(z.nullable(z.number().check(z.gte(1), z.lte(1_440)))),
  /** 1 very uncomfortable, 5 easy; null when not said. */
  comfort: z.nullable(wholeNumber(1, 5)),
  note: z.string().check(z.maxLength(2_000)),
};
const inWater = { ...common, buddyName: nameSchema };
const onLand = { ...common, buddyName: z.nullable(nameSchema) };
const poolLengthMetersSchema = z.number().check(z.gte(5), z.lte(100));
const lapsSecondsSchema = z.array(seconds).check(z.maxLength(500));

export const trainingEntrySchema = z.discriminatedUnion('kind', [
  /** A distance on an interval. */
  z.strictObject({
    ...inWater,
    kind: z.literal('poolSet'),
    repetitions: wholeNumber(1, 100),
    distanceMeters: z.number().check(z.gte(5), z.lte(400)),
    everySeconds: z.number().check(z.gte(10), z.lte(1_800)),
    poolLengthMeters: poolLengthMetersSchema,
    breath: z.enum(['one', 'free']),
    /** Time of each repetition, where it was timed. */
    repetitionsSeconds: lapsSecondsSchema,
  }),
  z.strictObject({
    ...inWater,
    kind: z.literal('timedSwim'),
    lengthSeconds: z.number().check(z.gte(60), z.lte(3_600)),
    poolLengthMeters: poolLengthMetersSchema,
    laps: wholeNumber(0, 500),
    /** What was swum of the lap after the last whole one. */
    furtherMeters: z.number().check(z.gte(0), z.lte(100)),
    /** When each lap was finished, from the start, where it was timed. */
    lapsAtSeconds: lapsSecondsSchema,
  }),
  z.strictObject({
    ...onLand,
    kind: z.literal('apneaWalk'),
    rounds: wholeNumber(1, 60),
    /** Walked to the end of comfort, rather than to a length set before. */
    maximal: z.boolean(),
    lengthSeconds: z.nullable(seconds),
    steps: z.nullable(wholeNumber(1, 2_000)),
  }),
  z.strictObject({
    ...onLand,
    kind: z.literal('maximalDryHold'),
    lengthSeconds: z.number().check(z.gte(1), z.lte(1_200)),
  }),
  z.strictObject({
    ...inWater,
    kind: z.literal('maximalInWater'),
    discipline: z.enum(['static', 'distance']),
    lengthSeconds: z.nullable(seconds),
    distanceMeters: z.nullable(z.number().check(z.gte(0), z.lte(400))),
  }),
]);
export type TrainingEntry = z.infer<typeof trainingEntrySchema>;
export type TrainingEntryKind = TrainingEntry['kind'];

/** GET /api/athletes/:athleteId/training, newest first */
export const trainingBodySchema = z.object({ entries: z.array(trainingEntrySchema) });
/** PUT /api/athletes/:athleteId/training/:entryId */
export const trainingRequestSchema = z.object({ entry: trainingEntrySchema });

/** GET /api/athletes/:athleteId/advice, most careful first */
export const adviceBodySchema = z.object({
  advice: z.array(
    z.object({ key: z.string(), suggestion: saidSchema, reason: saidSchema, source: saidSchema }),
  ),
});
