// Who led recordings, by name: hubs give each name an id of their own, and whether two of one name are one person nobody says.

import type { PoolClient } from 'pg';
import { foldedName } from '../../../shared/name-text.ts';
import type { SessionLeader } from '../../../shared/views.ts';
import { headUnnamed, type Unnamed } from '../../recorder/led-by.ts';
import type { Archive } from './archive.ts';
import { isSimulated } from './persons.ts';

type Reader = Pick<PoolClient, 'query'>;

export interface CoachView {
  /** As in the newest recording. */
  readonly name: string;
  readonly rooms: readonly { readonly hub: string; readonly room: string }[];
  readonly sessionCount: number;
  /** Of these, those that no person was measured in. */
  readonly simulatedCount: number;
}

interface LeaderRow extends SessionLeader {
  readonly hub_id: string;
  readonly room: string;
  readonly count: number;
  readonly simulated_count: number;
  readonly last_ms: number;
}

/** One a hub and id. */
async function leaderRows(client: Reader): Promise<readonly LeaderRow[]> {
  const { rows } = await client.query<LeaderRow>(
    `SELECT s.hub_id, h.name AS room, l."leaderId", l.name, count(*)::int AS count,
       count(*) FILTER (WHERE ${isSimulated})::int AS simulated_count, max(started_wall_at_ms) AS last_ms
     FROM sessions s JOIN hubs h USING (hub_id), jsonb_to_recordset(s.leaders) AS l ("leaderId" text, name text)
     WHERE s.leaders <> '[]' GROUP BY s.hub_id, h.name, l."leaderId", l.name
     ORDER BY max(started_wall_at_ms) DESC`,
  );
  return rows;
}

/** Of one name one, by name. */
export async function listCoaches({ pool }: Archive): Promise<readonly CoachView[]> {
  const coaches = new Map<string, CoachView>();
  for (const { hub_id: hub, room, name, count, simulated_count } of await leaderRows(pool)) {
    const known = coaches.get(foldedName(name)) ?? { name, rooms: [], sessionCount: 0, simulatedCount: 0 };
    const rooms = known.rooms.some((each) => each.hub === hub)
      ? known.rooms
      : [...known.rooms, { hub, room }];
    coaches.set(foldedName(name), {
      name: known.name,
      rooms,
      sessionCount: known.sessionCount + count,
      simulatedCount: known.simulatedCount + simulated_count,
    });
  }
  return [...coaches.values()].toSorted((one, other) => one.name.localeCompare(other.name));
}

export interface LeaderPlace {
  readonly hub_id: string;
  readonly leaderId: string;
}

/** Everywhere that somebody led under one of these names, which are folded. */
export async function placesLed(client: Reader, names: ReadonlySet<string>): Promise<readonly LeaderPlace[]> {
  return (await leaderRows(client)).filter(({ name }) => names.has(foldedName(name)));
}

/** The recordings of a hub that they led, by its ids of them. */
export async function sessionsLed(
  client: Reader,
  hub: string,
  who: Unnamed,
): Promise<readonly { readonly session_id: string; readonly month: string; readonly generation: number }[]> {
  const { rows } = await client.query<{
    session_id: string;
    month: string;
    generation: number;
    leaders: readonly SessionLeader[];
  }>(
    `SELECT session_id, month::text, generation, leaders FROM sessions WHERE hub_id = $1 AND leaders <> '[]'`,
    [hub],
  );
  return rows.filter(({ leaders }) => headUnnamed({ leaders }, who) !== undefined);
}

export interface LedRecording {
  readonly sessionId: string;
  readonly hub: string;
  readonly startedAt: string;
  readonly title: string;
  /** As they were called in it. */
  readonly ledAs: string;
}

/** What somebody is to get who asks where they are named as who led. `names`: folded. */
export async function recordingsLed(
  client: Reader,
  names: ReadonlySet<string>,
): Promise<readonly LedRecording[]> {
  const { rows } = await client.query<{
    hub_id: string;
    session_id: string;
    title: string;
    started_wall_at_ms: number;
    leaders: readonly SessionLeader[];
  }>(
    `SELECT hub_id, session_id, title, started_wall_at_ms, leaders FROM sessions WHERE leaders <> '[]'
     ORDER BY started_wall_at_ms`,
  );
  return rows.flatMap(({ hub_id, session_id, title, started_wall_at_ms, leaders }) => {
    const led = leaders.find(({ name }) => names.has(foldedName(name)));
    if (led === undefined) return [];
    return {
      sessionId: `${hub_id}.${session_id}`,
      hub: hub_id,
      startedAt: new Date(started_wall_at_ms).toISOString(),
      title,
      ledAs: led.name,
    };
  });
}
