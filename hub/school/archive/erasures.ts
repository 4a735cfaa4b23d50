// Erasing people at every hub and in the archive: asked for, told to the hubs, acknowledged by each, and kept on record
// without saying who it was.

import type { PoolClient } from 'pg';
import { foldedName } from '../../../shared/name-text.ts';
import type { ErasedAnswer, ErasedByHub } from '../../../shared/school/questions.ts';
import { failed, ok, type Result } from '../../../src/result.ts';
import { athleteHash } from '../erased-hash.ts';
import type { Archive } from './archive.ts';
import { eraseRows, refuseRecording, removeRecording, whileNobodyKeeps } from './erased-rows.ts';
import { placesLed, recordingsLed } from './leaders.ts';
import { type PersonRow, type PersonView, personColumns, viewOfPerson, within } from './persons.ts';
import { schoolSessionId } from './school-ids.ts';

/** Hashes of an answer to a hub. */
const mostOfAnswer = 500;

export type ErasureRefusal = 'unknownPerson';

/** What an erasure takes from the archive. */
export interface ErasurePreview {
  readonly person: PersonView;
  readonly ownRecordings: number;
  readonly sharedRecordings: number;
  /** That somebody of their name led. */
  readonly ledRecordings: number;
  readonly documents: number;
}

export interface ErasureView {
  readonly erasureId: string;
  readonly askedAtWallMs: number;
  readonly askedBy: string;
  /** The room where it was asked for; null for the school. */
  readonly askedAtRoom: string | null;
  readonly archiveDoneAtWallMs: number;
  /** Null: the message server still holds what came before. */
  readonly streamDoneAtWallMs: number | null;
  readonly hubs: readonly {
    readonly hub: string;
    readonly room: string;
    /** Null: the hub has not said yet that it is done. */
    readonly doneAtWallMs: number | null;
  }[];
}

/** An athlete, or who led. */
interface AthletePlace {
  readonly hub_id: string;
  readonly athlete_id: string;
  readonly name: string;
}

/** What somebody did: recordings by the ids that pages know, and the persons that there were. */
export interface ErasureDone {
  readonly erasureId: string;
  readonly sessionIds: readonly string[];
  readonly personIds: readonly string[];
  /** Folded: what they were called. */
  readonly names: ReadonlySet<string>;
  readonly hubs: readonly string[];
}

export async function previewErasure(
  { pool }: Archive,
  personId: string,
): Promise<Result<ErasurePreview, ErasureRefusal>> {
  const { rows } = await pool.query<PersonRow>(
    `SELECT ${personColumns} FROM athletes a JOIN hubs h USING (hub_id) WHERE a.person_id = $1 GROUP BY a.person_id`,
    [personId],
  );
  const [person] = rows;
  if (person === undefined) return failed<ErasureRefusal>('unknownPerson');
  const counted = await pool.query<{ own: number; shared: number; documents: number }>(
    `WITH theirs AS (SELECT hub_id, athlete_id FROM athletes WHERE person_id = $1)
     SELECT
       (SELECT count(DISTINCT (s.hub_id, s.session_id))::int FROM sessions s JOIN theirs t USING (hub_id)
        WHERE s.athlete_ids @> ARRAY[t.athlete_id] AND cardinality(s.athlete_ids) = 1) AS own,
       (SELECT count(DISTINCT (s.hub_id, s.session_id))::int FROM sessions s JOIN theirs t USING (hub_id)
        WHERE s.athlete_ids @> ARRAY[t.athlete_id] AND cardinality(s.athlete_ids) > 1) AS shared,
       (SELECT count(*)::int FROM documents d JOIN theirs t USING (hub_id, athlete_id)) AS documents`,
    [personId],
  );
  const { own, shared, documents } = counted.rows[0]!;
  return ok({
    person: viewOfPerson(person),
    ownRecordings: own,
    sharedRecordings: shared,
    ledRecordings: (await recordingsLed(pool, namesOfPerson(person))).length,
    documents,
  });
}

const namesOfPerson = ({ athletes }: Pick<PersonRow, 'athletes'>): ReadonlySet<string> =>
  new Set(athletes.map(({ name }) => foldedName(name)));

/** Gone from the archive when it answers; the hubs are asked until each has done it. */
export function erasePerson(
  archive: Archive,
  personId: string,
  by: string,
): Promise<Result<ErasureDone, ErasureRefusal>> {
  return within(archive, async (client) => {
    await whileNobodyKeeps(client);
    const { rows } = await client.query<AthletePlace>(
      'SELECT hub_id, athlete_id, name FROM athletes WHERE person_id = $1 ORDER BY hub_id, athlete_id',
      [personId],
    );
    if (rows.length === 0) return failed<ErasureRefusal>('unknownPerson');
    return ok(await eraseWithin(client, personId, rows, { by, hub: null }));
  });
}

/** Whoever led under this name, at whatever hub: only the name goes, from recordings that are others'. */
export function eraseCoach(
  archive: Archive,
  name: string,
  by: string,
): Promise<Result<ErasureDone, ErasureRefusal>> {
  return within(archive, async (client) => {
    await whileNobodyKeeps(client);
    const led = await placesLed(client, new Set([foldedName(name)]));
    if (led.length === 0) return failed<ErasureRefusal>('unknownPerson');
    const places = led.map(({ hub_id, leaderId }) => ({ hub_id, athlete_id: leaderId, name }));
    return ok(await eraseWithin(client, '', places, { by, hub: null }));
  });
}

async function eraseWithin(
  client: PoolClient,
  personId: string,
  athletes: readonly AthletePlace[],
  asked: { readonly by: string; readonly hub: string | null },
): Promise<ErasureDone> {
  const erasureId = await begin(client, asked);
  const sessionIds: string[] = [];
  const hubs = [...new Set(athletes.map(({ hub_id }) => hub_id))];
  const led = await placesLed(client, new Set(athletes.map(({ name }) => foldedName(name))));
  for (const hub of hubs) {
    const isOfHub = ({ hub_id }: { readonly hub_id: string }): boolean => hub_id === hub;
    const own = athletes.filter(isOfHub);
    // Whoever is erased leads nothing there either.
    const leads = led.filter(isOfHub).map(({ leaderId }) => leaderId);
    const ids = new Set([...own.map(({ athlete_id }) => athlete_id), ...leads]);
    for (const id of ids) await addHub(client, erasureId, hub, athleteHash(hub, id));
    const names = new Set(own.map(({ name }) => foldedName(name)));
    const changed = await eraseRows(client, hub, { leaderIds: ids, names });
    sessionIds.push(...changed.map((sessionId) => schoolSessionId(hub, sessionId)));
  }
  const personIds = [
    ...new Set([personId, ...athletes.map(({ hub_id, athlete_id }) => `${hub_id}.${athlete_id}`)]),
  ];
  await client.query('DELETE FROM summaries WHERE athlete_id = ANY($1)', [personIds]);
  await client.query('DELETE FROM merges WHERE kept_person_id = ANY($1) OR taken_person_id = ANY($1)', [
    personIds,
  ]);
  await client.query(
    `UPDATE log SET about = '{}' WHERE EXISTS (SELECT 1 FROM unnest($1::text[]) AS id WHERE position(id IN about::text) > 0)`,
    [personIds],
  );
  await client.query(
    'DELETE FROM persons WHERE person_id = ANY($1) AND NOT EXISTS (SELECT 1 FROM athletes a WHERE a.person_id = persons.person_id)',
    [personIds],
  );
  const names = new Set(athletes.map(({ name }) => foldedName(name)));
  return { erasureId, sessionIds, personIds, names, hubs };
}

async function begin(
  client: PoolClient,
  { by, hub }: { readonly by: string; readonly hub: string | null },
): Promise<string> {
  const { rows } = await client.query<{ erasure_id: string }>(
    'INSERT INTO erasures (asked_by, asked_at_hub) VALUES ($1, $2) RETURNING erasure_id',
    [by, hub],
  );
  return rows[0]!.erasure_id;
}

const addHub = (client: PoolClient, erasureId: string, hub: string, hash: string): Promise<unknown> =>
  client.query(
    `INSERT INTO erasure_hubs (erasure_id, hub_id, athlete_hash) VALUES ($1, $2, $3)
     ON CONFLICT (hub_id, athlete_hash) DO NOTHING`,
    [erasureId, hub, hash],
  );

/** What a hub says of erasing, kept; and whom it is to erase. */
export async function answerErased(
  archive: Archive,
  hub: string,
  said: ErasedByHub,
): Promise<{ readonly answer: ErasedAnswer; readonly done: readonly ErasureDone[] }> {
  const done: ErasureDone[] = [];
  const isSaid = said.askedHere.length + said.gone.length + said.recordings.length > 0;
  if (isSaid)
    await within(archive, async (client) => {
      await whileNobodyKeeps(client);
      for (const hash of said.askedHere) {
        const one = await askedAtHub(client, hub, hash);
        if (one !== undefined) done.push(one);
      }
      await client.query(
        `UPDATE erasure_hubs SET done_at = now() WHERE hub_id = $1 AND athlete_hash = ANY($2) AND done_at IS NULL`,
        [hub, said.gone],
      );
      await removeTold(client, hub, said.recordings);
    });
  const { rows } = await archive.pool.query<{ number: string; athlete_hash: string }>(
    'SELECT number, athlete_hash FROM erasure_hubs WHERE hub_id = $1 AND number > $2 ORDER BY number LIMIT $3',
    [hub, said.after, mostOfAnswer + 1],
  );
  const answered = rows.slice(0, mostOfAnswer);
  return {
    done,
    answer: {
      athletes: answered.map(({ athlete_hash }) => athlete_hash),
      upTo: Number(answered.at(-1)?.number ?? said.after),
      isAll: rows.length <= mostOfAnswer,
    },
  };
}

/** Somebody was erased by a person at a hub: the same everywhere. Undefined where it is known already. */
async function askedAtHub(client: PoolClient, hub: string, hash: string): Promise<ErasureDone | undefined> {
  const known = await client.query('SELECT 1 FROM erasure_hubs WHERE hub_id = $1 AND athlete_hash = $2', [
    hub,
    hash,
  ]);
  if (known.rows.length > 0) return undefined;
  const { rows } = await client.query<AthletePlace & { readonly person_id: string }>(
    `SELECT hub_id, athlete_id, name, person_id FROM athletes WHERE person_id = (
       SELECT person_id FROM athletes WHERE hub_id = $1
         AND encode(sha256(convert_to('erased athlete ' || hub_id || ' ' || athlete_id, 'UTF8')), 'hex') = $2)`,
    [hub, hash],
  );
  const asked = { by: '', hub };
  const [first] = rows;
  if (first !== undefined) return eraseWithin(client, first.person_id, rows, asked);
  const leader = await leaderOfHash(client, hub, hash);
  if (leader !== undefined) return eraseWithin(client, '', [leader], asked);
  // Nothing of them has come: nor will it.
  const erasureId = await begin(client, asked);
  await addHub(client, erasureId, hub, hash);
  return { erasureId, sessionIds: [], personIds: [], names: new Set(), hubs: [hub] };
}

async function leaderOfHash(
  client: PoolClient,
  hub: string,
  hash: string,
): Promise<AthletePlace | undefined> {
  const { rows } = await client.query<AthletePlace>(
    `SELECT s.hub_id, l."leaderId" AS athlete_id, l.name
     FROM sessions s, jsonb_to_recordset(s.leaders) AS l ("leaderId" text, name text)
     WHERE s.hub_id = $1 AND s.leaders <> '[]'
       AND encode(sha256(convert_to('erased athlete ' || s.hub_id || ' ' || l."leaderId", 'UTF8')), 'hex') = $2 LIMIT 1`,
    [hub, hash],
  );
  return rows[0];
}

/** Recordings that went whole at a hub, also those of which it never told whose they were. */
async function removeTold(client: PoolClient, hub: string, hashes: readonly string[]): Promise<void> {
  if (hashes.length === 0) return;
  for (const hash of hashes) await refuseRecording(client, hub, hash, null);
  const { rows } = await client.query<{ session_id: string; month: string }>(
    `SELECT session_id, month::text FROM sessions WHERE hub_id = $1
       AND encode(sha256(convert_to('erased recording ' || hub_id || ' ' || session_id, 'UTF8')), 'hex') = ANY($2)`,
    [hub, hashes],
  );
  for (const { session_id, month } of rows) await removeRecording(client, { month, hub }, session_id);
}

/** The newest first. */
export async function listErasures({ pool }: Archive): Promise<readonly ErasureView[]> {
  const { rows } = await pool.query<{
    erasure_id: string;
    asked_at: Date;
    asked_by: string;
    asked_at_room: string | null;
    archive_done_at: Date;
    stream_done_at: Date | null;
    hubs: readonly { readonly hub: string; readonly room: string; readonly done: number | null }[];
  }>(
    `SELECT e.erasure_id, e.asked_at, e.asked_by, a.name AS asked_at_room, e.archive_done_at, e.stream_done_at,
       (SELECT json_agg(json_build_object('hub', p.hub_id, 'room', p.room, 'done', p.done) ORDER BY p.room)
        FROM (SELECT h.hub_id, h.name AS room,
                CASE WHEN bool_and(eh.done_at IS NOT NULL) THEN extract(epoch FROM max(eh.done_at)) * 1000 END AS done
              FROM erasure_hubs eh JOIN hubs h USING (hub_id) WHERE eh.erasure_id = e.erasure_id
              GROUP BY h.hub_id, h.name) p) AS hubs
     FROM erasures e LEFT JOIN hubs a ON a.hub_id = e.asked_at_hub ORDER BY e.erasure_id DESC LIMIT 200`,
  );
  return rows.map((row) => ({
    erasureId: row.erasure_id,
    askedAtWallMs: row.asked_at.getTime(),
    askedBy: row.asked_by,
    askedAtRoom: row.asked_at_room,
    archiveDoneAtWallMs: row.archive_done_at.getTime(),
    streamDoneAtWallMs: row.stream_done_at?.getTime() ?? null,
    hubs: (row.hubs ?? []).map(({ hub, room, done }) => ({ hub, room, doneAtWallMs: done })),
  }));
}

/** How a message server lets go of what it holds. */
export interface StreamEnd {
  /** The number of the last message that came. */
  lastSequence(): Promise<number>;
  /** Whether all up to a number is in the archive; then it is let go of. */
  clearUpTo(sequence: number): Promise<boolean>;
}

/** Follows erasures until the message server holds nothing of before them. Answers whether any is left. */
export async function followStream({ pool }: Archive, stream: StreamEnd): Promise<boolean> {
  const { rows } = await pool.query<{ erasure_id: string; stream_sequence: string | null }>(
    'SELECT erasure_id, stream_sequence FROM erasures WHERE stream_done_at IS NULL ORDER BY erasure_id',
  );
  let isLeft = false;
  for (const { erasure_id, stream_sequence } of rows) {
    const sequence = stream_sequence === null ? await stream.lastSequence() : Number(stream_sequence);
    if (await stream.clearUpTo(sequence))
      await pool.query(
        'UPDATE erasures SET stream_sequence = $2, stream_done_at = now() WHERE erasure_id = $1',
        [erasure_id, sequence],
      );
    else {
      isLeft = true;
      await pool.query('UPDATE erasures SET stream_sequence = $2 WHERE erasure_id = $1', [
        erasure_id,
        sequence,
      ]);
    }
  }
  return isLeft;
}
