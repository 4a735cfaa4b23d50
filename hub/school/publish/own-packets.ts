// A hub's own packets against what was sent of them or what the archive says it has: the same under the same numbers, others,
// or not to be told.

import type { SumsAnswer, SumsAsked } from '../../../shared/school/questions.ts';
import type { ArchivedSegment, ArchivedTold } from '../../base/ports/archive-reads.ts';
import type { StoredPacket } from '../../base/ports/stored-session.ts';
import { decodeChunk, packetsOf } from '../../recorder/packet-chunk.ts';
import { fingerprintOf, joinFingerprints, noPackets } from '../packet-fingerprint.ts';

/** Read at a time, about. */
const readBytes = 256 * 1024;
/** As many ranges as one question takes. */
const mostRanges = 500;

interface Range {
  readonly first: number;
  readonly packetCount: number;
  readonly fingerprint: string;
}

export interface OwnPacketPorts {
  readonly readSegment: (
    sessionId: string,
    first: number,
    mostBytes: number,
  ) => Promise<ArchivedSegment | undefined>;
  /** Undefined where the school does not answer. */
  readonly sums: (asked: SumsAsked) => Promise<SumsAnswer | undefined>;
}

/** `unknown`: some cannot be read any more, and the school cannot be asked about the others now. */
export type Comparison = 'same' | 'other' | 'unknown';

/** Packets 0 to `upTo - 1` under a generation, of which the fingerprint is given: are they those of the hub? */
export async function compareOwnPackets(
  ports: OwnPacketPorts,
  told: ArchivedTold,
  { generation, upTo, fingerprint }: { generation: string; upTo: number; fingerprint: string },
): Promise<Comparison> {
  const own = await readOwn(ports, told, upTo);
  if (own === undefined) return 'unknown';
  if (own.end < upTo) return 'other';
  const sum = own.ranges.reduce((joined, range) => joinFingerprints(joined, range.fingerprint), noPackets);
  if (sum === fingerprint) return 'same';
  if (!own.isDamaged) return 'other';
  // Damage changes no numbers: those that can be read say whether they are the same.
  for (let at = 0; at < own.ranges.length; at += mostRanges) {
    const ranges = own.ranges.slice(at, at + mostRanges);
    const answer = await ports.sums({
      sessionId: told.sessionId,
      generation,
      ranges: ranges.map(({ first, packetCount }) => ({ first, packetCount })),
    });
    if (answer === undefined || answer.sums.length !== ranges.length) return 'unknown';
    for (const [i, { packetCount, fingerprint: own }] of ranges.entries()) {
      const theirs = answer.sums[i];
      if (theirs?.packetCount !== packetCount || theirs.fingerprint !== own) return 'other';
    }
  }
  return 'same';
}

/** Undefined where packets were taken out while they were read. */
async function readOwn(
  { readSegment }: OwnPacketPorts,
  { sessionId, numbering, packetCount }: ArchivedTold,
  upTo: number,
): Promise<{ readonly ranges: Range[]; readonly end: number; readonly isDamaged: boolean } | undefined> {
  const ranges: Range[] = [];
  let next = 0;
  let isDamaged = false;
  while (next < upTo) {
    const segment = await readSegment(sessionId, next, readBytes);
    if (segment === undefined) break;
    if (segment.numbering !== numbering) return undefined;
    if (segment.unreadableBefore > 0) isDamaged = true;
    const packets = packetsIn(segment).slice(0, Math.max(0, upTo - segment.first));
    if (packets.length > 0)
      ranges.push({
        first: segment.first,
        packetCount: packets.length,
        fingerprint: fingerprintOf(segment.first, packets),
      });
    next = segment.first + segment.packetCount;
  }
  // Its last ones are damaged.
  if (next < upTo && packetCount !== null && next < packetCount) {
    isDamaged = true;
    next = packetCount;
  }
  return { ranges, end: next, isDamaged };
}

export function packetsIn({ body }: ArchivedSegment): StoredPacket[] {
  const chunk = decodeChunk(body);
  if (!chunk.ok) throw new Error(chunk.reason);
  return [...packetsOf(chunk.value)];
}
