// What a hub sends to be kept by a school: segments of packets as they arrived, and what was told of a session beside them.
// A message is a head of JSON and, for segments, a body of bytes (`packKept`).

import * as z from 'zod/mini';
import { wallMsSchema } from '../schema-parts.ts';

const count = z.int().check(z.gte(0));
const id = z.string().check(z.minLength(1), z.maxLength(128));
/** A random name; of archives from before there were any, a number. */
export const generationSchema = z.string().check(z.regex(/^[0-9A-Za-z-]{1,40}$/));
const sha256 = z.string().check(z.regex(/^[0-9a-f]{64}$/));

const ofSession = {
  sessionId: id,
  /**
   * Whose numbers its packets bear: made at random by the hub, and another one whenever the hub cannot prove that its packets
   * still bear the numbers under which they were sent. Then all of them come again.
   */
  generation: generationSchema,
};

/** Packets `first` to `first + packetCount - 1` of a recording, in the order they arrived. Never changes. */
export const segmentHeadSchema = z.object({
  ...ofSession,
  startedWallAtMs: wallMsSchema,
  first: count,
  packetCount: z.int().check(z.gte(1)),
  /** So many packets right before `first` cannot be read any more by the hub. */
  unreadableBefore: count,
  /** Session-monotonic milliseconds of the latest. */
  lastAtMs: z.number(),
  /** Of the body, which is a chunk as hub/recorder/packet-chunk.ts writes it. */
  sha256,
});
export type SegmentHead = z.output<typeof segmentHeadSchema>;

const entrySchema = z.object({
  kind: z.enum([
    'sensor',
    'mark',
    'hold',
    'alarm',
    'settings',
    'link',
    'change',
    'schedule',
    'unwatched',
    'alive',
  ]),
  key: z.nullable(z.string()),
  athleteId: z.nullable(z.string()),
  atMs: z.number(),
  withdrawn: z.boolean(),
  /** JSON as the hub keeps it. */
  body: z.string(),
});

/** Everything that is known of a session beside its packets, whole: the newest revision is what holds. */
export const toldSchema = z.object({
  ...ofSession,
  /** Grows with each; wall time of the hub at least, so that one that has lost its cursor goes on above it. */
  revision: count,
  startedWallAtMs: wallMsSchema,
  status: z.enum(['recording', 'ended', 'interrupted']),
  endedAtMs: z.nullable(z.number()),
  durationMs: z.number(),
  /** Of an ended session: how many packets it has. */
  packetCount: z.nullable(count),
  /** JSON of the session's head: title, athletes, profiles, what lies in the bin. */
  head: z.string(),
  entries: z.array(entrySchema),
  /** JSON of each, in the order they were made. */
  corrections: z.array(z.object({ athleteId: z.string(), correctionId: z.string(), body: z.string() })),
});
export type Told = z.output<typeof toldSchema>;

/** The head of a message that is kept whole as JSON in its body. */
export const revisionHeadSchema = z.object({ revision: count, sha256 });
export type RevisionHead = z.output<typeof revisionHeadSchema>;

/** Who a hub knows, and its documents of training: whole, the newest revision is what holds. */
export const hubListSchema = z.object({
  revision: count,
  /** As a person calls the hub: a room, a place. */
  name: z.string(),
  /** JSON of each athlete. */
  athletes: z.array(z.object({ athleteId: z.string(), name: z.string(), body: z.string() })),
  documents: z.array(
    z.object({
      kind: z.string(),
      documentId: z.string(),
      groupId: z.nullable(z.string()),
      athleteId: z.nullable(z.string()),
      body: z.string(),
    }),
  ),
});
export type HubList = z.output<typeof hubListSchema>;
