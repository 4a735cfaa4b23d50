// The shapes of what is kept in rows and read back years later, by schemas of the recorder's own: what a page is sent may
// change with the page, what was stored may not. A row that does not fit is damage, told and left out.

import * as z from 'zod/mini';
import { type Said, said, saidSchema } from '../../shared/said.ts';
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
} from '../../shared/schema-parts.ts';

/** Why a link was as it was: a sentence in recordings of before, told in its own words; said by code since. */
const toldDetail = z.nullable(
  z.union([
    saidSchema,
    z.pipe(
      z.string(),
      z.transform((text): Said => said('said.asTold', { text })),
    ),
  ]),
);

const reading = z.nullable(
  z.object({
    value: z.number(),
    atMs: monotonicMsSchema,
    quality: qualitySchema,
    reasons: z.array(z.string()),
    sensorId: z.string(),
  }),
);

const boundary = z.object({
  atMs: monotonicMsSchema,
  uncertaintyMs: z.number(),
  declaredAtMs: monotonicMsSchema,
  source: boundarySourceSchema,
  evidence: z.array(z.string()),
});

const feeling = z.object({ comfort: z.nullable(z.number()), note: z.nullable(z.string()) });

const keptHold = z.object({
  holdId: z.string(),
  start: boundary,
  end: z.nullable(boundary),
  probableEnd: z.optional(boundary),
  contractionCount: z.number(),
  firstContractionAtMs: z.nullable(monotonicMsSchema),
  lowestSpo2: reading,
  feeling: z.optional(feeling),
  confidence: z.optional(z.number()),
  isProposed: z.optional(z.boolean()),
});

const keptAlarm = z.object({
  alarmId: z.string(),
  kind: alarmKindSchema,
  priority: alarmPrioritySchema,
  highestPriority: alarmPrioritySchema,
  raisedAtMs: monotonicMsSchema,
  conditionPresent: z.boolean(),
  timesPresent: z.number(),
  passedAtMs: z.nullable(monotonicMsSchema),
  acknowledged: z.boolean(),
  acknowledgedAtMs: z.nullable(monotonicMsSchema),
  acknowledgedBy: z.nullable(z.string()),
  value: z.nullable(z.number()),
  worstValue: z.nullable(z.number()),
  worstAtMs: z.nullable(monotonicMsSchema),
  limit: z.nullable(z.number()),
  likely: z.nullable(z.object({ lowPercent: z.number(), highPercent: z.number() })),
  subject: z.nullable(alarmSubjectSchema),
  sensorId: z.nullable(z.string()),
  detail: z.nullable(alarmDetailSchema),
  holdNear: z.boolean(),
  message: z.string(),
  instruction: z.string(),
});

const settings = z.object({
  floorSpo2Percent: percentSchema,
  thresholdsPercent: z.array(percentSchema),
  heartRateLowBpm: z.nullable(z.number()),
  heartRateHighBpm: z.nullable(z.number()),
  maxHoldDurationMs: z.nullable(z.number()),
  forecastAlarm: z.enum(['high', 'medium', 'off']),
});

const athlete = z.object({
  athleteId: z.string(),
  name: z.string(),
  simulated: z.boolean(),
  settings,
});

const sensor = z.object({
  sensorId: z.string(),
  name: z.string(),
  kinds: z.array(z.enum(['heartRate', 'oximeter', 'breathing'])),
  source: z.enum(['bluetooth', 'simulated', 'replay']),
  link: z.enum(['searching', 'connecting', 'connected', 'lost', 'off']),
  detail: toldDetail,
  batteryPercent: z.nullable(percentSchema),
  rssiDbm: z.nullable(z.number()),
  athleteId: z.string(),
  fromMs: monotonicMsSchema,
  untilMs: z.optional(monotonicMsSchema),
});

const mark = z.object({
  markId: z.string(),
  athleteId: z.string(),
  kind: markKindSchema,
  atMs: monotonicMsSchema,
  text: z.nullable(z.string()),
});

/** By the kind of a row of a session. */
const entrySchemas = {
  sensor,
  mark: z.object({
    mark,
    removed: z.boolean(),
    saidAtMs: z.optional(monotonicMsSchema),
    removedAtMs: z.optional(monotonicMsSchema),
  }),
  hold: z.object({ athleteId: z.string(), hold: keptHold, withdrawn: z.boolean() }),
  alarm: z.object({
    athleteId: z.string(),
    alarm: keptAlarm,
    clearedAtMs: z.nullable(monotonicMsSchema),
  }),
  settings: z.object({ athleteId: z.string(), atMs: monotonicMsSchema, settings }),
  link: z.object({
    sensorId: z.string(),
    atMs: monotonicMsSchema,
    link: sensor.shape.link,
    detail: toldDetail,
  }),
  change: z.object({
    athleteId: z.string(),
    atMs: monotonicMsSchema,
    change: z.enum(['joined', 'left', 'sensorGiven', 'sensorTaken']),
    sensor: z.nullable(z.object({ sensorId: z.string(), name: z.string() })),
    by: z.string(),
  }),
  schedule: z.object({
    athleteId: z.string(),
    atMs: monotonicMsSchema,
    startAtMs: monotonicMsSchema,
    toleranceMs: z.number(),
  }),
  unwatched: z.object({
    fromMs: monotonicMsSchema,
    toMs: monotonicMsSchema,
    fromWallMs: wallMsSchema,
    toWallMs: wallMsSchema,
    cause: supervisionCauseSchema,
  }),
  alive: z.object({
    atMs: monotonicMsSchema,
    wallMs: wallMsSchema,
    bootId: z.nullable(z.string()),
    bootMs: z.number(),
  }),
} as const;

export type KeptAthlete = z.output<typeof athlete>;

/** Undefined for what does not fit. */
export function readEntry<Kind extends keyof typeof entrySchemas>(
  kind: Kind,
  body: unknown,
): z.output<(typeof entrySchemas)[Kind]> | undefined {
  const read = z.safeParse(entrySchemas[kind], body);
  // The type of the answer follows from the kind, which the compiler cannot see through the table.
  return read.success ? (read.data as z.output<(typeof entrySchemas)[Kind]>) : undefined;
}

/** Undefined for what is no athlete. */
export function readAthlete(body: unknown): KeptAthlete | undefined {
  const read = z.safeParse(athlete, body);
  return read.success ? read.data : undefined;
}

const sessionHead = z.object({
  simulated: z.boolean(),
  source: z.enum(['live', 'simulated', 'replay', 'import']),
  title: z.string(),
  athletes: z.array(athlete),
  madeBy: z.optional(z.string()),
  /** Who led it; absent where nobody said so. */
  leaders: z.optional(z.array(z.object({ leaderId: z.string(), name: z.string() }))),
  /** What of it lies in the bin: all of it, or one athlete's part. Absent in most. */
  binned: z.optional(z.array(z.object({ athleteId: z.nullable(z.string()), atWallMs: z.number() }))),
});
export type SessionHead = z.output<typeof sessionHead>;

/** The head of a session. Throws for what is no session: its row's checksum has been looked at. */
export const readSessionHead = (body: unknown): SessionHead => z.parse(sessionHead, body);
