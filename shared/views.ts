// The shapes of things as a page sees them: athletes, sensors, sessions, holds, alarms. Used by messages and HTTP.

import * as z from 'zod/mini';
import { saidSchema } from './said.ts';
import {
  alarmDetailSchema,
  alarmKindSchema,
  alarmPrioritySchema,
  alarmSubjectSchema,
  boundarySourceSchema,
  channelSchema,
  floorPercentSchema,
  holdLungsSchema,
  idSchema,
  markKindSchema,
  monotonicMsSchema,
  pairingCodeSchema,
  percentSchema,
  phaseSchema,
  qualitySchema,
  roleSchema,
  supervisionCauseSchema,
  supervisionKindSchema,
  wallMsSchema,
} from './schema-parts.ts';

/** A number on the screen with its truth: when it was measured and how good it is. `null` where none has come. */
export const readoutSchema = z.nullable(
  z.object({
    value: z.number(),
    atMs: monotonicMsSchema,
    quality: qualitySchema,
    reasons: z.array(z.string()),
    sensorId: idSchema,
  }),
);
export type Readout = z.infer<typeof readoutSchema>;

const boundarySchema = z.object({
  atMs: monotonicMsSchema,
  /** Half-width of the interval that holds the true time with about 68 % probability; 0 for a mark. */
  uncertaintyMs: z.number().check(z.gte(0)),
  /** When the live detector said so; equal to `atMs` for a mark. */
  declaredAtMs: monotonicMsSchema,
  source: boundarySourceSchema,
  evidence: z.array(z.string()),
});
export type BoundaryView = z.infer<typeof boundarySchema>;

/** How a hold felt, as a person said after it. Asked for, never needed. */
export const holdFeelingSchema = z.object({
  /** 1 very uncomfortable, 5 easy; null when not said. */
  comfort: z.nullable(z.number().check(z.int(), z.gte(1), z.lte(5))),
  note: z.nullable(z.string().check(z.maxLength(2_000))),
});
export type HoldFeeling = z.infer<typeof holdFeelingSchema>;

export const holdViewSchema = z.object({
  holdId: idSchema,
  start: boundarySchema,
  end: z.nullable(boundarySchema),
  /** Of a hold under way whose start was marked: by clear signs of breathing it probably ended here. It still counts as going on. */
  probableEnd: z.optional(boundarySchema),
  contractionCount: z.number(),
  firstContractionAtMs: z.nullable(monotonicMsSchema),
  /** Lowest saturation read so far that belongs to this hold, with its time. */
  lowestSpo2: readoutSchema,
  /** Absent until somebody has said it. */
  feeling: z.optional(holdFeelingSchema),
  /** Probability, 0 to 1, that there is a hold at all; absent where a person said so, and live. */
  confidence: z.optional(z.number().check(z.gte(0), z.lte(1))),
  /** Found afterwards in signals that cannot carry a decision: to be accepted or dismissed. */
  isProposed: z.optional(z.boolean()),
});
export type HoldView = z.infer<typeof holdViewSchema>;

export const alarmViewSchema = z.object({
  alarmId: idSchema,
  kind: alarmKindSchema,
  priority: alarmPrioritySchema,
  /** The highest it has had: a lost sensor is less urgent once the hold is over. */
  highestPriority: alarmPrioritySchema,
  raisedAtMs: monotonicMsSchema,
  /** True while the condition itself is present; a latched alarm stays after it has gone. */
  conditionPresent: z.boolean(),
  /** How often the condition has come while this alarm stood; at least 1. */
  timesPresent: z.number().check(z.int(), z.gte(1)),
  /** Since when the condition is no longer present; null while it is. */
  passedAtMs: z.nullable(monotonicMsSchema),
  acknowledged: z.boolean(),
  /** The last acknowledgement and who gave it: a device's name, empty for the hub's own machine. */
  acknowledgedAtMs: z.nullable(monotonicMsSchema),
  acknowledgedBy: z.nullable(z.string()),
  /** The measured or forecast value when it was raised, where there is one, in the unit of the kind. */
  value: z.nullable(z.number()),
  /** The worst since, where one value is worse than another. */
  worstValue: z.nullable(z.number()),
  worstAtMs: z.nullable(monotonicMsSchema),
  /** What it is measured by, in the unit of `value`. */
  limit: z.nullable(z.number()),
  /** Where an expected value lies, but for 8 of 100 cases on either side at most. */
  likely: z.nullable(z.object({ lowPercent: z.number(), highPercent: z.number() })),
  subject: z.nullable(alarmSubjectSchema),
  sensorId: z.nullable(idSchema),
  detail: z.nullable(alarmDetailSchema),
  /** In a hold or the minute after it: what is to be done differs. */
  holdNear: z.boolean(),
  /** What happened, in one sentence. */
  message: z.string(),
  /** What to do now, in one sentence. */
  instruction: z.string(),
});
export type AlarmView = z.infer<typeof alarmViewSchema>;

/** The sound the page should be making for one athlete. */
export const soundViewSchema = z.object({
  priority: z.nullable(alarmPrioritySchema),
  /** End of an audio pause, or null when sound is on. */
  audioPausedUntilMs: z.nullable(monotonicMsSchema),
});
export type SoundView = z.infer<typeof soundViewSchema>;

/** The oxygen forecast in words a page can show. All null with `known: false` while the curve says nothing. */
export const forecastViewSchema = z.object({
  known: z.boolean(),
  /** Lowest reading expected if breathing began now; 8 of 100 cases at most lie above its range and as many, after 4 s more, below. */
  lowestIfStoppedNow: z.nullable(
    z.object({ percent: percentSchema, lowPercent: percentSchema, highPercent: percentSchema }),
  ),
  /** Seconds until breathing must begin for the lowest reading to stay above the floor. */
  secondsToStop: z.nullable(
    z.object({ seconds: z.number(), lowSeconds: z.number(), highSeconds: z.number() }),
  ),
  /** How full the lungs are, once said of the hold under way or the next one, and what that means beforehand. */
  lungs: z._default(z.nullable(z.object({ said: holdLungsSchema, warning: z.nullable(saidSchema) })), null),
});
export type ForecastView = z.infer<typeof forecastViewSchema>;

/** A sensor that pairs waits for a person. Told to coaches only. */
const pairingViewSchema = z.object({
  requestId: idSchema,
  /** Type the code that the sensor shows; type `code` on the sensor; say whether it shows `code` too. */
  kind: z.enum(['typeCode', 'showCode', 'compareCode']),
  /** 0 to 999999, shown with six digits. */
  code: z.nullable(pairingCodeSchema),
  secondsLeft: z.number(),
});
export type PairingView = z.infer<typeof pairingViewSchema>;

export const pairingAnswerSchema = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('code'), code: pairingCodeSchema }),
  z.object({ kind: z.literal('same') }),
  z.object({ kind: z.literal('cancel') }),
]);
export type PairingAnswer = z.infer<typeof pairingAnswerSchema>;

export const sensorViewSchema = z.object({
  sensorId: idSchema,
  name: z.string(),
  kinds: z.array(z.enum(['heartRate', 'oximeter', 'breathing'])),
  source: z.enum(['bluetooth', 'simulated', 'replay']),
  athleteId: z.nullable(idSchema),
  link: z.enum(['searching', 'connecting', 'connected', 'lost', 'off']),
  /** Why the link is as it is and what to do, where that helps. */
  detail: z.nullable(saidSchema),
  batteryPercent: z.nullable(percentSchema),
  rssiDbm: z.nullable(z.number()),
  /** The radio elsewhere that it is linked by; absent for the hub's own. */
  via: z.optional(z.string()),
  /** The computer keeps a key for it. */
  isBonded: z.optional(z.boolean()),
  /** Somebody wears it and it has no link, yet it is heard under its own address: no other can be it. */
  isHeard: z.optional(z.boolean()),
  pairing: z.optional(pairingViewSchema),
  lastPacketWallAtMs: z.nullable(wallMsSchema),
  packetCount: z.number(),
  discardedCount: z.number(),
});
export type SensorView = z.infer<typeof sensorViewSchema>;

/** A sensor as live pages show it. What else is known of it changes with every packet. */
export const shownSensorSchema = z.omit(sensorViewSchema, {
  rssiDbm: true,
  lastPacketWallAtMs: true,
  packetCount: true,
  discardedCount: true,
});
export type ShownSensor = z.infer<typeof shownSensorSchema>;

export const athleteSettingsSchema = z.object({
  floorSpo2Percent: floorPercentSchema,
  /** Saturation thresholds that are marked as they are crossed, in falling order. */
  thresholdsPercent: z.array(percentSchema).check(z.maxLength(8)),
  heartRateLowBpm: z.nullable(z.number().check(z.gte(20), z.lte(200))),
  heartRateHighBpm: z.nullable(z.number().check(z.gte(60), z.lte(250))),
  maxHoldDurationMs: z.nullable(z.number().check(z.gte(5_000), z.lte(900_000))),
  forecastAlarm: z.enum(['high', 'medium', 'off']),
});
export type AthleteSettings = z.infer<typeof athleteSettingsSchema>;

export const athleteSchema = z.object({
  athleteId: idSchema,
  /** As it is kept. Requests are strict about names (name-text.ts); what is there already must not hide an athlete. */
  name: z.string(),
  simulated: z.boolean(),
  settings: athleteSettingsSchema,
});
export type Athlete = z.infer<typeof athleteSchema>;

export const markSchema = z.object({
  markId: idSchema,
  athleteId: idSchema,
  kind: markKindSchema,
  atMs: monotonicMsSchema,
  text: z.nullable(z.string().check(z.maxLength(2_000))),
});
export type MarkView = z.infer<typeof markSchema>;

/** A stretch of a session in which nobody was watched: the hub was gone, or the computer slept. */
const unwatchedSpanSchema = z.object({
  fromMs: monotonicMsSchema,
  toMs: monotonicMsSchema,
  /** The same by the clock on the wall, as it stood then. */
  fromWallMs: wallMsSchema,
  toWallMs: wallMsSchema,
  cause: supervisionCauseSchema,
});
export type UnwatchedSpan = z.infer<typeof unwatchedSpanSchema>;

/** Somebody who leads a session, as they were called. The id is of this name in recordings, not of an athlete or a device. */
const sessionLeaderSchema = z.object({ leaderId: idSchema, name: z.string() });
export type SessionLeader = z.infer<typeof sessionLeaderSchema>;
/** Of one session. Our choice. */
export const mostLeaders = 4;

export const sessionViewSchema = z.object({
  sessionId: idSchema,
  startedWallAtMs: wallMsSchema,
  endedAtMs: z.nullable(monotonicMsSchema),
  /** `interrupted`: the hub stopped without ending it; what was committed is complete. */
  status: z.enum(['recording', 'ended', 'interrupted']),
  simulated: z.boolean(),
  source: z.enum(['live', 'simulated', 'replay', 'import']),
  title: z.string(),
  athleteIds: z.array(idSchema),
  /** In order of time; a hold may go on over one, and was not watched in it. */
  unwatched: z.array(unwatchedSpanSchema),
  /** Who began and led it; empty where nobody said so, as in all recordings of before. */
  leaders: z.array(sessionLeaderSchema),
});
export type SessionView = z.infer<typeof sessionViewSchema>;

/** An alarm of the watching itself, of no single athlete; it stands whether or not a session runs. */
export const supervisionAlarmSchema = z.object({
  alarmId: idSchema,
  kind: supervisionKindSchema,
  priority: alarmPrioritySchema,
  cause: z.nullable(supervisionCauseSchema),
  /** When it happened, by the clock on the wall. */
  atWallMs: wallMsSchema,
  conditionPresent: z.boolean(),
  acknowledged: z.boolean(),
  /** The output or device it is of. */
  subject: z.nullable(saidSchema),
  reason: z.nullable(saidSchema),
  /** How long nobody was watched. */
  durationMs: z.nullable(z.number().check(z.gte(0))),
  /** The session it broke into, to be gone on with. */
  session: z.nullable(
    z.object({
      sessionId: idSchema,
      title: z.string(),
      athletes: z.array(z.object({ athleteId: idSchema, name: z.string() })),
    }),
  ),
});
export type SupervisionAlarm = z.infer<typeof supervisionAlarmSchema>;

/** Everything a page needs to draw one athlete from nothing. */
export const athleteStateSchema = z.object({
  athlete: athleteSchema,
  atMs: monotonicMsSchema,
  phase: phaseSchema,
  spo2: readoutSchema,
  heartRate: readoutSchema,
  holds: z.array(holdViewSchema),
  marks: z.array(markSchema),
  alarms: z.array(alarmViewSchema),
  sound: soundViewSchema,
  forecast: forecastViewSchema,
});
export type AthleteState = z.infer<typeof athleteStateSchema>;

/** Samples of one channel, oldest first: parallel arrays so that a batch of traces stays small. */
export const traceSchema = z.object({
  channel: channelSchema,
  atMs: z.array(z.number()),
  value: z.array(z.nullable(z.number())),
  /** One letter a sample: g good, s suspect, b bad. */
  quality: z.string(),
});
export type Trace = z.infer<typeof traceSchema>;

/** One open page, or a joined device with none open, as a coach sees it. */
export const presentPageSchema = z.object({
  /** Null for a device with no page open. */
  pageId: z.nullable(idSchema),
  /** Null for a page on the hub's own machine. */
  deviceId: z.nullable(idSchema),
  /** The device's name as given at joining; empty for the hub's own machine. */
  name: z.string(),
  role: roleSchema,
  /** The athlete of an athlete's device. */
  athleteId: z.nullable(idSchema),
  /**
   * `visible` on the screen; `hidden` behind another page or a locked screen, perhaps throttled; `silent` connected
   * but not heard for seconds, as a sleeping phone is; `absent` no page open.
   */
  state: z.enum(['visible', 'hidden', 'silent', 'absent']),
  /** A person has passed the sound check on it and its audio runs. */
  soundReady: z.boolean(),
});
export type PresentPage = z.infer<typeof presentPageSchema>;
