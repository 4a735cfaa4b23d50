// What was told of a session, as rows: its head, its holds and its alarms; and who a hub knows. The newest revision holds.

import type { PoolClient } from 'pg';
import type { HubList, Told } from '../../../shared/school/kept-messages.ts';
import type { HubIdentity } from '../../../shared/school/subjects.ts';
import type { HoldFigures } from '../../../src/sessions/session-summary.ts';
import type { StoredHold } from '../../base/ports/stored-session.ts';
import { isWhollyBinned } from '../../recorder/binned-parts.ts';
import { readAthlete, readEntry, readSessionHead } from '../../recorder/stored-shapes.ts';
import { sessionOfTold } from './archived-session.ts';
import type { GenerationPlace } from './generations.ts';
import { schoolSessionId } from './school-ids.ts';
import type { SegmentPlace } from './segment-rows.ts';

/** PostgreSQL takes no NUL in a text. */
const clean = (text: string): string => text.replaceAll('\0', '');

/** Within a transaction, for what refers to it. Answers false where another hub was first under this name. */
export async function knowHub(
  client: Pick<PoolClient, 'query'>,
  { hub, hubId }: HubIdentity,
): Promise<boolean> {
  const { rowCount } = await client.query(
    `INSERT INTO hubs (hub_id, name, identity) VALUES ($1, $1, $2)
     ON CONFLICT (hub_id) DO UPDATE SET last_kept = now(), identity = excluded.identity
     WHERE hubs.identity IS NULL OR hubs.identity = excluded.identity`,
    [hub, hubId],
  );
  return rowCount === 1;
}

export async function knowSession(
  client: PoolClient,
  { month, hub }: SegmentPlace,
  sessionId: string,
  startedWallAtMs: number,
): Promise<void> {
  await client.query(
    `INSERT INTO sessions (hub_id, session_id, month, started_at, started_wall_at_ms, changed)
     VALUES ($1, $2, $3, to_timestamp($4::double precision / 1000), $4, nextval('session_changes'))
     ON CONFLICT (hub_id, session_id) DO UPDATE SET changed = excluded.changed`,
    [hub, sessionId, month, startedWallAtMs],
  );
}

/** Everybody is a person of their own until somebody says who is the same. */
async function knowAthletes(
  client: PoolClient,
  hub: string,
  athletes: readonly { readonly athleteId: string; readonly name: string; readonly body: string }[],
  isListed: boolean,
): Promise<void> {
  const rows = athletes.map(({ athleteId, name, body }) => ({
    athlete_id: athleteId,
    person_id: `${hub}.${athleteId}`,
    name: clean(name),
    body: clean(body),
  }));
  const given = JSON.stringify(rows);
  const shape = 'athlete_id text, person_id text, name text, body text';
  await client.query(
    `INSERT INTO persons (person_id) SELECT person_id FROM json_to_recordset($1) AS r (${shape})
     ON CONFLICT DO NOTHING`,
    [given],
  );
  await client.query(
    `INSERT INTO athletes (hub_id, athlete_id, person_id, name, body, is_listed)
     SELECT $2, athlete_id, person_id, name, body, $3 FROM json_to_recordset($1) AS r (${shape})
     ON CONFLICT (hub_id, athlete_id) ${
       isListed ? 'DO UPDATE SET name = excluded.name, body = excluded.body, is_listed = true' : 'DO NOTHING'
     }`,
    [given, hub, isListed],
  );
}

/** Answers whether it was newer than what was known. `isRewritten`: what is known is replaced, of whatever revision. */
export async function keepTold(
  client: PoolClient,
  place: GenerationPlace,
  told: Told,
  body: Uint8Array,
  isRewritten = false,
): Promise<boolean> {
  const { month, hub, generation } = place;
  const head = readSessionHead(JSON.parse(told.head));
  const { session: stored } = sessionOfTold(told);
  const { holdCount, longestHoldMs, lowestSpo2Percent } = figuresOfHolds(stored.holds);
  const updated = await client.query(
    `UPDATE sessions SET revision = $3, generation = $4, status = $5, ended_at_ms = $6,
       duration_ms = $7, packet_count = $8, title = $9, view = $10, athlete_ids = $11, hold_count = $12,
       longest_hold_ms = $13, lowest_percent = $14, leaders = $16
     WHERE hub_id = $1 AND session_id = $2 AND (revision < $3 OR $15)`,
    [
      hub,
      told.sessionId,
      told.revision,
      generation,
      told.status,
      told.endedAtMs,
      told.durationMs,
      told.packetCount,
      clean(head.title),
      isWhollyBinned(head) ? null : clean(JSON.stringify(stored.session)),
      head.athletes.map(({ athleteId }) => athleteId),
      holdCount,
      longestHoldMs,
      lowestSpo2Percent,
      isRewritten,
      clean(JSON.stringify(head.leaders ?? [])),
    ],
  );
  if (updated.rowCount === 0) return false;
  await client.query(
    'UPDATE coverage SET athlete_ids = $4 WHERE hub_id = $1 AND session_id = $2 AND generation = $3',
    [hub, told.sessionId, generation, head.athletes.map(({ athleteId }) => athleteId)],
  );
  await client.query(
    `INSERT INTO told (month, hub_id, session_id, revision, body) VALUES ($1, $2, $3, $4, $5)
     ON CONFLICT (month, hub_id, session_id) DO UPDATE SET revision = excluded.revision, body = excluded.body`,
    [month, hub, told.sessionId, told.revision, body],
  );
  // They were made of what was told before.
  await client.query('DELETE FROM summaries WHERE session_id = $1', [schoolSessionId(hub, told.sessionId)]);
  await knowAthletes(
    client,
    hub,
    head.athletes.map((athlete) => ({ ...athlete, body: JSON.stringify(athlete) })),
    false,
  );
  await keepHolds(client, place, told);
  await keepAlarms(client, place, told);
  return true;
}

function figuresOfHolds(holds: readonly StoredHold[]): HoldFigures {
  const shown = holds.filter(({ withdrawn }) => !withdrawn);
  const longest = shown.flatMap(({ hold }) => (hold.end === null ? [] : hold.end.atMs - hold.start.atMs));
  const lowest = shown.flatMap(({ hold }) => hold.lowestSpo2?.value ?? []);
  return {
    holdCount: shown.length,
    longestHoldMs: longest.length === 0 ? null : Math.max(...longest),
    lowestSpo2Percent: lowest.length === 0 ? null : Math.min(...lowest),
  };
}

async function keepHolds(client: PoolClient, { month, hub }: SegmentPlace, told: Told): Promise<void> {
  const rows = told.entries
    .filter(({ kind, withdrawn }) => kind === 'hold' && !withdrawn)
    .flatMap(({ body }) => {
      const read = readEntry('hold', JSON.parse(body));
      if (read === undefined) return [];
      const { athleteId, hold } = read;
      return {
        athlete_id: athleteId,
        hold_id: hold.holdId,
        start_wall_ms: told.startedWallAtMs + hold.start.atMs,
        length_ms: hold.end === null ? null : hold.end.atMs - hold.start.atMs,
        lowest_percent: hold.lowestSpo2?.value ?? null,
        body: clean(body),
      };
    });
  await client.query(
    `WITH given AS (
       SELECT * FROM json_to_recordset($4) AS r (athlete_id text, hold_id text, start_wall_ms double precision,
         length_ms double precision, lowest_percent double precision, body text)
     ), gone AS (
       DELETE FROM holds WHERE month = $1 AND hub_id = $2 AND session_id = $3
         AND (athlete_id, hold_id) NOT IN (SELECT athlete_id, hold_id FROM given)
     )
     INSERT INTO holds (month, hub_id, session_id, athlete_id, hold_id, start_at, length_ms, lowest_percent, body)
     SELECT $1, $2, $3, athlete_id, hold_id, to_timestamp(start_wall_ms / 1000), length_ms, lowest_percent, body FROM given
     ON CONFLICT (month, hub_id, session_id, athlete_id, hold_id) DO UPDATE SET start_at = excluded.start_at,
       length_ms = excluded.length_ms, lowest_percent = excluded.lowest_percent, body = excluded.body
     WHERE holds.body IS DISTINCT FROM excluded.body`,
    [month, hub, told.sessionId, JSON.stringify(rows)],
  );
}

async function keepAlarms(client: PoolClient, { month, hub }: SegmentPlace, told: Told): Promise<void> {
  const rows = told.entries
    .filter(({ kind }) => kind === 'alarm')
    .flatMap(({ body }) => {
      const read = readEntry('alarm', JSON.parse(body));
      if (read === undefined) return [];
      const { athleteId, alarm } = read;
      return {
        athlete_id: athleteId,
        alarm_id: alarm.alarmId,
        raised_wall_ms: told.startedWallAtMs + alarm.raisedAtMs,
        kind: alarm.kind,
        priority: alarm.highestPriority,
        body: clean(body),
      };
    });
  await client.query(
    `WITH given AS (
       SELECT * FROM json_to_recordset($4) AS r (athlete_id text, alarm_id text, raised_wall_ms double precision,
         kind text, priority text, body text)
     ), gone AS (
       DELETE FROM alarms WHERE month = $1 AND hub_id = $2 AND session_id = $3
         AND (athlete_id, alarm_id) NOT IN (SELECT athlete_id, alarm_id FROM given)
     )
     INSERT INTO alarms (month, hub_id, session_id, athlete_id, alarm_id, raised_at, kind, priority, body)
     SELECT $1, $2, $3, athlete_id, alarm_id, to_timestamp(raised_wall_ms / 1000), kind, priority, body FROM given
     ON CONFLICT (month, hub_id, session_id, athlete_id, alarm_id) DO UPDATE SET priority = excluded.priority,
       body = excluded.body
     WHERE alarms.body IS DISTINCT FROM excluded.body`,
    [month, hub, told.sessionId, JSON.stringify(rows)],
  );
}

/** Answers whether it was newer than what was known. */
export async function keepList(client: PoolClient, hub: string, list: HubList): Promise<boolean> {
  const updated = await client.query(
    'UPDATE hubs SET name = $2, list_revision = $3 WHERE hub_id = $1 AND list_revision < $3',
    [hub, clean(list.name), list.revision],
  );
  if (updated.rowCount === 0) return false;
  const readable = list.athletes.filter(({ body }) => readAthlete(JSON.parse(body)) !== undefined);
  await client.query('UPDATE athletes SET is_listed = false WHERE hub_id = $1', [hub]);
  await knowAthletes(client, hub, readable, true);
  const documents = list.documents.map((each, position) => ({
    kind: each.kind,
    document_id: each.documentId,
    position,
    group_id: each.groupId,
    athlete_id: each.athleteId,
    body: clean(each.body),
  }));
  await client.query(
    `WITH given AS (
       SELECT * FROM json_to_recordset($2) AS r (kind text, document_id text, position int, group_id text,
         athlete_id text, body text)
     ), gone AS (
       DELETE FROM documents WHERE hub_id = $1 AND (kind, document_id) NOT IN (SELECT kind, document_id FROM given)
     )
     INSERT INTO documents (hub_id, kind, document_id, position, group_id, athlete_id, body)
     SELECT $1, kind, document_id, position, group_id, athlete_id, body FROM given
     ON CONFLICT (hub_id, kind, document_id) DO UPDATE SET position = excluded.position,
       group_id = excluded.group_id, athlete_id = excluded.athlete_id, body = excluded.body`,
    [hub, JSON.stringify(documents)],
  );
  return true;
}
