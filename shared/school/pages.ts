// What pages of a school ask over HTTP: its rooms, its health, who is who.

import * as z from 'zod/mini';
import { saidSchema } from '../said.ts';
import { wallMsSchema } from '../schema-parts.ts';

const count = z.int().check(z.gte(0));

const schoolRoomSchema = z.object({
  hub: z.string(),
  name: z.string(),
  isSilent: z.boolean(),
  heardAtWallMs: z.nullable(wallMsSchema),
  isRecording: z.boolean(),
  athleteNames: z.array(z.string()),
});
export type SchoolRoom = z.infer<typeof schoolRoomSchema>;
export const schoolRoomsBodySchema = z.object({ rooms: z.array(schoolRoomSchema) });
export type SchoolRoomsBody = z.infer<typeof schoolRoomsBodySchema>;

const schoolHubHealthSchema = z.object({
  hub: z.string(),
  name: z.string(),
  isSilent: z.boolean(),
  /** Of the school's clock; null for a hub that was never heard since the school began. */
  heardAtWallMs: z.nullable(wallMsSchema),
  isRecording: z.boolean(),
  /** When something of it was last put into the archive, by the database's clock. */
  keptAtWallMs: z.nullable(wallMsSchema),
  /** Messages of it that the server has and the archive has not. */
  waitingCount: z.nullable(count),
  /** Kept aside, since they could not be understood. */
  refusedCount: z.nullable(count),
});
export type SchoolHubHealth = z.infer<typeof schoolHubHealthSchema>;

/** What is null could not be read. */
export const schoolHealthBodySchema = z.object({
  /** Nothing keeps what hubs send from being kept. */
  ok: z.boolean(),
  fault: z.nullable(saidSchema),
  serverConnected: z.boolean(),
  archiveReached: z.boolean(),
  pendingCount: z.nullable(count),
  /** Since the school began, as the two that follow. */
  keptCount: count,
  knownCount: count,
  refusedCount: count,
  /** What waits in the message server for the archive, and with how much of it the server refuses more. */
  stream: z.nullable(z.object({ bytes: count, mostBytes: count })),
  archiveBytes: z.nullable(count),
  /** Of the school's own computer. */
  diskFreeBytes: z.nullable(count),
  hubs: z.array(schoolHubHealthSchema),
});
export type SchoolHealthBody = z.infer<typeof schoolHealthBodySchema>;

const asideCopySchema = z.object({
  sessionId: z.string(),
  /** Which of its copies. */
  copy: count,
  hub: z.string(),
  room: z.string(),
  title: z.string(),
  startedWallAtMs: wallMsSchema,
  athleteNames: z.array(z.string()),
  packetCount: count,
  /** Of the copy that is shown. */
  shownPacketCount: count,
});
/** An earlier copy of a recording that holds packets which the shown one has not. */
export type AsideCopyView = z.infer<typeof asideCopySchema>;
export const asideCopiesBodySchema = z.object({ copies: z.array(asideCopySchema) });
export type AsideCopiesBody = z.infer<typeof asideCopiesBodySchema>;

const schoolPersonSchema = z.object({
  personId: z.string(),
  name: z.string(),
  athletes: z.array(z.object({ hub: z.string(), room: z.string(), name: z.string() })),
  sessionCount: count,
  /** Of these recordings, those that no person was measured in. */
  simulatedCount: count,
  holdCount: count,
  /** When the first and the last of their recordings began. */
  firstWallAtMs: z.nullable(wallMsSchema),
  lastWallAtMs: z.nullable(wallMsSchema),
});
export type SchoolPerson = z.infer<typeof schoolPersonSchema>;

const schoolMergeSchema = z.object({
  mergeId: z.string(),
  keptPersonId: z.string(),
  takenPersonId: z.string(),
  doneBy: z.string(),
  doneAtWallMs: wallMsSchema,
});
/** Who led recordings, by name: hubs say no more of them. */
const schoolCoachSchema = z.object({
  name: z.string(),
  rooms: z.array(z.object({ hub: z.string(), room: z.string() })),
  sessionCount: count,
  simulatedCount: count,
});
export type SchoolCoach = z.infer<typeof schoolCoachSchema>;

export const schoolPersonsBodySchema = z.object({
  persons: z.array(schoolPersonSchema),
  coaches: z.array(schoolCoachSchema),
  merges: z.array(schoolMergeSchema),
  /** Two of one name, who may be one; nobody is joined unless somebody says so. */
  proposals: z.array(z.object({ keptPersonId: z.string(), takenPersonId: z.string() })),
});
export type SchoolPersonsBody = z.infer<typeof schoolPersonsBodySchema>;

export const schoolMergeRequestSchema = z.strictObject({
  keptPersonId: z.string().check(z.minLength(1), z.maxLength(170)),
  takenPersonId: z.string().check(z.minLength(1), z.maxLength(170)),
});
export const schoolMergePreviewBodySchema = z.object({
  kept: schoolPersonSchema,
  taken: schoolPersonSchema,
  /** Pairs of recordings, one of each, that went on at the same time. */
  overlapCount: count,
});
export type SchoolMergePreviewBody = z.infer<typeof schoolMergePreviewBodySchema>;

/** What erasing somebody takes out of the archive. */
export const schoolBelongingsBodySchema = z.object({
  person: schoolPersonSchema,
  ownRecordings: count,
  sharedRecordings: count,
  /** That somebody of their name led: the name is taken out. */
  ledRecordings: count,
  documents: count,
});
export type SchoolBelongingsBody = z.infer<typeof schoolBelongingsBodySchema>;

const personRequestSchema = z.strictObject({ personId: z.string().check(z.minLength(1), z.maxLength(170)) });
export const schoolErasurePreviewRequestSchema = personRequestSchema;
/** A person, or by name who led recordings. */
export const schoolErasureRequestSchema = z.union([
  personRequestSchema,
  z.strictObject({ coach: z.string().check(z.minLength(1), z.maxLength(200)) }),
]);

/** That somebody was erased, not who. Of a time that is null it is not done yet. */
const schoolErasureSchema = z.object({
  erasureId: z.string(),
  askedAtWallMs: wallMsSchema,
  /** A device's name; empty for the school's own computer. */
  askedBy: z.string(),
  askedAtRoom: z.nullable(z.string()),
  archiveDoneAtWallMs: wallMsSchema,
  streamDoneAtWallMs: z.nullable(wallMsSchema),
  hubs: z.array(z.object({ hub: z.string(), room: z.string(), doneAtWallMs: z.nullable(wallMsSchema) })),
});
export type SchoolErasure = z.infer<typeof schoolErasureSchema>;
export const schoolErasuresBodySchema = z.object({ erasures: z.array(schoolErasureSchema) });
export type SchoolErasuresBody = z.infer<typeof schoolErasuresBodySchema>;

const notSentSchema = z.object({ why: saidSchema, sinceWallMs: wallMsSchema });
/** Something that does not reach the school, and since when this is so. */
export type NotSent = z.infer<typeof notSentSchema>;

/** How a hub stands with its school, as a person may be told. */
const schoolLinkSchema = z.object({
  link: z.enum(['connecting', 'connected', 'refused']),
  /** Why nothing is kept there now; null when all is well. */
  fault: z.nullable(notSentSchema),
  /** What by itself cannot be sent, while everything else is. */
  setAside: z.array(notSentSchema),
  /** What a person here should know, though it keeps nothing from being sent. */
  notices: z.array(saidSchema),
  /** Recordings of which something is, or may be, still to be sent. */
  waitingCount: count,
  /** When the message server last took something of a recording; null for not yet since the hub began. */
  keptAtWallMs: z.nullable(wallMsSchema),
  /** Segments acknowledged since the hub began. */
  sentSegmentCount: count,
  /** Everything that the hub has is acknowledged, but for what is being recorded and what is set aside. */
  isCaughtUp: z.boolean(),
});
export type SchoolLink = z.infer<typeof schoolLinkSchema>;

/** GET /api/school-link of a hub; null where it sends to none. */
export const schoolLinkBodySchema = z.object({
  school: z.nullable(z.object({ ...schoolLinkSchema.shape, schoolName: z.string(), hub: z.string() })),
});
export type SchoolLinkBody = z.infer<typeof schoolLinkBodySchema>;
