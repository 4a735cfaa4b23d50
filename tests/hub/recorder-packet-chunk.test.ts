// The two packet encodings: whatever goes in comes out, bit for bit and in order; whatever else comes in is refused.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import type { StoredPacket } from '../../hub/base/ports/stored-session.ts';
import { decodeBatch, encodeBatch } from '../../hub/recorder/packet-batch.ts';
import { decodeChunk, encodeChunk, packetsOf } from '../../hub/recorder/packet-chunk.ts';
import { anyPackets, samePackets, wavePackets } from '../contract/packet-cases.ts';

function throughChunk(packets: readonly StoredPacket[]): StoredPacket[] {
  const decoded = decodeChunk(encodeChunk(packets));
  if (!decoded.ok) throw new Error(decoded.reason);
  return [...packetsOf(decoded.value)];
}

test('any packets pass through a chunk unchanged', () => {
  fc.assert(
    fc.property(anyPackets, (packets) => {
      expect(samePackets(throughChunk(packets), packets)).toBe(true);
    }),
    { numRuns: 400 },
  );
});

test('any packets pass through a journal entry unchanged', () => {
  fc.assert(
    fc.property(anyPackets, (packets) => {
      const decoded = decodeBatch(encodeBatch(packets));
      expect(decoded.ok && samePackets(decoded.value, packets)).toBe(true);
    }),
    { numRuns: 200 },
  );
});

test('waves of every width, byte order, header and length pass through a chunk unchanged', () => {
  fc.assert(
    fc.property(wavePackets, (packets) => {
      expect(samePackets(throughChunk(packets), packets)).toBe(true);
    }),
    { numRuns: 300 },
  );
});

test('arbitrary bytes are a reason, not an exception', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 300 }), (bytes) => {
      expect(typeof decodeChunk(bytes).ok).toBe('boolean');
      expect(typeof decodeBatch(bytes).ok).toBe('boolean');
    }),
    { numRuns: 1_000 },
  );
});

test('a chunk with bytes changed, cut or added is a reason or packets, not an exception', () => {
  fc.assert(
    fc.property(
      fc.oneof(wavePackets, anyPackets),
      fc.array(fc.tuple(fc.nat(), fc.integer({ min: 1, max: 255 })), { minLength: 1, maxLength: 4 }),
      fc.nat({ max: 3 }),
      (packets, flips, cut) => {
        for (const bytes of [encodeChunk(packets), encodeBatch(packets)]) {
          for (const [at, mask] of flips) bytes[at % bytes.length]! ^= mask;
          const hurt = bytes.subarray(0, Math.max(0, bytes.length - cut));
          expect(typeof decodeChunk(hurt).ok).toBe('boolean');
          expect(typeof decodeBatch(hurt).ok).toBe('boolean');
        }
      },
    ),
    { numRuns: 600 },
  );
});
