// Who did what on this hub: what coaches can read on the Devices page, and take away as a file.

import * as z from 'zod/mini';
import { deviceRoleSchema, idSchema, wallMsSchema } from './schema-parts.ts';

export const auditActionSchema = z.enum([
  'ownPersonEntered',
  'ownPersonRefused',
  'joined',
  'joinRefused',
  'left',
  'deviceRemoved',
  'codeMade',
  'codeWithdrawn',
  'athleteAdded',
  'athleteRenamed',
  'athleteRemoved',
  'athleteErased',
  'erasedForSchool',
  'recordingDeleted',
  'recordingCorrected',
  'recordingTitled',
  'leadersNamed',
  'leaderErased',
  'recordingReassigned',
  'sharingChanged',
  'planDeleted',
  'planRunDeleted',
  'entryDeleted',
  'restoredFromBin',
  'deletedForGood',
  'imported',
  'exported',
  'backedUp',
  'backupRestored',
  'auditExported',
  'settingsChanged',
  'alarmsAcknowledged',
  'sessionJoined',
  'sessionLeft',
  'sensorMoved',
  'sensorPaired',
  'bondForgotten',
  'entriesLost',
  'statementWritten',
  'emergencyCardWritten',
  'drillStarted',
  'incidentWritten',
  'courseExported',
  'wordsSent',
  'profileSaved',
  'profileRemoved',
]);
export type AuditAction = z.infer<typeof auditActionSchema>;

export const auditEntrySchema = z.object({
  atWallMs: wallMsSchema,
  action: auditActionSchema,
  /** Null for the hub's own person. Empty name: a device without one, or of somebody erased. */
  device: z.nullable(z.object({ deviceId: idSchema, name: z.string(), role: deviceRoleSchema })),
  /** Whom the device is for, where it is an athlete's. */
  deviceAthleteId: z.nullable(idSchema),
  /** Whom it is about. Names are not kept here: an erased athlete's id becomes `erased`. */
  athleteId: z.nullable(idSchema),
  sessionId: z.nullable(idSchema),
  /** Of a changed floor, before and after, %. */
  floorPercent: z.nullable(z.object({ before: z.number(), after: z.number() })),
  /** Where somebody tried to come in from who may not; then `device` says nothing. */
  address: z.optional(z.string()),
  /** On a hub: who did it at the school, by the name of their device there; then `device` says nothing. */
  afar: z.optional(z.object({ school: z.string(), by: z.string() })),
  /** At a school: the hub in whose room it was done. */
  room: z.optional(z.string()),
  /** How often it happened, where one entry stands for several. */
  count: z.optional(z.number()),
});
export type AuditEntry = z.infer<typeof auditEntrySchema>;

/** GET /api/audit, newest first. GET /api/audit/file is the same whole, a JSON object a line, oldest first. */
export const auditBodySchema = z.object({ entries: z.array(auditEntrySchema) });
