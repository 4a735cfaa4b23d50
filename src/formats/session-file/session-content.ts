// What a session file holds of one athlete's part of a session, by schemas of the file's own: what the store keeps may
// change with the store, a file that was written may not. README.md beside this describes it for other programs.

import * as z from 'zod/mini';
import { correctionRequestSchema } from '../../../shared/http.ts';
import { planRunEventSchema, storedPlanRunSchema } from '../../../shared/plan-run.ts';
import { saidSchema } from '../../../shared/said.ts';
import {
  alarmDetailSchema,
  alarmKindSchema,
  alarmPrioritySchema,
  alarmSubjectSchema,
  boundarySourceSchema,
  markKindSchema,
  monotonicMsSchema,
  percentSchema,
  qualitySchema,
  supervisionCauseSchema,
  wallMsSchema,
} from '../../../shared/schema-parts.ts';

export const sessionFileFormat = 'slackwater-session';
/** Raised by every change of what is written. A file of a greater version is refused by name. */
export const sessionFileVersion = 1;

export const fileNames = {
  manifest: 'manifest.json',
  head: 'session.json',
  events: 'events.json',
  plans: 'plans.json',
} as const;

/** "packets/00001.bin". */
export const segmentName = (index: number): string => `packets/${String(index + 1).padStart(5, '0')}.bin`;

/**
 * The one athlete of the file, wherever a shape asks for an id: who it is, is said by whoever reads it in.
 * Ids of marks, holds, alarms and corrections mean something within the file only.
 */
export const athleteOfFile = 'athlete';

/** A week: longer than any session, and far from what would overflow. */
const longestMs = 604_800_000;
const sessionMs = monotonicMsSchema.check(z.refine((value) => value <= longestMs));
const text = (most: number) => z.string().check(z.maxLength(most));
const id = z.string().check(z.minLength(1), z.maxLength(200));
const nullable = z.nullable;

export const manifestSchema = z.strictObject({
  format: z.literal(sessionFileFormat),
  version: z.number().check(z.int(), z.gte(1)),
  notice: text(200),
  simulated: z.boolean(),
  /** Every other file of the archive, in the order in which they stand in it. */
  files: z
    .array(
      z.strictObject({
        name: text(80),
        byteCount: z.number().check(z.int(), z.gte(0)),
        sha256: z.string().check(z.regex(/^[0-9a-f]{64}$/)),
      }),
    )
    .check(z.minLength(3), z.maxLength(5_000)),
});
export type SessionManifest = z.infer<typeof manifestSchema>;

const settings = z.strictObject({
  floorSpo2Percent: percentSchema,
  thresholdsPercent: z.array(percentSchema).check(z.maxLength(8)),
  heartRateLowBpm: nullable(z.number()),
  heartRateHighBpm: nullable(z.number()),
  maxHoldDurationMs: nullable(z.number()),
  forecastAlarm: z.enum(['high', 'medium', 'off']),
});

const link = z.enum(['searching', 'connecting', 'connected', 'lost', 'off']);

/** Of `session.json`. */
export const sessionHeadSchema = z.strictObject({
  athleteName: text(200),
  title: text(500),
  startedWallAtMs: wallMsSchema,
  durationMs: sessionMs,
  simulated: z.boolean(),
  /** The version of the hub that recorded it, where that is known. */
  recordedBy: nullable(text(80)),
  /** True where parts of the recording could not be read any more when the file was written. */
  incomplete: z.boolean(),
  /** In force when the session began. */
  settings,
  sensors: z
    .array(
      z.strictObject({
        sensorId: id,
        name: text(200),
        kinds: z.array(z.enum(['heartRate', 'oximeter', 'breathing'])).check(z.maxLength(3)),
        source: z.enum(['bluetooth', 'simulated', 'replay']),
        link,
        detail: nullable(saidSchema),
        batteryPercent: nullable(percentSchema),
        rssiDbm: nullable(z.number()),
        /** Worn from then on, and until then where it was taken off. */
        fromMs: sessionMs,
        untilMs: z.optional(sessionMs),
      }),
    )
    .check(z.maxLength(1_000)),
  /** By which sensors with a protocol of their own are read, as such profiles are written by people. */
  profiles: z.array(z.record(z.string(), z.unknown())).check(z.maxLength(100)),
  /** What the packets name by number. */
  streams: z.array(z.strictObject({ sensorId: id, characteristic: text(80) })).check(z.maxLength(10_000)),
  unwatched: z.array(
    z.strictObject({
      fromMs: sessionMs,
      toMs: sessionMs,
      fromWallMs: wallMsSchema,
      toWallMs: wallMsSchema,
      cause: supervisionCauseSchema,
    }),
  ),
});

const reading = nullable(
  z.strictObject({
    value: z.number(),
    atMs: sessionMs,
    quality: qualitySchema,
    reasons: z.array(text(80)),
    sensorId: id,
  }),
);
const boundary = z.strictObject({
  atMs: sessionMs,
  uncertaintyMs: z.number().check(z.gte(0)),
  declaredAtMs: sessionMs,
  source: boundarySourceSchema,
  evidence: z.array(text(80)),
});
const hold = z.strictObject({
  holdId: id,
  start: boundary,
  end: nullable(boundary),
  probableEnd: z.optional(boundary),
  contractionCount: z.number(),
  firstContractionAtMs: nullable(sessionMs),
  lowestSpo2: reading,
  feeling: z.optional(
    z.strictObject({
      comfort: nullable(z.number().check(z.int(), z.gte(1), z.lte(5))),
      note: nullable(text(2_000)),
    }),
  ),
  confidence: z.optional(z.number()),
  isProposed: z.optional(z.boolean()),
});
const alarm = z.strictObject({
  alarmId: id,
  kind: alarmKindSchema,
  priority: alarmPrioritySchema,
  highestPriority: alarmPrioritySchema,
  raisedAtMs: sessionMs,
  conditionPresent: z.boolean(),
  timesPresent: z.number(),
  passedAtMs: nullable(sessionMs),
  acknowledged: z.boolean(),
  acknowledgedAtMs: nullable(sessionMs),
  acknowledgedBy: nullable(text(200)),
  value: nullable(z.number()),
  worstValue: nullable(z.number()),
  worstAtMs: nullable(sessionMs),
  limit: nullable(z.number()),
  likely: nullable(z.strictObject({ lowPercent: z.number(), highPercent: z.number() })),
  subject: nullable(alarmSubjectSchema),
  sensorId: nullable(id),
  detail: nullable(alarmDetailSchema),
  holdNear: z.boolean(),
  message: text(2_000),
  instruction: text(2_000),
});

/** Of `events.json`: what was said and done, each in the order in which it was first kept. */
export const sessionEventsSchema = z.strictObject({
  marks: z.array(
    z.strictObject({
      markId: id,
      kind: markKindSchema,
      atMs: sessionMs,
      text: nullable(text(2_000)),
      removed: z.boolean(),
      saidAtMs: z.optional(sessionMs),
      removedAtMs: z.optional(sessionMs),
    }),
  ),
  /** As the live detector said them. */
  holds: z.array(z.strictObject({ hold, withdrawn: z.boolean() })),
  alarms: z.array(z.strictObject({ alarm, clearedAtMs: nullable(sessionMs) })),
  settingsChanges: z.array(z.strictObject({ atMs: sessionMs, settings })),
  linkEvents: z.array(z.strictObject({ sensorId: id, atMs: sessionMs, link, detail: nullable(saidSchema) })),
  changes: z.array(
    z.strictObject({
      atMs: sessionMs,
      change: z.enum(['joined', 'left', 'sensorGiven', 'sensorTaken']),
      sensor: nullable(z.strictObject({ sensorId: id, name: text(200) })),
      by: text(200),
    }),
  ),
  schedules: z.array(z.strictObject({ atMs: sessionMs, startAtMs: sessionMs, toleranceMs: z.number() })),
  /** Steps, in the order they were made; undoing is a step too. */
  corrections: z.array(
    z.strictObject({
      correctionId: id,
      madeWallAtMs: z.number(),
      correction: z.union([
        correctionRequestSchema,
        z.strictObject({ type: z.literal('undo'), correctionId: id }),
      ]),
      estimated: nullable(z.strictObject({ startMs: sessionMs, endMs: nullable(sessionMs) })),
    }),
  ),
});

const { startedWallAtMs, endedAtMs, plan, options } = storedPlanRunSchema.shape;

/** Of `plans.json`: the plans that were run in the session, with this athlete's part of each run. */
export const sessionPlansSchema = z.strictObject({
  runs: z
    .array(z.strictObject({ startedWallAtMs, endedAtMs, plan, options, events: z.array(planRunEventSchema) }))
    .check(z.maxLength(1_000)),
});

export type SessionFileHead = z.output<typeof sessionHeadSchema>;
export type SessionFileEvents = z.output<typeof sessionEventsSchema>;
export type SessionFilePlans = z.output<typeof sessionPlansSchema>;

/** All of it but the packets. */
export interface SessionContent {
  readonly head: SessionFileHead;
  readonly events: SessionFileEvents;
  readonly plans: SessionFilePlans;
}
