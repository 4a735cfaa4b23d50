// The zod building blocks that messages and HTTP bodies share: units, ids and small enumerations.

import * as z from 'zod/mini';
import type { MonotonicMs, Percent, WallMs } from './units.ts';

const finite = z.number().check(z.refine((value) => Number.isFinite(value)));

/** Session-monotonic milliseconds. Never negative: nothing is recorded before a session's start. */
export const monotonicMsSchema = z.pipe(
  finite.check(z.gte(0)),
  z.transform((value) => value as MonotonicMs),
);
/** Unix milliseconds. */
export const wallMsSchema = z.pipe(
  finite,
  z.transform((value) => value as WallMs),
);
/** 0 to 100 %. */
export const percentSchema = z.pipe(
  finite.check(z.gte(0), z.lte(100)),
  z.transform((value) => value as Percent),
);
/** Ids are made by the hub; a page sends back only what it was given. */
export const idSchema = z.string().check(z.minLength(1), z.maxLength(64), z.regex(/^[A-Za-z0-9._:-]+$/));

/**
 * The range a floor may have. Oximeter accuracy is declared from 70 % up (ISO 80601-2-61:2017
 * cl. 201.12.1.101, from memory), so a lower floor would rest on undeclared readings; above 95 % an alarm
 * would sound at rest.
 */
/** What sensors show and take when they pair (Core 5.3 Vol 3 Part H s2.3.5.3): six digits. */
export const pairingCodeSchema = z.number().check(z.int(), z.gte(0), z.lte(999_999));

export const floorRangePercent = { least: 70, most: 95, initial: 88 } as const;
export const floorPercentSchema = z.pipe(
  finite.check(z.gte(floorRangePercent.least), z.lte(floorRangePercent.most)),
  z.transform((value) => value as Percent),
);

export const channelSchema = z.enum([
  'heartRateBpm',
  'rrIntervalMs',
  'spo2Percent',
  'pulseRateBpm',
  'perfusionIndexPercent',
  'pleth',
  'respirationRaw',
]);
/** What a sample measures; its unit is in the name. */
export type Channel = z.infer<typeof channelSchema>;

export const qualitySchema = z.enum(['good', 'suspect', 'bad']);
/** How far a sample can be trusted; the reasons stand beside it. */
export type SampleQuality = z.infer<typeof qualitySchema>;

export const roleSchema = z.enum(['coach', 'athlete', 'onlooker']);
/** What a page may do: a coach everything, an athlete only for themselves, an onlooker only watch. */
export type Role = z.infer<typeof roleSchema>;

/** What a device may join as: to look at pages, or to be a radio of the hub's, which sees nothing and changes nothing. */
export const deviceRoleSchema = z.enum(['coach', 'athlete', 'onlooker', 'radio']);
export type DeviceRole = z.infer<typeof deviceRoleSchema>;

export const phaseSchema = z.enum(['unknown', 'resting', 'readying', 'holding', 'recovering']);
/** What the hold detector believes the athlete is doing. */
export type Phase = z.infer<typeof phaseSchema>;

export const holdLungsSchema = z.enum(['full', 'half', 'emptied']);
/** How full the lungs are when a hold begins: breathed in, half, or breathed out. Absent: nobody said. */
export type HoldLungs = z.infer<typeof holdLungsSchema>;

/** `lungsFull`, `lungsHalf` and `lungsEmptied` say it of the hold under way, else of the next one. `answered`: asked
 * whether they are well, the athlete or somebody by them said so. `stillHolding`: asked whether a hold has ended, somebody said
 * that it has not. */
export const markKindSchema = z.enum([
  'holdStart',
  'holdEnd',
  'contraction',
  'breathing',
  'note',
  'lungsFull',
  'lungsHalf',
  'lungsEmptied',
  'answered',
  'stillHolding',
]);
/** What a person can mark by hand. */
export type MarkKind = z.infer<typeof markKindSchema>;

export const alarmPrioritySchema = z.enum(['high', 'medium', 'low']);
/** Priorities in the sense of IEC 60601-1-8 Table 1; no conformity is claimed. */
export type AlarmPriority = z.infer<typeof alarmPrioritySchema>;

export const alarmKindSchema = z.enum([
  'floorBreached',
  'floorForecast',
  'heartRateSuddenFall',
  'heartRateLow',
  'heartRateHigh',
  'saturationNotRecovering',
  'noBreathingSign',
  'sensorLost',
  'saturationNeverRead',
  'readingsStale',
  'readingsImplausible',
  'readingsFrozen',
  'signalPoor',
  'pageUnresponsive',
  'batteryLow',
  'maxDuration',
]);
/** Every alarm condition the hub can raise. */
export type AlarmKind = z.infer<typeof alarmKindSchema>;

export const alarmSubjectSchema = z.enum(['oximeter', 'heartRateSensor', 'breathingSensor', 'sensor']);
/** Which sensor an alarm is about. */
export type AlarmSubject = z.infer<typeof alarmSubjectSchema>;

export const alarmDetailSchema = z.enum([
  'noOximeter',
  'noContact',
  'unusable',
  'doubtful',
  'fellTooFast',
  'noPage',
  'noSound',
  'answerAsked',
  'breathingUnsure',
  'lungsUnsaid',
]);
/** More exactly what happened, or what is doubted beside it. */
export type AlarmDetail = z.infer<typeof alarmDetailSchema>;

export const supervisionKindSchema = z.enum([
  'monitoringStopped',
  'monitoringGap',
  'clockChanged',
  'deviceDropped',
  'outputFailed',
  'recordingFails',
  /** Two athletes' sensors look exchanged. */
  'signalsExchanged',
  /** At a school: the hub of a room says nothing, and a session ran there. */
  'roomSilent',
]);
/** What can go wrong with the watching itself, of no single athlete. */

export const supervisionCauseSchema = z.enum([
  /** The hub ended without ending the session: a crash, a power cut. */
  'hubDied',
  /** The hub was told to stop while a session ran. */
  'hubStopped',
  'diskFault',
  /** The computer slept, or its clock was set on. */
  'slept',
  /** The hub itself stood still. */
  'hubStalled',
]);
/** By what monitoring ended or was broken off. */
export type SupervisionCause = z.infer<typeof supervisionCauseSchema>;

export const boundarySourceSchema = z.enum(['detected', 'mark', 'corrected']);
/** Where a hold's boundary comes from: the detector, a mark during the session, or a correction afterwards. */
export type BoundarySource = z.infer<typeof boundarySourceSchema>;
