// A fingerprint of packets by their numbers: however they are cut and in whatever order they come, the same packets under the
// same numbers have the same. A hub and the archive compare theirs.

import { createHash } from 'node:crypto';
import type { StoredPacket } from '../base/ports/stored-session.ts';

const fingerprintBytes = 32;

/** Of no packets. */
export const noPackets = '0'.repeat(2 * fingerprintBytes);

/**
 * The exclusive or of each packet's SHA-256, its number among what is hashed: nobody is kept from forging one, who writes
 * may write as they like; it tells what differs by accident. Hexadecimal. `first`: the number of the first packet.
 */
export function fingerprintOf(first: number, packets: Iterable<StoredPacket>): string {
  const sum = Buffer.alloc(fingerprintBytes);
  let number = first;
  for (const packet of packets) {
    const hash = hashOf(number, packet);
    for (let i = 0; i < fingerprintBytes; i++) sum[i]! ^= hash[i]!;
    number += 1;
  }
  return sum.toString('hex');
}

/** Of both together, or of what one has and the other has not. */
export function joinFingerprints(one: string, other: string): string {
  const sum = Buffer.from(one, 'hex');
  const more = Buffer.from(other, 'hex');
  for (let i = 0; i < fingerprintBytes; i++) sum[i]! ^= more[i]!;
  return sum.toString('hex');
}

function hashOf(number: number, { sensorId, characteristic, atMs, wallAtMs, bytes }: StoredPacket): Buffer {
  const places = Buffer.alloc(3 * 8);
  places.writeDoubleLE(number, 0);
  places.writeDoubleLE(atMs, 8);
  places.writeDoubleLE(wallAtMs, 16);
  // Lengths, so that no two packets are written alike.
  const names = Buffer.from(JSON.stringify([sensorId, characteristic, bytes.length]));
  return createHash('sha256').update(places).update(names).update(bytes).digest();
}
