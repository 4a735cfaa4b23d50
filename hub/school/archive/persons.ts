// Who is the same person at several hubs: said by a person, seen beforehand, and taken back.

import type { PoolClient } from 'pg';
import { failed, ok, type Result } from '../../../src/result.ts';
import type { Archive } from './archive.ts';

export interface PersonView {
  readonly personId: string;
  readonly name: string;
  /** Where they train, and what they are called there. */
  readonly athletes: readonly { readonly hub: string; readonly room: string; readonly name: string }[];
  readonly sessionCount: number;
  /** Of these, those that no person was measured in. */
  readonly simulatedCount: number;
  readonly holdCount: number;
  /** When the first and the last of their recordings began; null without any. */
  readonly firstWallAtMs: number | null;
  readonly lastWallAtMs: number | null;
}

export interface MergeView {
  readonly mergeId: string;
  readonly keptPersonId: string;
  readonly takenPersonId: string;
  readonly doneBy: string;
  readonly doneAtWallMs: number;
}

export type MergeRefusal =
  | 'unknownPerson'
  | 'samePerson'
  /** Both are in one session: they are two. */
  | 'togetherInSession'
  | 'unknownMerge'
  /** Somebody was merged into one of them since: that is taken back first. */
  | 'mergedSince';

export interface MergePreview {
  readonly kept: PersonView;
  readonly taken: PersonView;
  /** So many pairs of recordings, one of each, went on at the same time: then they are hardly one person. */
  readonly overlapCount: number;
}

/** Two of one name, who may be one person; that of more recordings is the one to be kept. */
export interface MergeProposal {
  readonly keptPersonId: string;
  readonly takenPersonId: string;
}

/** A list of more is no help: whoever has a hundred of one name looks for them by hand. Our choice. */
const mostProposals = 50;

export interface PersonRow {
  readonly person_id: string;
  readonly athletes: PersonView['athletes'];
  readonly session_count: number;
  readonly simulated_count: number;
  readonly hold_count: number;
  readonly first_ms: number | null;
  readonly last_ms: number | null;
}

/** Of a session `s`: what its hub told of it says so. */
export const isSimulated = `s.view::json ->> 'simulated' = 'true'`;

/** Of athletes `a` with their hubs `h`, grouped by the person. */
export const personColumns = `
  a.person_id,
  json_agg(json_build_object('hub', a.hub_id, 'room', h.name, 'name', a.name)
    ORDER BY (a.person_id = a.hub_id || '.' || a.athlete_id) DESC, a.hub_id) AS athletes,
  sum((SELECT count(*) FROM sessions s WHERE s.hub_id = a.hub_id AND s.athlete_ids @> ARRAY[a.athlete_id]))::int
    AS session_count,
  sum((SELECT count(*) FILTER (WHERE ${isSimulated}) FROM sessions s
    WHERE s.hub_id = a.hub_id AND s.athlete_ids @> ARRAY[a.athlete_id]))::int AS simulated_count,
  sum((SELECT count(*) FROM holds o WHERE o.hub_id = a.hub_id AND o.athlete_id = a.athlete_id))::int AS hold_count,
  min((SELECT min(s.started_wall_at_ms) FROM sessions s WHERE s.hub_id = a.hub_id AND s.athlete_ids @> ARRAY[a.athlete_id]))
    AS first_ms,
  max((SELECT max(s.started_wall_at_ms) FROM sessions s WHERE s.hub_id = a.hub_id AND s.athlete_ids @> ARRAY[a.athlete_id]))
    AS last_ms`;

export const viewOfPerson = (row: PersonRow): PersonView => ({
  personId: row.person_id,
  name: row.athletes[0]?.name ?? row.person_id,
  athletes: row.athletes,
  sessionCount: row.session_count,
  simulatedCount: row.simulated_count,
  holdCount: row.hold_count,
  firstWallAtMs: row.first_ms,
  lastWallAtMs: row.last_ms,
});

export async function listPersons({ pool }: Archive): Promise<readonly PersonView[]> {
  const { rows } = await pool.query<PersonRow>(
    `SELECT ${personColumns} FROM athletes a JOIN hubs h USING (hub_id) GROUP BY a.person_id ORDER BY a.person_id`,
  );
  return rows.map(viewOfPerson);
}

/** Those that were not taken back, the newest first. */
export async function listMerges({ pool }: Archive): Promise<readonly MergeView[]> {
  const { rows } = await pool.query<{
    merge_id: string;
    kept_person_id: string;
    taken_person_id: string;
    done_by: string;
    done_at: Date;
  }>('SELECT * FROM merges WHERE undone_at IS NULL ORDER BY merge_id DESC');
  return rows.map((row) => ({
    mergeId: row.merge_id,
    keptPersonId: row.kept_person_id,
    takenPersonId: row.taken_person_id,
    doneBy: row.done_by,
    doneAtWallMs: row.done_at.getTime(),
  }));
}

/** What would become one; nothing is changed. */
export async function previewMerge(
  { pool }: Archive,
  keptId: string,
  takenId: string,
): Promise<Result<MergePreview, MergeRefusal>> {
  if (keptId === takenId) return failed<MergeRefusal>('samePerson');
  const { rows } = await pool.query<PersonRow>(
    `SELECT ${personColumns} FROM athletes a JOIN hubs h USING (hub_id) WHERE a.person_id IN ($1, $2)
     GROUP BY a.person_id`,
    [keptId, takenId],
  );
  const kept = rows.find((row) => row.person_id === keptId);
  const taken = rows.find((row) => row.person_id === takenId);
  if (kept === undefined || taken === undefined) return failed<MergeRefusal>('unknownPerson');
  if (await areTogether(pool, keptId, takenId)) return failed<MergeRefusal>('togetherInSession');
  const overlaps = await pool.query<{ n: number }>(
    `SELECT count(*)::int AS n FROM sessions k
     JOIN athletes ka ON ka.hub_id = k.hub_id AND ka.person_id = $1 AND k.athlete_ids @> ARRAY[ka.athlete_id]
     JOIN sessions t ON t.started_wall_at_ms < k.started_wall_at_ms + k.duration_ms
       AND k.started_wall_at_ms < t.started_wall_at_ms + t.duration_ms
     JOIN athletes ta ON ta.hub_id = t.hub_id AND ta.person_id = $2 AND t.athlete_ids @> ARRAY[ta.athlete_id]`,
    [keptId, takenId],
  );
  return ok({ kept: viewOfPerson(kept), taken: viewOfPerson(taken), overlapCount: overlaps.rows[0]?.n ?? 0 });
}

async function areTogether(pool: Archive['pool'], one: string, other: string): Promise<boolean> {
  const together = await pool.query(
    `SELECT 1 FROM sessions s
     JOIN athletes k ON k.hub_id = s.hub_id AND k.person_id = $1 AND s.athlete_ids @> ARRAY[k.athlete_id]
     JOIN athletes t ON t.hub_id = s.hub_id AND t.person_id = $2 AND s.athlete_ids @> ARRAY[t.athlete_id] LIMIT 1`,
    [one, other],
  );
  return together.rows.length > 0;
}

const plainName = (name: string): string => name.trim().replaceAll(/\s+/g, ' ').toLocaleLowerCase('und');

/** Those of one name who were never in one session. Nobody is ever joined by the program. */
export async function proposeMerges(
  { pool }: Archive,
  persons: readonly PersonView[],
): Promise<readonly MergeProposal[]> {
  const byName = new Map<string, PersonView[]>();
  for (const person of persons)
    for (const name of new Set(person.athletes.map((each) => plainName(each.name))))
      byName.set(name, [...(byName.get(name) ?? []), person]);
  const proposals: MergeProposal[] = [];
  for (const alike of byName.values()) {
    const [kept, ...others] = alike.toSorted((one, other) => other.sessionCount - one.sessionCount);
    for (const taken of others) {
      if (proposals.length >= mostProposals) return proposals;
      const hubs = new Set(kept!.athletes.map(({ hub }) => hub));
      // Nobody is in a session of a hub that does not know them.
      const mayBeTogether = taken.athletes.some(({ hub }) => hubs.has(hub));
      if (mayBeTogether && (await areTogether(pool, kept!.personId, taken.personId))) continue;
      proposals.push({ keptPersonId: kept!.personId, takenPersonId: taken.personId });
    }
  }
  return proposals;
}

export async function mergePersons(
  archive: Archive,
  keptId: string,
  takenId: string,
  by: string,
): Promise<Result<string, MergeRefusal>> {
  const preview = await previewMerge(archive, keptId, takenId);
  if (!preview.ok) return preview;
  return within(archive, async (client) => {
    const moved = await client.query<{ hub_id: string; athlete_id: string }>(
      'UPDATE athletes SET person_id = $1 WHERE person_id = $2 RETURNING hub_id, athlete_id',
      [keptId, takenId],
    );
    // Somebody else was quicker.
    if (moved.rows.length === 0) return failed<MergeRefusal>('unknownPerson');
    await forgetSummaries(client, [keptId, takenId]);
    const { rows } = await client.query<{ merge_id: string }>(
      'INSERT INTO merges (kept_person_id, taken_person_id, moved, done_by) VALUES ($1, $2, $3, $4) RETURNING merge_id',
      [keptId, takenId, JSON.stringify(moved.rows), by],
    );
    await note(client, by, 'personsMerged', { keptId, takenId });
    return ok(rows[0]!.merge_id);
  });
}

/** Everybody is who they were before it, to the last recording: nothing of theirs was changed but who they are. */
export async function undoMerge(
  archive: Archive,
  mergeId: string,
  by: string,
): Promise<Result<true, MergeRefusal>> {
  return within(archive, async (client) => {
    const { rows } = await client.query<{ kept_person_id: string; taken_person_id: string; moved: unknown }>(
      'SELECT * FROM merges WHERE merge_id = $1 AND undone_at IS NULL FOR UPDATE',
      [mergeId],
    );
    const [merge] = rows;
    if (merge === undefined) return failed<MergeRefusal>('unknownMerge');
    const { kept_person_id: keptId, taken_person_id: takenId } = merge;
    const since = await client.query(
      `SELECT 1 FROM merges WHERE undone_at IS NULL AND merge_id > $1
         AND (taken_person_id = $2 OR kept_person_id = $3) LIMIT 1`,
      [mergeId, keptId, takenId],
    );
    if (since.rows.length > 0) return failed<MergeRefusal>('mergedSince');
    await client.query(
      `UPDATE athletes SET person_id = $1
       FROM json_to_recordset($2) AS m (hub_id text, athlete_id text)
       WHERE athletes.hub_id = m.hub_id AND athletes.athlete_id = m.athlete_id`,
      [takenId, JSON.stringify(merge.moved)],
    );
    await forgetSummaries(client, [keptId, takenId]);
    await client.query('UPDATE merges SET undone_by = $2, undone_at = now() WHERE merge_id = $1', [
      mergeId,
      by,
    ]);
    await note(client, by, 'mergeUndone', { keptId, takenId });
    return ok(true as const);
  });
}

/** They were made of another person's recordings. */
const forgetSummaries = (client: PoolClient, personIds: readonly string[]): Promise<unknown> =>
  client.query('DELETE FROM summaries WHERE athlete_id = ANY($1)', [personIds]);

const note = (client: PoolClient, who: string, what: string, about: unknown): Promise<unknown> =>
  client.query('INSERT INTO log (who, what, about) VALUES ($1, $2, $3)', [who, what, JSON.stringify(about)]);

/** One transaction. */
export async function within<Value>(
  { pool }: Archive,
  work: (client: PoolClient) => Promise<Value>,
): Promise<Value> {
  const client = await pool.connect();
  try {
    await client.query('BEGIN');
    const value = await work(client);
    await client.query('COMMIT');
    return value;
  } catch (error) {
    await client.query('ROLLBACK').catch(() => undefined);
    throw error;
  } finally {
    client.release();
  }
}
