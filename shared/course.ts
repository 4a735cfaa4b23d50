// What a course asks of the hub over HTTP beside its recordings: whose a sensor is, who may train, what to do in an
// emergency, drills and incidents.

import * as z from 'zod/mini';
import { nameTextSchema, optionalNameTextSchema } from './name-text.ts';
import { idSchema, wallMsSchema } from './schema-parts.ts';

/** GET /api/sensors/answering, a second after a second; POST of it begins. Null while nobody is being asked. */
export const answeringBodySchema = z.object({
  sensors: z.nullable(
    z.array(z.object({ sensorId: idSchema, state: z.enum(['unheard', 'steady', 'silent', 'answered']) })),
  ),
});
export type AnsweringBody = z.infer<typeof answeringBodySchema>;

/** A day where the hub stands, "2026-05-12". */
const daySchema = z.string().check(z.regex(/^\d{4}-\d{2}-\d{2}$/));
const longText = (most: number) => z.string().check(z.trim(), z.maxLength(most));

export const statementKindSchema = z.enum(['consent', 'fitness']);
/** Consent to be recorded, or that somebody says of themselves that they are fit to train. No medical check. */
export type StatementKind = z.infer<typeof statementKindSchema>;

/** What one athlete said of themselves, and on which day; the last of a kind stands. Only ever added to. */
export const statementSchema = z.object({
  kind: statementKindSchema,
  /** False: taken back. */
  isGiven: z.boolean(),
  onDay: daySchema,
  writtenWallAtMs: wallMsSchema,
  /** The device it was written on, empty for the hub's own machine. */
  by: z.string(),
});
export type Statement = z.infer<typeof statementSchema>;

/** POST /api/participants/:athleteId/statements */
export const statementRequestSchema = z.object({
  kind: statementKindSchema,
  isGiven: z.boolean(),
  onDay: daySchema,
});

/** GET /api/participants: coaches all, an athlete's device its own. */
export const participantsBodySchema = z.object({
  participants: z.array(
    z.object({ athleteId: idSchema, name: z.string(), statements: z.array(statementSchema) }),
  ),
});
export type Participant = z.infer<typeof participantsBodySchema>['participants'][number];

/** PUT /api/emergency-card */
export const emergencyCardRequestSchema = z.object({
  /** Whom to call here: the local emergency number. */
  number: longText(40),
  address: longText(300),
  oxygenPlace: longText(200),
  helpers: z.array(z.object({ name: nameTextSchema(80), phone: longText(40) })).check(z.maxLength(8)),
});
export type EmergencyCardRequest = z.infer<typeof emergencyCardRequestSchema>;

/** GET /api/emergency-card, and part of the `course` message. */
export const emergencyCardSchema = z.object({
  ...emergencyCardRequestSchema.shape,
  writtenWallAtMs: wallMsSchema,
  by: z.string(),
});
export type EmergencyCard = z.infer<typeof emergencyCardSchema>;

const seenBySchema = z.object({
  /** The person, as they named themselves. */
  name: z.string(),
  /** Empty for the hub's own machine. */
  device: z.string(),
});

/** An alarm drill, going on or over. */
export const drillSchema = z.object({
  drillId: idSchema,
  startedWallAtMs: wallMsSchema,
  by: z.string(),
  endedWallAtMs: z.nullable(wallMsSchema),
  /** `realAlarm`: a real one broke it off. `holdBegan`: somebody began to hold. `timeOut`: nobody ended it. */
  ending: z.nullable(z.enum(['ended', 'realAlarm', 'holdBegan', 'timeOut', 'hubStopped'])),
  /** With the time from the start to it. Empty on pages of athletes and onlookers. */
  acknowledgements: z.array(z.object({ ...seenBySchema.shape, afterMs: z.number().check(z.gte(0)) })),
});
export type Drill = z.infer<typeof drillSchema>;

/** GET /api/drills, the newest first. */
export const drillsBodySchema = z.object({ drills: z.array(drillSchema) });

/** POST /api/drills/current/acknowledgements, POST /api/incidents/:incidentId/acknowledgements */
export const seenByRequestSchema = z.object({ name: nameTextSchema(80) });

/** POST /api/incidents */
export const incidentRequestSchema = z.object({
  /** When it happened. */
  atWallMs: wallMsSchema,
  athleteId: z.nullable(idSchema),
  what: z.string().check(z.trim(), z.minLength(1), z.maxLength(2_000)),
  done: longText(2_000),
  by: optionalNameTextSchema(80),
});
export type IncidentRequest = z.infer<typeof incidentRequestSchema>;

/** What happened, as written down; never changed, only acknowledged. */
export const incidentSchema = z.object({
  ...incidentRequestSchema.shape,
  incidentId: idSchema,
  writtenWallAtMs: wallMsSchema,
  /** Empty for the hub's own machine. */
  device: z.string(),
  /** The session that ran when it was written. */
  sessionId: z.nullable(idSchema),
  acknowledgements: z.array(z.object({ ...seenBySchema.shape, atWallMs: wallMsSchema })),
});
export type Incident = z.infer<typeof incidentSchema>;

/** GET /api/incidents, the newest first. */
export const incidentsBodySchema = z.object({ incidents: z.array(incidentSchema) });

/** POST /api/athletes/:athleteId/words */
export const coachWordsRequestSchema = z.object({
  text: z.string().check(z.trim(), z.minLength(1), z.maxLength(140)),
  /** Shown in a hold too. Else it waits until the athlete neither holds nor recovers. */
  insists: z.boolean(),
});

export const coachWordsSchema = z.object({
  wordsId: idSchema,
  athleteId: idSchema,
  text: z.string(),
  /** The coach's device, empty for the hub's own machine. */
  by: z.string(),
  sentWallAtMs: wallMsSchema,
  state: z.enum(['waiting', 'shown', 'seen']),
});
export type CoachWords = z.infer<typeof coachWordsSchema>;
