// Earlier copies of recordings that hold packets which the copy shown has not: whose, how many, and all of one as a file. A hub
// numbered its packets anew (generations.ts); nobody decides by themselves which of the two is to be thrown away.

import { decodeChunk, packetsOf } from '../../recorder/packet-chunk.ts';
import type { Archive } from './archive.ts';
import { hubOfSession, schoolSessionId } from './school-ids.ts';

/** The newest; a school that has more of them has another trouble. Our choice. */
const mostListed = 200;

export interface AsideCopy {
  /** The school's id of the recording, which is shown by another copy. */
  readonly sessionId: string;
  /** Which of its copies. */
  readonly copy: number;
  readonly hub: string;
  readonly room: string;
  readonly title: string;
  readonly startedWallAtMs: number;
  readonly athleteNames: readonly string[];
  readonly packetCount: number;
  /** Of the copy that is shown. */
  readonly shownPacketCount: number;
}

interface AsideRow {
  readonly hub_id: string;
  readonly session_id: string;
  readonly generation: number;
  readonly room: string;
  readonly title: string;
  readonly started_wall_at_ms: number;
  readonly names: readonly string[] | null;
  readonly packets: string | null;
  readonly shown: string | null;
}

const packetsIn = (generation: string): string =>
  `(SELECT sum(g.packet_count) FROM segments g WHERE g.month = s.month AND g.hub_id = s.hub_id
     AND g.session_id = s.session_id AND g.generation = ${generation})`;

async function rowsOf(
  { pool }: Pick<Archive, 'pool'>,
  one: { readonly hub: string; readonly sessionId: string; readonly copy: number } | null,
): Promise<readonly AsideRow[]> {
  const { rows } = await pool.query<AsideRow>(
    `SELECT c.hub_id, c.session_id, c.generation, h.name AS room, s.title, s.started_wall_at_ms,
       (SELECT array_agg(a.name ORDER BY a.name) FROM athletes a
        WHERE a.hub_id = c.hub_id AND a.athlete_id = ANY(c.athlete_ids)) AS names,
       ${packetsIn('c.generation')} AS packets, ${packetsIn('s.shown_generation')} AS shown
     FROM coverage c JOIN sessions s USING (hub_id, session_id) JOIN hubs h USING (hub_id)
     WHERE c.state = 'aside' AND ($1::text IS NULL OR (c.hub_id = $1 AND c.session_id = $2 AND c.generation = $3))
     ORDER BY s.started_wall_at_ms DESC, c.generation LIMIT ${mostListed}`,
    one === null ? [null, null, null] : [one.hub, one.sessionId, one.copy],
  );
  return rows;
}

const viewOf = (row: AsideRow): AsideCopy => ({
  sessionId: schoolSessionId(row.hub_id, row.session_id),
  copy: row.generation,
  hub: row.hub_id,
  room: row.room,
  title: row.title,
  startedWallAtMs: row.started_wall_at_ms,
  athleteNames: row.names ?? [],
  packetCount: Number(row.packets ?? 0),
  shownPacketCount: Number(row.shown ?? 0),
});

/** The newest recording first. */
export const listAside = async (archive: Pick<Archive, 'pool'>): Promise<readonly AsideCopy[]> =>
  (await rowsOf(archive, null)).map(viewOf);

export async function asideCopy(
  archive: Pick<Archive, 'pool'>,
  sessionId: string,
  copy: number,
): Promise<AsideCopy | undefined> {
  const place = hubOfSession(sessionId);
  if (place === undefined || !Number.isSafeInteger(copy)) return undefined;
  const [row] = await rowsOf(archive, { ...place, copy });
  return row === undefined ? undefined : viewOf(row);
}

/** As lines of JSON: first which copy of what, then a packet a line as it arrived, its bytes in hexadecimal. */
export async function* linesOfAside(
  { pool }: Pick<Archive, 'pool'>,
  aside: AsideCopy,
): AsyncGenerator<string, void, undefined> {
  yield `${JSON.stringify({ version: 1, what: 'packetsAside', ...aside })}\n`;
  const place = hubOfSession(aside.sessionId);
  if (place === undefined) return;
  for (let next = -1; ; ) {
    const { rows } = await pool.query<{ first_packet: string; body: Buffer }>(
      `SELECT first_packet, g.body FROM segments g JOIN sessions s USING (month, hub_id, session_id)
       WHERE hub_id = $1 AND session_id = $2 AND g.generation = $3 AND first_packet > $4 ORDER BY first_packet LIMIT 1`,
      [place.hub, place.sessionId, aside.copy, next],
    );
    const [row] = rows;
    if (row === undefined) return;
    next = Number(row.first_packet);
    const chunk = decodeChunk(row.body);
    // It was read and checked when it came: the database's disk lost it since.
    if (!chunk.ok) yield `${JSON.stringify({ unreadable: next })}\n`;
    else {
      const lines = [...packetsOf(chunk.value)].map(({ sensorId, characteristic, atMs, wallAtMs, bytes }) =>
        JSON.stringify({ sensorId, characteristic, atMs, wallAtMs, hex: Buffer.from(bytes).toString('hex') }),
      );
      yield `${lines.join('\n')}\n`;
    }
  }
}
