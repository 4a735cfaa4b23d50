// A training plan as data, versioned: what is stored, sent and exchanged as a file. Lengths are in whole seconds,
// because people type and read these files. Every hold length is a ceiling: the athlete may stop at any earlier time.

import * as z from 'zod/mini';
import { isReadableName, unreadableName } from './name-text.ts';
import { holdLungsSchema, idSchema } from './schema-parts.ts';

/** The first line of every plan file, so that another program's JSON is told apart from ours. */
export const planFormat = 'slackwater-plan';
export const planVersion = 1;

const seconds = (least: number, most: number) => z.number().check(z.int(), z.gte(least), z.lte(most));
const count = (least: number, most: number) => z.number().check(z.int(), z.gte(least), z.lte(most));

/** 900 s is also the most that an athlete's longest-hold setting may be (shared/views.ts). */
const mostCeilingSeconds = 900;
const ceilingSecondsSchema = seconds(5, mostCeilingSeconds);
const recoverySecondsSchema = seconds(0, 1_800);

/** How full the lungs are at the start of a hold; absent, as in every plan of before: the plan does not say. */
const lungsSchema = z.optional(holdLungsSchema);

/**
 * The shortest recovery that a run will ever schedule: the longer of `leastSeconds` and `timesPreviousEffort`
 * times the effort before it. The ranges' lower ends cannot be gone under by any plan.
 */
const minimumRecoverySchema = z.strictObject({
  timesPreviousEffort: z.number().check(z.gte(0.25), z.lte(10)),
  leastSeconds: seconds(30, 900),
});
export type MinimumRecovery = z.infer<typeof minimumRecoverySchema>;

/** One hold and the recovery after it. `recoverySeconds` of the last row is not used. */
const planRowSchema = z.strictObject({
  ceilingSeconds: ceilingSecondsSchema,
  recoverySeconds: recoverySecondsSchema,
  lungs: lungsSchema,
});
export type PlanRow = z.infer<typeof planRowSchema>;

const head = {
  format: z.literal(planFormat),
  version: z.literal(planVersion),
  title: z.string().check(z.minLength(1), z.maxLength(80)),
  note: z._default(z.string().check(z.maxLength(2_000)), ''),
  /** Calm breathing before the first start. */
  leadInSeconds: z._default(seconds(10, 1_800), 120),
  /** Absent: the default of the plan's kind, explained in src/plans/minimum-recovery.ts. */
  minimumRecovery: z.optional(minimumRecoverySchema),
};

/** N starts, one every `everySeconds`; what is left of the interval after the athlete stops is recovery. */
const intervalSeriesSchema = z.strictObject({
  ...head,
  kind: z.literal('intervalSeries'),
  starts: count(1, 24),
  everySeconds: seconds(60, 1_800),
  ceilingSeconds: z.nullable(ceilingSecondsSchema),
  lungs: lungsSchema,
});

/** Rows of holds and recoveries. `shape` says what the rows are meant to be; the rows are what is run. */
const holdTableSchema = z.strictObject({
  ...head,
  kind: z.literal('holdTable'),
  shape: z.enum(['carbonDioxide', 'oxygen', 'own']),
  rows: z.array(planRowSchema).check(z.minLength(1), z.maxLength(24)),
});

/** Warm-up rows, then one or two maximal holds without a ceiling of the plan's (the athlete's own limit holds). */
const maximalAttemptsSchema = z.strictObject({
  ...head,
  kind: z.literal('maximalAttempts'),
  warmUps: z.array(planRowSchema).check(z.maxLength(8)),
  attempts: count(1, 2),
  betweenAttemptsSeconds: recoverySecondsSchema,
  /** Of the attempts; each warm-up row says its own. */
  lungs: lungsSchema,
});

/** Walking on one breath, bounded by time or by steps. `paceStepsPerMinute` only converts steps to a time. */
const apneaWalkSchema = z.strictObject({
  ...head,
  kind: z.literal('apneaWalk'),
  rounds: count(1, 24),
  bound: z.discriminatedUnion('by', [
    z.strictObject({ by: z.literal('time'), ceilingSeconds: ceilingSecondsSchema }),
    z.strictObject({
      by: z.literal('steps'),
      ceilingSteps: count(5, 500),
      paceStepsPerMinute: count(20, 120),
    }),
  ]),
  /** Seconds of standing or sitting still on the same breath before the first step. */
  stillSeconds: seconds(0, 300),
  recoverySeconds: recoverySecondsSchema,
});

/** Holds whenever the athlete likes, for a length of time. */
const freeSessionSchema = z.strictObject({
  ...head,
  kind: z.literal('freeSession'),
  lengthSeconds: seconds(60, 10_800),
  ceilingSeconds: z.nullable(ceilingSecondsSchema),
});

/** A distance on an interval, timed with lap buttons; on one breath or breathing freely. */
const poolIntervalsSchema = z.strictObject({
  ...head,
  kind: z.literal('poolIntervals'),
  repetitions: count(1, 40),
  distanceMeters: z.number().check(z.gte(5), z.lte(400)),
  poolLengthMeters: z.number().check(z.gte(5), z.lte(100)),
  everySeconds: seconds(20, 1_800),
  breath: z.enum(['one', 'free']),
  ceilingSeconds: z.nullable(ceilingSecondsSchema),
});

/** Swimming with breathing for a fixed time, counting laps: the 12-minute distance swim when 720 s. */
const timedSwimSchema = z.strictObject({
  ...head,
  kind: z.literal('timedSwim'),
  lengthSeconds: seconds(60, 3_600),
  poolLengthMeters: z.number().check(z.gte(5), z.lte(100)),
});

export const planSchema = z.discriminatedUnion('kind', [
  intervalSeriesSchema,
  holdTableSchema,
  maximalAttemptsSchema,
  apneaWalkSchema,
  freeSessionSchema,
  poolIntervalsSchema,
  timedSwimSchema,
]);
export type Plan = z.infer<typeof planSchema>;
export type PlanKind = Plan['kind'];
/** A plan of one kind. */
export type PlanOf<Kind extends PlanKind> = Extract<Plan, { kind: Kind }>;

/** A plan in the library. */
export const storedPlanSchema = z.object({
  planId: idSchema,
  savedWallAtMs: z.number(),
  plan: planSchema,
});
export type StoredPlan = z.infer<typeof storedPlanSchema>;

/** GET /api/plans, by title. */
export const plansBodySchema = z.object({ plans: z.array(storedPlanSchema) });
/** POST /api/plans, PUT /api/plans/:planId */
export const planRequestSchema = z.object({
  plan: planSchema.check(
    z.refine((plan) => isReadableName(plan.title.trim()), { error: unreadableName, path: ['title'] }),
  ),
});
