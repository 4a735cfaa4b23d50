// Segments of packets as rows: each packet once, whatever comes twice, overlapping or out of order.

import type { PoolClient } from 'pg';
import type { SegmentHead } from '../../../shared/school/kept-messages.ts';
import type { StoredPacket } from '../../base/ports/stored-session.ts';
import { decodeChunk, encodeChunk, packetsOf } from '../../recorder/packet-chunk.ts';
import { sha256Of } from '../kept-bytes.ts';
import { fingerprintOf } from '../packet-fingerprint.ts';
import type { GenerationPlace } from './generations.ts';

export interface SegmentPlace {
  readonly month: string;
  readonly hub: string;
}

/** Other packets than those that are kept under the same numbers. */
class OtherPackets extends Error {
  override readonly name = 'OtherPackets';
}

interface KeptRow {
  readonly first_packet: string;
  readonly packet_count: string;
  readonly sha256: Buffer;
}

/** Within a transaction. Answers whether anything of it was new. */
export async function keepSegment(
  client: PoolClient,
  place: GenerationPlace,
  head: SegmentHead,
  body: Uint8Array,
): Promise<boolean> {
  const { month, hub, sessionId, generation } = place;
  const { first, packetCount, sha256 } = head;
  const { rows } = await client.query<KeptRow>(
    `SELECT first_packet, packet_count, sha256 FROM segments
     WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4
       AND first_packet < $6 AND first_packet + packet_count > $5 ORDER BY first_packet`,
    [month, hub, sessionId, generation, first, first + packetCount],
  );
  if (rows.length === 0) {
    await insert(client, place, head, body, packetsIn(body));
    return true;
  }
  const [only] = rows;
  const isSame =
    rows.length === 1 && Number(only?.first_packet) === first && only?.sha256.toString('hex') === sha256;
  return isSame ? false : keepRest(client, place, head, body);
}

async function insert(
  client: PoolClient,
  { month, hub, sessionId, generation }: GenerationPlace,
  head: SegmentHead,
  body: Uint8Array,
  packets: readonly StoredPacket[],
): Promise<void> {
  const { first, packetCount, unreadableBefore, lastAtMs, sha256 } = head;
  await client.query(
    `INSERT INTO segments (month, hub_id, session_id, generation, first_packet, packet_count, unreadable_before,
       last_at_ms, sha256, body, fingerprint) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
    [
      month,
      hub,
      sessionId,
      generation,
      first,
      packetCount,
      unreadableBefore,
      lastAtMs,
      Buffer.from(sha256, 'hex'),
      body,
      Buffer.from(fingerprintOf(first, packets), 'hex'),
    ],
  );
}

/** Cut differently from what is kept, as a hub does that died before it knew of an acknowledgement: the rest of it. */
async function keepRest(
  client: PoolClient,
  place: GenerationPlace,
  head: SegmentHead,
  body: Uint8Array,
): Promise<boolean> {
  const { first, packetCount } = head;
  const packets = packetsIn(body);
  const { rows } = await client.query<{ first_packet: string; body: Buffer }>(
    `SELECT first_packet, body FROM segments
     WHERE month = $1 AND hub_id = $2 AND session_id = $3 AND generation = $4
       AND first_packet < $6 AND first_packet + packet_count > $5 ORDER BY first_packet`,
    [place.month, place.hub, place.sessionId, place.generation, first, first + packetCount],
  );
  const isKept = new Uint8Array(packetCount);
  for (const row of rows) {
    const offset = Number(row.first_packet) - first;
    packetsIn(row.body).forEach((packet, i) => {
      const other = packets[offset + i];
      if (other === undefined) return;
      if (!isSamePacket(packet, other)) throw new OtherPackets(`packet ${first + offset + i}`);
      isKept[offset + i] = 1;
    });
  }
  let isNew = false;
  for (let from = 0; from < packetCount; ) {
    if (isKept[from] === 1) {
      from++;
      continue;
    }
    let to = from;
    while (to < packetCount && isKept[to] === 0) to++;
    const part = packets.slice(from, to);
    const partBody = encodeChunk(part);
    await insert(
      client,
      place,
      {
        ...head,
        first: first + from,
        packetCount: part.length,
        unreadableBefore: from === 0 ? head.unreadableBefore : 0,
        lastAtMs: Math.max(...part.map(({ atMs }) => atMs)),
        sha256: sha256Of(partBody),
      },
      partBody,
      part,
    );
    isNew = true;
    from = to;
  }
  return isNew;
}

/** The packets of a body that was checked when it came. */
function packetsIn(body: Uint8Array): StoredPacket[] {
  const chunk = decodeChunk(body);
  if (!chunk.ok) throw new OtherPackets(chunk.reason);
  return [...packetsOf(chunk.value)];
}

const isSamePacket = (one: StoredPacket, other: StoredPacket): boolean =>
  one.sensorId === other.sensorId &&
  one.characteristic === other.characteristic &&
  Object.is(one.atMs, other.atMs) &&
  Object.is(one.wallAtMs, other.wallAtMs) &&
  Buffer.compare(one.bytes, other.bytes) === 0;
