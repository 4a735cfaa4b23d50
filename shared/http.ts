// The bodies of the hub's HTTP answers and requests: athletes, recordings, measures. Paths stand beside each.

import * as z from 'zod/mini';
import { errorCodeSchema } from './error-codes.ts';
import { nameTextSchema, optionalNameTextSchema } from './name-text.ts';
import { saidSchema } from './said.ts';
import { deviceRoleSchema, idSchema, monotonicMsSchema, roleSchema, wallMsSchema } from './schema-parts.ts';
import { sessionDetailsSchema } from './session-details.ts';
import {
  alarmViewSchema,
  athleteSchema,
  holdViewSchema,
  markSchema,
  mostLeaders,
  pairingAnswerSchema,
  sensorViewSchema,
  sessionViewSchema,
  traceSchema,
} from './views.ts';

/** Every answer that is not 2xx. */
/** The message is `said` in English, for who reads the answer without a page. */
export const errorBodySchema = z.object({
  code: errorCodeSchema,
  message: z.string(),
  said: saidSchema,
  /** What would have been the answer, where the change stands but is not saved yet; null where that is empty. */
  answer: z.optional(z.unknown()),
});
export type ErrorBody = z.infer<typeof errorBodySchema>;

/** GET /api/saved: whether everything changed before is on the disk. It is answered when that can be said. */
export const savedBodySchema = z.object({
  /** Of the hub's process: what was not saved by another is gone, where it was not sent again. */
  hubRunId: idSchema,
  saved: z.boolean(),
});

/** GET /api/athletes */
export const athletesBodySchema = z.object({ athletes: z.array(athleteSchema) });
/** GET /api/athletes/:athleteId/oxygen: what their holds taught of how their saturation falls; null before the first. */
export const athleteOxygenBodySchema = z.object({ prior: z.nullable(z.unknown()) });
/** POST /api/athletes, PUT /api/athletes/:athleteId */
export const athleteRequestSchema = z.object({
  name: nameTextSchema(80),
});
/**
 * GET /api/athletes/:athleteId/belongings: what `DELETE /api/athletes/:athleteId?recordings=all` would erase, counted. Not
 * while a session is recorded.
 */
export const belongingsBodySchema = z.object({
  /** Of nobody else: deleted whole. */
  ownRecordings: z.number(),
  /** With others in them: the athlete's part is taken out. */
  sharedRecordings: z.number(),
  /** That somebody of their name led: the name is taken out. */
  ledRecordings: z.number(),
  holds: z.number(),
  marks: z.number(),
  corrections: z.number(),
  trainingEntries: z.number(),
  planRuns: z.number(),
  /** Sensors remembered as theirs. */
  sensors: z.number(),
  /** Joined devices that are let out. */
  devices: z.number(),
  /** What lies in the bin of theirs, or of them and others. */
  binned: z.number(),
});
export type Belongings = z.infer<typeof belongingsBodySchema>;
/** PUT /api/sensors/:sensorId/athlete */
export const assignSensorRequestSchema = z.object({ athleteId: z.nullable(idSchema) });
/** PUT /api/sensors: several at one moment, so that two can be exchanged in a session. */
export const assignSensorsRequestSchema = z.object({
  assignments: z
    .array(z.object({ sensorId: idSchema, athleteId: z.nullable(idSchema) }))
    .check(z.minLength(1), z.maxLength(64)),
});
/** POST /api/sensors/:sensorId/pairing: what a person says to a sensor that pairs. */
export const answerPairingRequestSchema = z.object({ requestId: idSchema, answer: pairingAnswerSchema });
/** GET /api/sensors */
export const sensorsBodySchema = z.object({
  sensors: z.array(sensorViewSchema),
  notices: z.array(saidSchema),
});

/** PUT /api/sessions/:sessionId: what a recording is called; '' for nothing. Not while it is being recorded. */
export const titleRequestSchema = z.object({ title: optionalNameTextSchema(120) });

/** PUT /api/sessions/:sessionId/leaders: who led it; nobody for an empty list. Not while it is being recorded. */
export const leadersRequestSchema = z.object({
  names: z.array(nameTextSchema(80)).check(z.maxLength(mostLeaders)),
});

/** GET /api/leaders: everybody who stands in a recording as who led it, by name; of one name, all their ids. */
export const leadersBodySchema = z.object({
  leaders: z.array(
    z.object({ leaderIds: z.array(idSchema), name: z.string(), sessionCount: z.int().check(z.gte(0)) }),
  ),
});
export type LeadersBody = z.infer<typeof leadersBodySchema>;

const listedRecordingSchema = z.object({
  session: sessionViewSchema,
  athleteNames: z.array(z.string()),
  holdCount: z.number(),
  longestHoldMs: z.nullable(z.number()),
  lowestSpo2Percent: z.nullable(z.number()),
  /**
   * Where the three figures of holds come from: worked out from the whole recording and corrected by hand, as everywhere else;
   * the same by an earlier version of the hub; or only what was told live, as long as nothing else is there.
   */
  figuresBy: z.enum(['analysis', 'earlierVersion', 'live']),
  durationMs: z.number(),
  /** What was noted of each athlete's session, of those of whom something was. */
  details: z.array(z.object({ athleteId: idSchema, details: sessionDetailsSchema })),
  /** Titles of the plans run in it. */
  plans: z.array(z.string()),
});

/** GET /api/sessions, newest first. */
export const sessionsBodySchema = z.object({ sessions: z.array(listedRecordingSchema) });
export type SessionsBody = z.infer<typeof sessionsBodySchema>;

/**
 * GET /api/recordings: a page of those that are looked for, newest first. Query: `search`, `athleteId`, `leader`, `kind`, `plan`, `tag`,
 * `place`, `condition`, `fromMs`, `untilMs`, `page` from 0, and `untitled`, by which those without a title are found
 * (src/sessions/found-recordings.ts).
 */
export const foundRecordingsBodySchema = z.object({
  recordings: z.array(listedRecordingSchema),
  /** Figures of some of these are being worked out: ask again. */
  isWorkingOut: z.boolean(),
  /** Which page it is: the last where one beyond was asked for. */
  page: z.number(),
  pages: z.number(),
  foundCount: z.number(),
  wholeCount: z.number(),
  /** What occurs in all of them. */
  choices: z.object({
    athletes: z.array(z.object({ athleteId: idSchema, name: z.string() })),
    leaders: z.array(z.string()),
    plans: z.array(z.string()),
    tags: z.array(z.string()),
    places: z.array(z.string()),
  }),
});
export type FoundRecordingsBody = z.infer<typeof foundRecordingsBodySchema>;

/**
 * One measure of a hold. `value` is null where the signals could not tell: never zero.
 * `measure.KEY` words its name and `measure.KEY.is` what exactly it is (shared/words/).
 */
export const measureSchema = z.object({
  key: z.string(),
  unit: z.string(),
  value: z.nullable(z.number()),
  /** Why it is not known, where it is not. */
  whyNot: z.nullable(saidSchema),
  /** After whom it is measured. */
  source: saidSchema,
});
export type MeasureView = z.infer<typeof measureSchema>;

export const gapSchema = z.object({
  sensorId: idSchema,
  fromMs: monotonicMsSchema,
  toMs: monotonicMsSchema,
  reason: saidSchema,
});
export type GapView = z.infer<typeof gapSchema>;

/**
 * PUT /api/sessions/:sessionId/athletes/:athleteId/corrections: one correction of the holds or of marks (contractions
 * and notes), laid over what is there.
 * Answers with the athlete's recording as corrected (`athleteRecordingSchema`), measures computed anew; 400 with one
 * sentence where holds would overlap, have no length or lie outside the recording.
 * DELETE of the same path takes back the last correction still in force and answers alike; 404 where there is none.
 * POST of it brings back what was taken back last, until another correction is made; 404 where there is none.
 * The estimate is never changed, and what was taken back stays in the list.
 */
export const correctionRequestSchema = z.discriminatedUnion('type', [
  z.object({
    type: z.literal('moveBoundary'),
    holdId: idSchema,
    boundary: z.enum(['start', 'end']),
    atMs: monotonicMsSchema,
  }),
  z.object({ type: z.literal('addHold'), startMs: monotonicMsSchema, endMs: monotonicMsSchema }),
  z.object({ type: z.literal('removeHold'), holdId: idSchema }),
  z.object({
    type: z.literal('addMark'),
    kind: z.enum(['contraction', 'note']),
    atMs: monotonicMsSchema,
    text: z.nullable(z.string().check(z.maxLength(2_000))),
  }),
  z.object({ type: z.literal('moveMark'), markId: idSchema, atMs: monotonicMsSchema }),
  z.object({ type: z.literal('removeMark'), markId: idSchema }),
]);
export type CorrectionRequest = z.infer<typeof correctionRequestSchema>;

export const correctionViewSchema = z.object({
  correctionId: idSchema,
  madeWallAtMs: wallMsSchema,
  correction: correctionRequestSchema,
  /** `holdNotFound`: in force, but the hold it corrects is not in the recording any more. */
  state: z.enum(['inForce', 'undone', 'holdNotFound']),
});
export type CorrectionView = z.infer<typeof correctionViewSchema>;

/** GET /api/sessions/:sessionId/athletes/:athleteId, and part of the whole session's body. */
export const athleteRecordingSchema = z.object({
  athlete: athleteSchema,
  /** False where holds are still as they were said live, without measures, estimates and gaps: ask for the athlete. */
  workedOut: z.boolean(),
  /** As corrected by hand where it was; the source of such a boundary is `corrected`. */
  holds: z.array(z.object({ hold: holdViewSchema, measures: z.array(measureSchema) })),
  /** The same before any correction. */
  estimatedHolds: z.array(holdViewSchema),
  /** In the order they were made, taken back ones too. */
  corrections: z.array(correctionViewSchema),
  /** The live detector's first estimates, kept beside what stands in `holds`. */
  liveHolds: z.array(holdViewSchema),
  /** As corrected: `how` says whether one stands as it was marked at the time, in time order. */
  marks: z.array(
    z.object({
      ...markSchema.shape,
      how: z.enum(['asMarked', 'added', 'moved']),
      originallyAtMs: z.nullable(monotonicMsSchema),
    }),
  ),
  /** Taken back at the time, or taken away by a correction. */
  removedMarks: z.array(markSchema),
  /** What was taken back last can be brought back. */
  canRedo: z.boolean(),
  alarms: z.array(z.object({ alarm: alarmViewSchema, clearedAtMs: z.nullable(monotonicMsSchema) })),
  /** They came or went, or got or gave a sensor, while the session ran; in the order it happened. */
  changes: z.array(
    z.object({
      atMs: monotonicMsSchema,
      change: z.enum(['joined', 'left', 'sensorGiven', 'sensorTaken']),
      sensorName: z.nullable(z.string()),
      /** A device's name, empty for the hub's own machine. */
      by: z.string(),
    }),
  ),
  gaps: z.array(gapSchema),
  discardedCount: z.number(),
});
export type AthleteRecording = z.infer<typeof athleteRecordingSchema>;

/**
 * GET /api/sessions/:sessionId: with everything worked out, which can take a second or more an athlete. With `?outline`
 * at once, with what is known.
 */
export const recordingBodySchema = z.object({
  session: sessionViewSchema,
  /** What of it cannot be read any more, a sentence each. */
  damage: z.array(saidSchema),
  durationMs: z.number(),
  athletes: z.array(athleteRecordingSchema),
  sensors: z.array(sensorViewSchema),
});
export type RecordingBody = z.infer<typeof recordingBodySchema>;

/** GET /api/sessions/:sessionId/athletes/:athleteId/progress: how far working it out has come, 0 to 1, or null. */
export const progressBodySchema = z.object({ share: z.nullable(z.number()) });

/**
 * GET /api/sessions/:sessionId/athletes/:athleteId/trace?fromMs&toMs&points
 * Decimated to at most `points` buckets with each bucket's least and greatest value kept.
 */
export const traceBodySchema = z.object({
  fromMs: z.number(),
  toMs: z.number(),
  traces: z.array(traceSchema),
  decimated: z.boolean(),
  /** False for signals as the sensors sent them: as asked for, or, without waves, because the recording is
   * still being worked out. */
  cleaned: z.boolean(),
});
export type TraceBody = z.infer<typeof traceBodySchema>;

/** Multiples that take a column of each channel to the channel's own unit, for a choice of units. */
export const importUnits = {
  heartRateBpm: [
    { label: '/min', factor: 1 },
    { label: 'Hz', factor: 60 },
  ],
  pulseRateBpm: [
    { label: '/min', factor: 1 },
    { label: 'Hz', factor: 60 },
  ],
  rrIntervalMs: [
    { label: 'ms', factor: 1 },
    { label: 's', factor: 1_000 },
  ],
  spo2Percent: [
    { label: '%', factor: 1 },
    { label: '0 to 1', factor: 100 },
  ],
  perfusionIndexPercent: [{ label: '%', factor: 1 }],
  pleth: [{ label: 'none', factor: 1 }],
} as const;
export const importChannelSchema = z.enum([
  'heartRateBpm',
  'rrIntervalMs',
  'spo2Percent',
  'pulseRateBpm',
  'perfusionIndexPercent',
  'pleth',
]);
export const importTimeUnitSchema = z.enum([
  's',
  'ms',
  'min',
  'clock',
  'dateTime',
  'unixS',
  'unixMs',
  'unixUs',
  /** Parts of a day from the beginning, and days of a spreadsheet's calendar. */
  'days',
  'serialDays',
  /** No column: the sums of the beat intervals. */
  'beats',
]);
export const importDateOrderSchema = z.enum(['yearFirst', 'dayFirst', 'monthFirst']);

/**
 * POST /api/import/preview?fileName=NAME&timeZone=ZONE with the file's bytes as application/octet-stream: what is in it and how it
 * would be read. Nothing is stored. 400 with one sentence (with line and column, or byte) for what cannot be read.
 */
export const importPreviewBodySchema = z.object({
  format: z.enum(['longCsv', 'wideCsv', 'edf', 'session']),
  /** Null where the file does not say when it was recorded. */
  startedWallAtMs: z.nullable(wallMsSchema),
  durationMs: z.number(),
  simulated: z.boolean(),
  suggestedAthleteName: z.nullable(z.string()),
  /** What the file says, or else what it is called. */
  suggestedTitle: z.string(),
  markCount: z.number(),
  columns: z.array(
    z.object({
      index: z.number(),
      name: z.string(),
      unit: z.string(),
      /** The first few values as they stand. */
      examples: z.array(z.string()),
      suggested: z.nullable(z.object({ channel: importChannelSchema, factor: z.number() })),
    }),
  ),
  /** Of a table only: its column of time, none where times are sums of beat intervals. */
  time: z.nullable(
    z.object({
      column: z.nullable(z.number()),
      unit: importTimeUnitSchema,
      /** A column of dates beside a column of clocks. */
      dateColumn: z.nullable(z.number()),
      dateOrder: z.nullable(importDateOrderSchema),
    }),
  ),
  /** Dates that can be read with the day or with the month first: a person has to say. */
  dateOrderAmbiguous: z.boolean(),
  /** By which local times were read; it counts only where `startIsLocal`. */
  timeZone: z.string(),
  /** The file gives its times without a zone. */
  startIsLocal: z.boolean(),
  /** A long CSV and a table's time have their fixed meaning; only the columns of others can be chosen. */
  columnsMayChange: z.boolean(),
  notices: z.array(saidSchema),
});
export type ImportPreview = z.infer<typeof importPreviewBodySchema>;

/**
 * POST /api/import?fileName=NAME&plan=JSON&importId=ID with the same bytes; the plan is this, as JSON. What is left out
 * is taken as the preview suggested. Coaches only; a session may be recorded meanwhile. Closing the request cancels it.
 * With an `importId` of the page's making, GET /api/import/ID/progress says how far it is.
 */
export const importPlanSchema = z.object({
  /** An athlete of the hub, or a new one. */
  athleteId: z.optional(idSchema),
  newAthleteName: z.optional(nameTextSchema(80)),
  /** As suggested, when left out; '' for none. */
  title: z.optional(optionalNameTextSchema(200)),
  /** Needed where the file does not say. */
  startedWallAtMs: z.optional(wallMsSchema),
  columns: z.optional(
    z
      .array(
        z.object({
          index: z.number().check(z.int(), z.gte(0), z.lte(1_000)),
          channel: importChannelSchema,
          factor: z.number().check(z.gte(1e-6), z.lte(1e6)),
        }),
      )
      .check(z.maxLength(20)),
  ),
  time: z.optional(
    z.object({
      column: z.nullable(z.number().check(z.int(), z.gte(0), z.lte(1_000))),
      unit: importTimeUnitSchema,
      dateColumn: z.optional(z.nullable(z.number().check(z.int(), z.gte(0), z.lte(1_000)))),
      dateOrder: z.optional(z.nullable(importDateOrderSchema)),
    }),
  ),
  /** Name of the zone ("Europe/Berlin") of times without one; the hub's own when left out. */
  timeZone: z.optional(z.string().check(z.maxLength(60))),
});
/** GET /api/import/ID/progress; null when no such import is under way. */
export const importProgressBodySchema = z.object({
  progress: z.nullable(
    z.object({
      step: z.enum(['sending', 'waiting', 'reading', 'storing']),
      /** Of this step, 0 to 1. */
      share: z.number(),
    }),
  ),
});
export type ImportProgress = NonNullable<z.infer<typeof importProgressBodySchema>['progress']>;
export type ImportPlan = z.infer<typeof importPlanSchema>;
/** The answer, 201. */
export const importedBodySchema = z.object({
  sessionId: idSchema,
  athleteId: idSchema,
  /** What was skipped or changed on the way, a sentence each. */
  notices: z.array(saidSchema),
});
export type ImportedBody = z.infer<typeof importedBodySchema>;

/** GET /api/health */
export const healthBodySchema = z.object({
  ok: z.boolean(),
  hubVersion: z.string(),
  protocolVersion: z.number(),
  wallNowMs: wallMsSchema,
  recording: z.boolean(),
  notices: z.array(saidSchema),
});

const athleteIdsSchema = z.union([z.literal('all'), z.array(idSchema)]);

/** POST /api/join: the only request a device may make that has not joined. Answers with `accessBodySchema`. */
export const joinRequestSchema = z.object({
  /** As typed: case, spaces and dashes do not matter. */
  code: z.string().check(z.minLength(1), z.maxLength(40)),
  deviceName: z.optional(optionalNameTextSchema(40)),
});
/** POST /api/backup, 201: made, and fetched once by GET /api/backup/ID within a minute. */
export const newBackupBodySchema = z.object({ backupId: idSchema });
export type NewBackupBody = z.infer<typeof newBackupBodySchema>;

/** POST /api/own-person: what the fragment of a link from the hub's terminal carries, for a browser on its machine. */
export const ownPersonRequestSchema = z.object({ code: z.string().check(z.minLength(1), z.maxLength(120)) });
/** GET /api/access: what this page may do. 401 `notJoined` for a device that has not joined. */
export const accessBodySchema = z.object({
  role: roleSchema,
  athleteIds: athleteIdsSchema,
  deviceId: z.nullable(idSchema),
  deviceName: z.string(),
  /** At a school: the rooms of a coach of some of them; missing for everybody else. */
  rooms: z.optional(z.object({ hubs: z.array(z.string()), names: z.array(z.string()) })),
});
export type AccessBody = z.infer<typeof accessBodySchema>;

/** How other devices reach this hub. */
export const lanViewSchema = z.object({
  /** Addresses of the page, best first, without a code. */
  addresses: z.array(z.string()),
  /** SHA-256 of the hub's own certificate, as browsers show it: pairs of hex digits with colons. */
  fingerprintSha256: z.string(),
  /** The first 16 hex digits of it in four groups, for people to compare: 64 bits. */
  comparisonCode: z.string(),
  certificateEndsWallAtMs: wallMsSchema,
  /** `given`: by files of the settings. */
  signedBy: z.enum(['itself', 'hubAuthority', 'given']),
  /** The hub's own authority, which devices can be made to trust; null where the settings ask for none. */
  authority: z.nullable(
    z.object({ fingerprintSha256: z.string(), comparisonCode: z.string(), endsWallAtMs: wallMsSchema }),
  ),
  /** What a person should know, such as that the name could not be announced. */
  notices: z.array(saidSchema),
});
export type LanView = z.infer<typeof lanViewSchema>;

/**
 * GET /api/hub-certificate: what the hub says of the certificate it shows, for whoever is about to join. GET
 * /api/authority/pem, /der and /mobileconfig are its authority's certificate as files.
 */
export const hubCertificateSchema = z.pick(lanViewSchema, {
  fingerprintSha256: true,
  comparisonCode: true,
  signedBy: true,
  authority: true,
});
export type HubCertificate = z.infer<typeof hubCertificateSchema>;

/** POST /api/radio/join: what a radio on another computer sends with its code, and the token that it is given for it. */
export const radioJoinedSchema = z.object({ deviceId: idSchema, token: z.string().check(z.maxLength(120)) });

export type RadioJoined = z.infer<typeof radioJoinedSchema>;

/** GET /api/radios, for a coach: adapters of the hub's computer and radios elsewhere, and sensors known by other addresses. */
export const radiosBodySchema = z.object({
  radios: z.array(
    z.object({
      radioId: idSchema,
      /** Of the joined device, for a radio elsewhere. */
      deviceId: z.nullable(idSchema),
      name: z.string(),
      state: z.enum(['on', 'starting', 'off', 'away']),
      problem: z.nullable(saidSchema),
      sensorIds: z.array(idSchema),
      /** Null where the adapter has never refused a link, so that nobody knows. */
      freePlaces: z.nullable(z.number()),
      clockUncertaintyMs: z.nullable(z.number()),
      packetsLost: z.number(),
    }),
  ),
  /** What would be listed as `sensorId` is the sensor `as`. */
  sameSensors: z.array(z.object({ sensorId: idSchema, as: idSchema })),
});
export type RadiosBody = z.infer<typeof radiosBodySchema>;

/** PUT /api/sensors/:sensorId/same: which known sensor it is; null takes that back. */
export const sameSensorRequestSchema = z.object({ as: z.nullable(idSchema) });

/** At a school: hubs by their names there, whose rooms and recordings a coach's device may see; all where it is left out. */
const roomsOfCoachSchema = z.optional(
  z.array(z.string().check(z.minLength(1), z.maxLength(40))).check(z.minLength(1), z.maxLength(200)),
);

export const deviceViewSchema = z.object({
  deviceId: idSchema,
  name: z.string(),
  role: deviceRoleSchema,
  athleteId: z.nullable(idSchema),
  joinedWallAtMs: wallMsSchema,
  expiresWallAtMs: wallMsSchema,
  rooms: roomsOfCoachSchema,
});
export type DeviceView = z.infer<typeof deviceViewSchema>;

/** A code that can still be used. Its letters are shown once, when it is made. */
export const joinCodeViewSchema = z.object({
  codeId: idSchema,
  role: deviceRoleSchema,
  athleteId: z.nullable(idSchema),
  expiresWallAtMs: wallMsSchema,
  rooms: roomsOfCoachSchema,
});
export type JoinCodeView = z.infer<typeof joinCodeViewSchema>;

/** GET /api/devices. `lan` is null while the hub listens on its own machine only. */
export const devicesBodySchema = z.object({
  devices: z.array(deviceViewSchema),
  codes: z.array(joinCodeViewSchema),
  lan: z.nullable(lanViewSchema),
});
export type DevicesBody = z.infer<typeof devicesBodySchema>;

/** POST /api/join-codes. An athlete's code needs the athlete. */
export const joinCodeRequestSchema = z.object({
  role: deviceRoleSchema,
  athleteId: z.optional(z.nullable(idSchema)),
  rooms: roomsOfCoachSchema,
});
/** The answer: the code in clear, once, with a link that carries it and that link's QR code as an SVG text. */
export const newJoinCodeBodySchema = z.object({
  ...joinCodeViewSchema.shape,
  code: z.string(),
  joinAddress: z.string(),
  qrSvg: z.string(),
});
export type NewJoinCodeBody = z.infer<typeof newJoinCodeBodySchema>;
