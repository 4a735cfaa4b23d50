// The bodies of the hub's HTTP answers and requests: athletes, recordings, measures. Paths stand beside each.

import * as z from 'zod/mini';
import { errorCodeSchema } from './error-codes.ts';
import { idSchema, monotonicMsSchema, wallMsSchema } from './schema-parts.ts';
import {
  alarmViewSchema,
  athleteSchema,
  athleteSettingsSchema,
  holdViewSchema,
  markSchema,
  sensorViewSchema,
  sessionViewSchema,
  traceSchema,
} from './views.ts';

/** Every answer that is not 2xx. */
export const errorBodySchema = z.object({ code: errorCodeSchema, message: z.string() });
export type ErrorBody = z.infer<typeof errorBodySchema>;

/** GET /api/athletes */
export const athletesBodySchema = z.object({ athletes: z.array(athleteSchema) });
/** POST /api/athletes, PUT /api/athletes/:athleteId */
export const athleteRequestSchema = z.object({
  name: z.string().check(z.minLength(1), z.maxLength(80)),
  settings: z.optional(athleteSettingsSchema),
});
/** PUT /api/sensors/:sensorId/athlete */
export const assignSensorRequestSchema = z.object({ athleteId: z.nullable(idSchema) });
/** GET /api/sensors */
export const sensorsBodySchema = z.object({
  sensors: z.array(sensorViewSchema),
  radioNotice: z.nullable(z.string()),
});

/** GET /api/sessions, newest first. */
export const sessionsBodySchema = z.object({
  sessions: z.array(
    z.object({
      session: sessionViewSchema,
      athleteNames: z.array(z.string()),
      holdCount: z.number(),
      durationMs: z.number(),
    }),
  ),
});
export type SessionsBody = z.infer<typeof sessionsBodySchema>;

/**
 * One measure of a hold. `value` is null where the signals could not tell: never zero.
 * The key names the entry of the measures table in src/holds/measures.ts, which has its definition and source.
 */
export const measureSchema = z.object({
  key: z.string(),
  label: z.string(),
  unit: z.string(),
  value: z.nullable(z.number()),
  /** Why it is not known, where it is not. */
  whyNot: z.nullable(z.string()),
  /** What exactly is measured, and after whom. */
  definition: z.string(),
  source: z.string(),
});
export type MeasureView = z.infer<typeof measureSchema>;

export const gapSchema = z.object({
  sensorId: idSchema,
  fromMs: monotonicMsSchema,
  toMs: monotonicMsSchema,
  reason: z.string(),
});
export type GapView = z.infer<typeof gapSchema>;

export const athleteRecordingSchema = z.object({
  athlete: athleteSchema,
  holds: z.array(z.object({ hold: holdViewSchema, measures: z.array(measureSchema) })),
  /** The live detector's first estimates, kept beside what stands in `holds`. */
  liveHolds: z.array(holdViewSchema),
  marks: z.array(markSchema),
  removedMarks: z.array(markSchema),
  alarms: z.array(z.object({ alarm: alarmViewSchema, clearedAtMs: z.nullable(monotonicMsSchema) })),
  gaps: z.array(gapSchema),
  discardedCount: z.number(),
});
export type AthleteRecording = z.infer<typeof athleteRecordingSchema>;

/** GET /api/sessions/:sessionId */
export const recordingBodySchema = z.object({
  session: sessionViewSchema,
  durationMs: z.number(),
  athletes: z.array(athleteRecordingSchema),
  sensors: z.array(sensorViewSchema),
});
export type RecordingBody = z.infer<typeof recordingBodySchema>;

/**
 * GET /api/sessions/:sessionId/athletes/:athleteId/trace?fromMs&toMs&points
 * Thinned to at most `points` buckets with each bucket's least and greatest value kept.
 */
export const traceBodySchema = z.object({
  fromMs: z.number(),
  toMs: z.number(),
  traces: z.array(traceSchema),
  thinned: z.boolean(),
});
export type TraceBody = z.infer<typeof traceBodySchema>;

/** GET /api/health */
export const healthBodySchema = z.object({
  ok: z.boolean(),
  hubVersion: z.string(),
  protocolVersion: z.number(),
  wallNowMs: wallMsSchema,
  recording: z.boolean(),
  notices: z.array(z.string()),
});
