// Takes people out of the archive's rows for good, and keeps out what still comes of them: what was on its way when they
// were erased, and what a hub sends that was put back from a backup. Within a transaction of the caller's.

import type { PoolClient } from 'pg';
import * as z from 'zod/mini';
import { type Told, toldSchema } from '../../../shared/school/kept-messages.ts';
import type { StoredPacket } from '../../base/ports/stored-session.ts';
import { type Unnamed, unnamedOf } from '../../recorder/led-by.ts';
import { decodeChunk, encodeChunk, packetsOf } from '../../recorder/packet-chunk.ts';
import { athleteHash, recordingHash } from '../erased-hash.ts';
import { packJson, sha256Of, unpackJson, unpackKept } from '../kept-bytes.ts';
import { athletesOfHead, headOf, leadersOfHead, withoutPeople, wornBy } from './erased-told.ts';
import type { KeptMessage } from './kept-message.ts';
import { sessionsLed } from './leaders.ts';
import { monthOf } from './partitions.ts';
import { schoolSessionId } from './school-ids.ts';
import type { SegmentPlace } from './segment-rows.ts';
import { keepTold } from './told-rows.ts';

/** Any number of our own: who keeps and who erases do not do it at once. */
const erasingLock = 0x534c5745;

/** Waits for an erasure that is going on, and holds up the next until the transaction ends. */
export const whileNobodyErases = (client: PoolClient): Promise<unknown> =>
  client.query('SELECT pg_advisory_xact_lock_shared($1)', [erasingLock]);

export const whileNobodyKeeps = (client: PoolClient): Promise<unknown> =>
  client.query('SELECT pg_advisory_xact_lock($1)', [erasingLock]);

interface RecordingRow {
  readonly session_id: string;
  readonly month: string;
  readonly athlete_ids: readonly string[];
  /** Of which was told last. */
  readonly generation: number;
}

/**
 * Everything of some people of a hub: `leaderIds` are those of athletes and of who led. Answers which recordings were changed or
 * went, by their ids of the hub.
 */
export async function eraseRows(client: PoolClient, hub: string, who: Unnamed): Promise<readonly string[]> {
  const { leaderIds: gone } = who;
  const athleteIds = [...gone];
  const { rows } = await client.query<RecordingRow>(
    `SELECT session_id, month::text, athlete_ids, generation FROM sessions
     WHERE hub_id = $1 AND athlete_ids && $2`,
    [hub, athleteIds],
  );
  for (const row of rows) {
    const place = { month: row.month, hub };
    if (row.athlete_ids.every((athleteId) => gone.has(athleteId)))
      await removeRecording(client, place, row.session_id);
    else await takeOutOf(client, place, row, who);
  }
  const led = await sessionsLed(client, hub, who);
  for (const row of led) await unname(client, { month: row.month, hub }, row, who);
  await client.query('DELETE FROM documents WHERE hub_id = $1 AND athlete_id = ANY($2)', [hub, athleteIds]);
  await client.query('DELETE FROM athletes WHERE hub_id = $1 AND athlete_id = ANY($2)', [hub, athleteIds]);
  const sessionIds = [...new Set([...rows, ...led].map(({ session_id }) => session_id))];
  await removeRefused(client, hub, athleteIds, sessionIds);
  return sessionIds;
}

/** Nothing of it is left, nor taken again. */
export async function removeRecording(
  client: PoolClient,
  { month, hub }: SegmentPlace,
  sessionId: string,
): Promise<void> {
  for (const table of ['segments', 'told', 'holds', 'alarms'])
    await client.query(`DELETE FROM ${table} WHERE month = $1 AND hub_id = $2 AND session_id = $3`, [
      month,
      hub,
      sessionId,
    ]);
  for (const table of ['coverage', 'sessions'])
    await client.query(`DELETE FROM ${table} WHERE hub_id = $1 AND session_id = $2`, [hub, sessionId]);
  await client.query(
    `DELETE FROM documents WHERE hub_id = $1 AND kind = 'sessionDetails' AND group_id = $2`,
    [hub, sessionId],
  );
  await client.query('DELETE FROM summaries WHERE session_id = $1', [schoolSessionId(hub, sessionId)]);
  await client.query(`UPDATE log SET about = '{}' WHERE hub_id = $1 AND about ->> 'sessionId' = $2`, [
    hub,
    sessionId,
  ]);
  await refuseRecording(client, hub, recordingHash(hub, sessionId), null);
}

/** `generations`: those of which nothing is taken any more; null for all. */
export const refuseRecording = (
  client: PoolClient,
  hub: string,
  hash: string,
  generations: readonly string[] | null,
): Promise<unknown> =>
  client.query(
    `INSERT INTO erased_recordings (hub_id, session_hash, generations) VALUES ($1, $2, $3)
     ON CONFLICT (hub_id, session_hash) DO UPDATE SET generations =
       CASE WHEN erased_recordings.generations IS NULL OR excluded.generations IS NULL THEN NULL
            ELSE erased_recordings.generations || excluded.generations END`,
    [hub, hash, generations],
  );

/** The others keep theirs; until the hub has sent it anew without them, nothing more is taken of it as it was. */
async function takeOutOf(
  client: PoolClient,
  place: SegmentPlace,
  of: RecordingRow,
  who: Unnamed,
): Promise<void> {
  const { hub } = place;
  const { session_id: sessionId } = of;
  const told = await toldOf(client, place, sessionId);
  // It was read and checked when it came. Nobody can say any more which packets are whose.
  if (told === undefined) return removeRecording(client, place, sessionId);
  await takePacketsOut(client, place, told, who.leaderIds);
  await keepWithout(client, place, { told, generation: of.generation }, who);
  const known = await client.query<{ generation_name: string }>(
    'SELECT generation_name FROM coverage WHERE hub_id = $1 AND session_id = $2',
    [hub, sessionId],
  );
  const generations = known.rows.map(({ generation_name }) => generation_name);
  await refuseRecording(client, hub, recordingHash(hub, sessionId), generations);
}

async function toldOf(
  client: PoolClient,
  { month, hub }: SegmentPlace,
  sessionId: string,
): Promise<Told | undefined> {
  const { rows } = await client.query<{ body: Buffer }>(
    'SELECT body FROM told WHERE month = $1 AND hub_id = $2 AND session_id = $3',
    [month, hub, sessionId],
  );
  const told = z.safeParse(toldSchema, unpackJson(rows[0]?.body ?? new Uint8Array()));
  return told.success ? told.data : undefined;
}

async function keepWithout(
  client: PoolClient,
  place: SegmentPlace,
  { told, generation }: { readonly told: Told; readonly generation: number },
  who: Unnamed,
): Promise<void> {
  const { sessionId } = told;
  const rest = withoutPeople(told, who);
  await keepTold(client, { ...place, sessionId, generation }, rest, packJson(rest), true);
  await client.query(
    `UPDATE sessions SET changed = nextval('session_changes') WHERE hub_id = $1 AND session_id = $2`,
    [place.hub, sessionId],
  );
}

/** They led it, or nothing of it was theirs: only names go. */
async function unname(
  client: PoolClient,
  place: SegmentPlace,
  { session_id: sessionId, generation }: Pick<RecordingRow, 'session_id' | 'generation'>,
  who: Unnamed,
): Promise<void> {
  const told = await toldOf(client, place, sessionId);
  if (told === undefined) await removeRecording(client, place, sessionId);
  else await keepWithout(client, place, { told, generation }, who);
}

/** The others keep their numbers: a segment stands for as many packets as it came with. */
async function takePacketsOut(
  client: PoolClient,
  { month, hub }: SegmentPlace,
  told: Told,
  gone: ReadonlySet<string>,
): Promise<void> {
  const isTheirs = wornBy(told, gone);
  const { sessionId } = told;
  // Neither who they were nor what was theirs.
  await client.query(
    'UPDATE coverage SET athlete_ids = NULL, fingerprint = NULL WHERE hub_id = $1 AND session_id = $2',
    [hub, sessionId],
  );
  const { rows } = await client.query<{ generation: unknown; first_packet: string }>(
    'SELECT generation, first_packet FROM segments WHERE month = $1 AND hub_id = $2 AND session_id = $3',
    [month, hub, sessionId],
  );
  // One at a time: a recording of hours is more than memory should hold.
  for (const { generation, first_packet } of rows) {
    const key = [month, hub, sessionId, generation, first_packet];
    const where =
      'WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4 AND first_packet = $5';
    const read = await client.query<{ body: Buffer }>(`SELECT body FROM segments ${where}`, key);
    const chunk = decodeChunk(read.rows[0]!.body);
    const all: readonly StoredPacket[] = chunk.ok ? [...packetsOf(chunk.value)] : [];
    const kept = all.filter((packet) => !isTheirs(packet));
    if (kept.length === 0) await client.query(`DELETE FROM segments ${where}`, key);
    else if (kept.length < all.length) {
      const body = encodeChunk(kept);
      await client.query(`UPDATE segments SET body = $6, sha256 = $7, fingerprint = NULL ${where}`, [
        ...key,
        body,
        Buffer.from(sha256Of(body), 'hex'),
      ]);
    }
  }
}

/**
 * What could not be read may be of them: of a hub that knew them only that stays which is known to be of others. Nothing is
 * lost by it, the hub has it all and what is put aside is never read.
 */
async function removeRefused(
  client: PoolClient,
  hub: string,
  athleteIds: readonly string[],
  sessionIds: readonly string[],
): Promise<void> {
  const theirs = new Set(sessionIds);
  const { rows } = await client.query<{ refused_id: string }>(
    'SELECT refused_id FROM refused WHERE hub_id = $1 OR hub_id = $2',
    [hub, '?'],
  );
  for (const { refused_id } of rows) {
    const read = await client.query<{ kind: string; body: Buffer }>(
      'SELECT kind, body FROM refused WHERE refused_id = $1',
      [refused_id],
    );
    const { kind, body } = read.rows[0]!;
    const unpacked = unpackKept(body);
    const sessionId = (unpacked?.head as { readonly sessionId?: unknown } | undefined)?.sessionId;
    const text = kind === 'segment' ? undefined : textOf(unpacked?.body);
    const isOfOthers =
      kind === 'segment'
        ? typeof sessionId === 'string' && !theirs.has(sessionId) && (await isKnown(client, hub, sessionId))
        : text !== undefined && !athleteIds.some((athleteId) => text.includes(athleteId));
    if (!isOfOthers) await client.query('DELETE FROM refused WHERE refused_id = $1', [refused_id]);
  }
}

const textOf = (body: Uint8Array | undefined): string | undefined => {
  const value = body === undefined ? undefined : unpackJson(body);
  return value === undefined ? undefined : JSON.stringify(value);
};

async function isKnown(client: PoolClient, hub: string, sessionId: string): Promise<boolean> {
  const { rows } = await client.query(
    'SELECT 1 FROM sessions WHERE hub_id = $1 AND session_id = $2 AND cardinality(athlete_ids) > 0',
    [hub, sessionId],
  );
  return rows.length > 0;
}

/** Which of these ids of a hub, of athletes or of who led, were erased. */
async function erasedAmong(
  client: PoolClient,
  hub: string,
  athleteIds: readonly string[],
): Promise<ReadonlySet<string>> {
  const ids = new Map(athleteIds.map((athleteId) => [athleteHash(hub, athleteId), athleteId]));
  if (ids.size === 0) return new Set();
  const { rows } = await client.query<{ athlete_hash: string }>(
    'SELECT athlete_hash FROM erasure_hubs WHERE hub_id = $1 AND athlete_hash = ANY($2)',
    [hub, [...ids.keys()]],
  );
  return new Set(rows.map(({ athlete_hash }) => ids.get(athlete_hash)!));
}

/** The message without those who were erased; undefined where nothing is left of it that may be kept. */
export async function withoutErased(
  client: PoolClient,
  message: KeptMessage,
): Promise<KeptMessage | undefined> {
  if (message.kind === 'list') return listWithoutErased(client, message);
  const { hub } = message.from;
  const { sessionId, generation } = message.kind === 'segment' ? message.head : message.told;
  const { rows } = await client.query(
    `SELECT 1 FROM erased_recordings WHERE hub_id = $1 AND session_hash = $2
       AND (generations IS NULL OR $3 = ANY(generations))`,
    [hub, recordingHash(hub, sessionId), generation],
  );
  if (rows.length > 0) return undefined;
  return message.kind === 'segment' ? message : toldWithoutErased(client, message);
}

/** Sent before its hub had heard: what came of it before is cleared like what was there when they were erased. */
async function toldWithoutErased(
  client: PoolClient,
  message: Extract<KeptMessage, { readonly kind: 'told' }>,
): Promise<KeptMessage | undefined> {
  const { told } = message;
  const { hub } = message.from;
  const athleteIds = athletesOfHead(told);
  const leaderIds = leadersOfHead(told).map(({ leaderId }) => leaderId);
  const gone = await erasedAmong(client, hub, [...athleteIds, ...leaderIds]);
  if (gone.size === 0) return message;
  const place = { month: monthOf(told.startedWallAtMs), hub };
  if (athleteIds.every((athleteId) => gone.has(athleteId))) {
    await removeRecording(client, place, told.sessionId);
    return undefined;
  }
  if (athleteIds.some((athleteId) => gone.has(athleteId))) {
    await takePacketsOut(client, place, told, gone);
    await refuseRecording(client, hub, recordingHash(hub, told.sessionId), [told.generation]);
  }
  const rest = withoutPeople(told, unnamedOf(gone, [headOf(told)]));
  return { ...message, told: rest, body: packJson(rest) };
}

async function listWithoutErased(
  client: PoolClient,
  message: Extract<KeptMessage, { readonly kind: 'list' }>,
): Promise<KeptMessage> {
  const { list } = message;
  const { hub } = message.from;
  const known = new Set(list.athletes.map(({ athleteId }) => athleteId));
  for (const { athleteId } of list.documents) if (athleteId !== null) known.add(athleteId);
  const gone = await erasedAmong(client, hub, [...known]);
  if (gone.size === 0) return message;
  const stays = ({ athleteId }: { readonly athleteId: string | null }): boolean =>
    athleteId === null || !gone.has(athleteId);
  return {
    ...message,
    list: { ...list, athletes: list.athletes.filter(stays), documents: list.documents.filter(stays) },
  };
}
