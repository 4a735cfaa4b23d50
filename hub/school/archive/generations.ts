// The generations of a recording in the archive: under which numbers its packets came, how far they go without a gap, what they
// are (a fingerprint), which is shown, and what becomes of the others once it is whole.

import type { PoolClient } from 'pg';
import type { HadGeneration } from '../../../shared/school/questions.ts';
import { decodeChunk, packetsOf } from '../../recorder/packet-chunk.ts';
import { recordingHash } from '../erased-hash.ts';
import { fingerprintOf, joinFingerprints, noPackets } from '../packet-fingerprint.ts';
import type { SegmentPlace } from './segment-rows.ts';

export interface GenerationPlace extends SegmentPlace {
  readonly sessionId: string;
  /** The archive's own number of it. */
  readonly generation: number;
}

/** Within a transaction, the session known: the generation's place, made for one that is new; undefined for one that is closed. */
export async function openGeneration(
  client: PoolClient,
  { month, hub }: SegmentPlace,
  sessionId: string,
  name: string,
): Promise<GenerationPlace | undefined> {
  const known = await client.query<{ generation: number; state: string }>(
    'SELECT generation, state FROM coverage WHERE hub_id = $1 AND session_id = $2 AND generation_name = $3',
    [hub, sessionId, name],
  );
  const [row] = known.rows;
  if (row !== undefined)
    return row.state === 'open' ? { month, hub, sessionId, generation: row.generation } : undefined;
  const made = await client.query<{ generation: number }>(
    `INSERT INTO coverage (hub_id, session_id, generation, generation_name, covered, fingerprint)
     SELECT $1, $2, coalesce(max(generation) + 1, 0), $3, 0, $4 FROM coverage WHERE hub_id = $1 AND session_id = $2
     RETURNING generation`,
    [hub, sessionId, name, Buffer.from(noPackets, 'hex')],
  );
  return { month, hub, sessionId, generation: made.rows[0]!.generation };
}

/** Within a transaction: how far the packets go without a gap, counted on from where it was known to go. */
export async function coverSegments(client: PoolClient, place: GenerationPlace): Promise<number> {
  const { month, hub, sessionId, generation } = place;
  const known = await client.query<{ covered: string; fingerprint: Buffer | null }>(
    'SELECT covered, fingerprint FROM coverage WHERE hub_id = $1 AND session_id = $2 AND generation = $3',
    [hub, sessionId, generation],
  );
  const before = Number(known.rows[0]?.covered ?? 0);
  const { rows } = await client.query<{
    first_packet: string;
    packet_count: string;
    unreadable_before: string;
    fingerprint: Buffer | null;
  }>(
    `SELECT first_packet, packet_count, unreadable_before, fingerprint FROM segments
     WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4 AND first_packet >= $5
     ORDER BY first_packet`,
    [month, hub, sessionId, generation, before],
  );
  let covered = before;
  let fingerprint = known.rows[0]?.fingerprint?.toString('hex');
  for (const row of rows) {
    if (Number(row.first_packet) - Number(row.unreadable_before) > covered) break;
    covered = Number(row.first_packet) + Number(row.packet_count);
    fingerprint = joined(fingerprint, row.fingerprint);
  }
  if (covered !== before)
    await client.query(
      'UPDATE coverage SET covered = $4, fingerprint = $5 WHERE hub_id = $1 AND session_id = $2 AND generation = $3',
      [
        hub,
        sessionId,
        generation,
        covered,
        fingerprint === undefined ? null : Buffer.from(fingerprint, 'hex'),
      ],
    );
  return covered;
}

/** Undefined where one of them is not known: it is worked out when it is asked for. */
const joined = (one: string | undefined, other: Buffer | null): string | undefined =>
  one === undefined || other === null ? undefined : joinFingerprints(one, other.toString('hex'));

/** Of the packets `first` to `first + packetCount - 1` that are there. */
export async function fingerprintOfRange(
  client: Pick<PoolClient, 'query'>,
  { month, hub, sessionId, generation }: GenerationPlace,
  first: number,
  packetCount: number,
): Promise<{ readonly packetCount: number; readonly fingerprint: string }> {
  let fingerprint = noPackets;
  let count = 0;
  const end = first + packetCount;
  const { rows } = await client.query<{
    first_packet: string;
    packet_count: string;
    fingerprint: Buffer | null;
  }>(
    `SELECT first_packet, packet_count, fingerprint FROM segments
     WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4
       AND first_packet < $6 AND first_packet + packet_count > $5 ORDER BY first_packet`,
    [month, hub, sessionId, generation, first, end],
  );
  for (const row of rows) {
    const rowFirst = Number(row.first_packet);
    const rowEnd = rowFirst + Number(row.packet_count);
    const isWithin = rowFirst >= first && rowEnd <= end;
    if (isWithin && row.fingerprint !== null) {
      fingerprint = joinFingerprints(fingerprint, row.fingerprint.toString('hex'));
      count += rowEnd - rowFirst;
      continue;
    }
    const body = await client.query<{ body: Buffer }>(
      `SELECT body FROM segments WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4
         AND first_packet = $5`,
      [month, hub, sessionId, generation, rowFirst],
    );
    const chunk = decodeChunk(body.rows[0]?.body ?? new Uint8Array());
    if (!chunk.ok) continue;
    const from = Math.max(rowFirst, first);
    const packets = [...packetsOf(chunk.value)].slice(from - rowFirst, Math.min(rowEnd, end) - rowFirst);
    fingerprint = joinFingerprints(fingerprint, fingerprintOf(from, packets));
    count += packets.length;
  }
  return { packetCount: count, fingerprint };
}

interface GenerationRow {
  readonly generation: number;
  readonly generation_name: string;
  readonly covered: string;
  readonly fingerprint: Buffer | null;
  readonly athlete_ids: string[] | null;
  readonly state: 'open' | 'aside' | 'gone';
}

/** All that there were, to be told to their hub. */
export async function listGenerations(
  client: Pick<PoolClient, 'query'>,
  { month, hub }: SegmentPlace,
  sessionId: string,
): Promise<HadGeneration[]> {
  const rows = await rowsOf(client, hub, sessionId);
  const erased = await erasedGenerations(client, hub, sessionId);
  const had: HadGeneration[] = [];
  for (const row of rows) {
    const covered = Number(row.covered);
    let fingerprint = row.fingerprint?.toString('hex');
    if (fingerprint === undefined) {
      const place = { month, hub, sessionId, generation: row.generation };
      ({ fingerprint } = await fingerprintOfRange(client, place, 0, covered));
      await client.query(
        `UPDATE coverage SET fingerprint = $5 WHERE hub_id = $1 AND session_id = $2 AND generation = $3
           AND covered = $4`,
        [hub, sessionId, row.generation, covered, Buffer.from(fingerprint, 'hex')],
      );
    }
    had.push({
      generation: row.generation_name,
      covered,
      fingerprint,
      isClosed: row.state !== 'open' || erased.has(row.generation_name),
    });
  }
  return had;
}

/** Those out of which somebody was erased here: they hold the others' packets until the hub has sent them anew. */
async function erasedGenerations(
  client: Pick<PoolClient, 'query'>,
  hub: string,
  sessionId: string,
): Promise<ReadonlySet<string>> {
  const { rows } = await client.query<{ generations: string[] | null }>(
    'SELECT generations FROM erased_recordings WHERE hub_id = $1 AND session_hash = $2',
    [hub, recordingHash(hub, sessionId)],
  );
  return new Set(rows.flatMap(({ generations }) => generations ?? []));
}

async function rowsOf(
  client: Pick<PoolClient, 'query'>,
  hub: string,
  sessionId: string,
): Promise<GenerationRow[]> {
  const { rows } = await client.query<GenerationRow>(
    `SELECT generation, generation_name, covered, fingerprint, athlete_ids, state FROM coverage
     WHERE hub_id = $1 AND session_id = $2 ORDER BY generation`,
    [hub, sessionId],
  );
  return rows;
}

/**
 * Within a transaction: a recording whose packets a hub numbered anew is shown as it was until all of it has come again; then
 * what was before goes. What holds packets that the new one has not is kept aside, unless somebody was taken out of the
 * recording since: then it goes too. Only one that is over says how many packets it has.
 */
export async function showWhole(client: PoolClient, place: SegmentPlace, sessionId: string): Promise<void> {
  const { month, hub } = place;
  const { rows } = await client.query<{ generation: number }>(
    `SELECT s.generation FROM sessions s JOIN coverage c USING (hub_id, session_id, generation)
     WHERE hub_id = $1 AND session_id = $2 AND packet_count <= c.covered AND c.state = 'open'`,
    [hub, sessionId],
  );
  const [told] = rows;
  if (told === undefined) return;
  const all = await rowsOf(client, hub, sessionId);
  const whole = all.find(({ generation }) => generation === told.generation);
  // Those that came later are on their way, or were broken off: the next that is whole takes their place.
  const others = all.filter(({ generation, state }) => generation < told.generation && state !== 'gone');
  if (whole === undefined || others.length === 0) return;
  await client.query(
    `UPDATE sessions SET shown_generation = $3, changed = nextval('session_changes')
     WHERE hub_id = $1 AND session_id = $2 AND shown_generation <> $3`,
    [hub, sessionId, told.generation],
  );
  const erased = await erasedGenerations(client, hub, sessionId);
  for (const other of others) {
    const state = erased.has(other.generation_name)
      ? 'gone'
      : await whatBecomes(client, { month, hub, sessionId }, whole, other);
    if (state === other.state) continue;
    await client.query(
      `UPDATE coverage SET state = $4::text, covered = CASE $4::text WHEN 'gone' THEN 0 ELSE covered END,
         fingerprint = CASE $4::text WHEN 'gone' THEN $5::bytea ELSE fingerprint END,
         athlete_ids = CASE $4::text WHEN 'gone' THEN NULL ELSE athlete_ids END
       WHERE hub_id = $1 AND session_id = $2 AND generation = $3`,
      [hub, sessionId, other.generation, state, Buffer.from(noPackets, 'hex')],
    );
    if (state === 'gone')
      await client.query(
        'DELETE FROM segments WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4',
        [month, hub, sessionId, other.generation],
      );
    await client.query('INSERT INTO log (hub_id, who, what, about) VALUES ($1, $1, $2, $3)', [
      hub,
      state === 'gone' ? 'generationReplaced' : 'generationKeptAside',
      JSON.stringify({ sessionId, generation: other.generation_name, by: whole.generation_name }),
    ]);
  }
}

async function whatBecomes(
  client: PoolClient,
  of: SegmentPlace & { readonly sessionId: string },
  whole: GenerationRow,
  other: GenerationRow,
): Promise<'aside' | 'gone'> {
  // Nothing was told of it: it was broken off in its first moments.
  if (other.athlete_ids === null) return 'gone';
  if (!other.athlete_ids.every((athleteId) => whole.athlete_ids?.includes(athleteId))) return 'gone';
  if (other.state === 'aside') return 'aside';
  const old = { ...of, generation: other.generation };
  const { rows } = await client.query<{ end: string | null }>(
    `SELECT max(first_packet + packet_count) AS end FROM segments
     WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4`,
    [of.month, of.hub, of.sessionId, other.generation],
  );
  const end = Number(rows[0]?.end ?? 0);
  const [was, is] = [
    await fingerprintOfRange(client, old, 0, end),
    await fingerprintOfRange(client, { ...of, generation: whole.generation }, 0, end),
  ];
  return was.fingerprint === is.fingerprint && was.packetCount === is.packetCount ? 'gone' : 'aside';
}
