// Running a plan: the events that are all a run is rebuilt from, as stored by the hub and sent by a page.
// Times are the run's own, from when it was started, so that a run outlives a session and a restart of the hub;
// `atMs` is when the hub heard of it, and a boundary's own time stands beside it.

import * as z from 'zod/mini';
import { planSchema } from './plan.ts';
import { saidSchema } from './said.ts';
import { alarmKindSchema, boundarySourceSchema, idSchema, monotonicMsSchema } from './schema-parts.ts';

const base = { atMs: monotonicMsSchema };
const ofAthlete = { ...base, athleteId: idSchema };
/** null: every athlete of the run. */
const ofOneOrAll = { ...base, athleteId: z.nullable(idSchema) };

/** What can be changed between holds; offered as a suggestion or chosen by a person, never applied by itself. */
export const planChangeSchema = z.discriminatedUnion('change', [
  z.strictObject({
    change: z.literal('interval'),
    everyMs: z.number().check(z.gte(20_000), z.lte(3_600_000)),
  }),
  z.strictObject({
    change: z.literal('moreRecovery'),
    extraMs: z.number().check(z.gte(0), z.lte(1_800_000)),
  }),
  z.strictObject({ change: z.literal('ceiling'), ceilingMs: z.number().check(z.gte(5_000), z.lte(900_000)) }),
]);
export type PlanChange = z.infer<typeof planChangeSchema>;

export const planRunEventSchema = z.discriminatedUnion('type', [
  /** Time has passed. Not stored: the other events carry their own time. */
  z.strictObject({ type: z.literal('time'), ...base }),
  z.strictObject({
    type: z.literal('holdStarted'),
    ...ofAthlete,
    holdId: idSchema,
    startedAtMs: monotonicMsSchema,
    source: boundarySourceSchema,
  }),
  z.strictObject({
    type: z.literal('holdRevised'),
    ...ofAthlete,
    holdId: idSchema,
    startedAtMs: monotonicMsSchema,
    endedAtMs: z.nullable(monotonicMsSchema),
  }),
  z.strictObject({
    type: z.literal('holdEnded'),
    ...ofAthlete,
    /** null: whichever hold is in progress (a tap on the pool deck). */
    holdId: z.nullable(idSchema),
    endedAtMs: monotonicMsSchema,
    source: boundarySourceSchema,
    /** Lowest saturation read that belongs to this hold, null when it is not known. */
    lowestSpo2Percent: z.nullable(z.number()),
    /** The athlete's floor then, null when there is none. */
    floorSpo2Percent: z.nullable(z.number()),
  }),
  z.strictObject({ type: z.literal('holdWithdrawn'), ...ofAthlete, holdId: idSchema }),
  z.strictObject({ type: z.literal('lap'), ...ofAthlete }),
  /** The whole set of alarm conditions present now. */
  z.strictObject({ type: z.literal('alarms'), ...ofAthlete, present: z.array(alarmKindSchema) }),
  /** Whether saturation and heart rate are back near rest; null where no sensor can tell. Sent on change. */
  z.strictObject({
    type: z.literal('vitals'),
    ...ofAthlete,
    saturationBack: z.nullable(z.boolean()),
    heartRateBack: z.nullable(z.boolean()),
  }),
  z.strictObject({ type: z.literal('notReady'), ...ofAthlete }),
  z.strictObject({ type: z.literal('ready'), ...ofAthlete }),
  /** A person called the hold off. */
  z.strictObject({ type: z.literal('abort'), ...ofAthlete }),
  /** The explicit choice to go on after an abort. */
  z.strictObject({ type: z.literal('continueAfterAbort'), ...ofAthlete }),
  z.strictObject({ type: z.literal('pause'), ...ofOneOrAll }),
  z.strictObject({ type: z.literal('resume'), ...ofOneOrAll }),
  z.strictObject({ type: z.literal('end'), ...ofOneOrAll }),
  z.strictObject({ type: z.literal('skip'), ...ofAthlete }),
  /** One more hold at the end. */
  z.strictObject({
    type: z.literal('add'),
    ...ofAthlete,
    ceilingMs: z.nullable(z.number().check(z.gte(5_000), z.lte(900_000))),
    recoveryMs: z.number().check(z.gte(0), z.lte(1_800_000)),
  }),
  z.strictObject({ type: z.literal('change'), ...ofAthlete, change: planChangeSchema }),
  /** How the last hold felt: 1 very uncomfortable, 5 easy. */
  z.strictObject({
    type: z.literal('comfort'),
    ...ofAthlete,
    comfort: z.number().check(z.int(), z.gte(1), z.lte(5)),
  }),
  /** The hub was away from `fromMs`, the last time the run was told, until `atMs`: nobody heard a cue in between. */
  z.strictObject({ type: z.literal('away'), ...base, fromMs: monotonicMsSchema }),
]);
export type PlanRunEvent = z.infer<typeof planRunEventSchema>;

/** POST /api/plan-runs/current/take-back-end: for so long a run that a person ended goes on as if nobody had. */
export const endCanBeTakenBackMs = 30_000;

/** What a person at a page may send; the rest is the hub's own observation. */
export const planRunTapTypes = [
  'holdStarted',
  'holdEnded',
  'lap',
  'notReady',
  'ready',
  'abort',
  'continueAfterAbort',
  'pause',
  'resume',
  'end',
  'skip',
  'add',
  'change',
  'comfort',
] as const;

/** How a plan is run, chosen before it starts. */
export const planRunOptionsSchema = z.strictObject({
  /** As many as a session takes; those of one `offsetMs` start together, a wave. */
  athletes: z
    .array(z.strictObject({ athleteId: idSchema, offsetMs: z.number().check(z.gte(0), z.lte(3_600_000)) }))
    .check(z.minLength(1), z.maxLength(32)),
  /** One holds while the others watch: no start while another athlete of this run is holding. */
  oneAtATime: z.boolean(),
  /**
   * Without sensors or taps: a hold is taken to begin at its start cue and to end at its ceiling.
   * Such boundaries are called assumed wherever they are shown; a mark or detection replaces them.
   */
  assumeFromCues: z.boolean(),
  /** Codes of the warnings that a person has read and chosen to start with (src/plans/check-plan.ts). */
  acceptedWarnings: z.array(z.string().check(z.maxLength(64))).check(z.maxLength(32)),
});
export type PlanRunOptions = z.infer<typeof planRunOptionsSchema>;

export const storedPlanRunSchema = z.object({
  runId: idSchema,
  /** The session that was being recorded when the run was started. */
  sessionId: z.nullable(idSchema),
  startedWallAtMs: z.number(),
  /** In run time; null while it runs. */
  endedAtMs: z.nullable(z.number()),
  plan: planSchema,
  options: planRunOptionsSchema,
  /** All but `time`, in the order they were taken in. */
  events: z.array(planRunEventSchema),
});
export type StoredPlanRun = z.infer<typeof storedPlanRunSchema>;

/** POST /api/plan-runs. Answers 409 `needsChoice` with `planWarningsBodySchema` while a warning is not accepted. */
export const planRunRequestSchema = z.object({
  plan: planSchema,
  options: planRunOptionsSchema,
  /** For the preview of holds without a ceiling; null when not known. */
  longestHoldMs: z.nullable(z.number().check(z.gte(5_000), z.lte(900_000))),
});
export const planWarningsBodySchema = z.object({
  code: z.literal('needsChoice'),
  message: z.string(),
  warnings: z.array(z.object({ code: z.string(), said: saidSchema })),
});

/** GET /api/plan-runs/current?since=N: the running plan and its events from number N on. */
export const currentPlanRunBodySchema = z.object({
  run: z.nullable(z.omit(storedPlanRunSchema, { events: true })),
  /** Run time now, by the hub. */
  nowMs: z.number(),
  timeScale: z.number(),
  since: z.number(),
  events: z.array(planRunEventSchema),
  /** The athletes whose runs the page is to show, where it may not see all; left out for all. */
  shownAthleteIds: z.optional(z.array(idSchema)),
});
export type CurrentPlanRunBody = z.infer<typeof currentPlanRunBodySchema>;

/** POST /api/plan-runs/current/events. The hub sets `atMs`, and for a tap the boundary's time too. */
export const planRunEventRequestSchema = z.object({ event: planRunEventSchema });

/** GET /api/plan-runs, newest first. Of a run with others a page that may not see them gets its own athletes alone. */
export const planRunsBodySchema = z.object({
  runs: z.array(z.omit(storedPlanRunSchema, { events: true })),
});

/** GET /api/plan-runs/:runId */
export const planRunBodySchema = z.extend(storedPlanRunSchema, {
  /**
   * The athletes whose runs the page may show, where it may not see all; left out for all. Others are then in the options and
   * events only where turns were taken, without a name.
   */
  shownAthleteIds: z.optional(z.array(idSchema)),
});
export type PlanRunBody = z.infer<typeof planRunBodySchema>;
