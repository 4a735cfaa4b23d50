// Heart Rate Measurement, characteristic 0x2A37 (Heart Rate Service 1.0 s3.1).

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';
import { uint16At } from './little-endian.ts';

export interface HeartRateMeasurement {
  readonly heartRateBpm: number;
  /** Bits 1-2: undefined where the strap does not report contact. */
  readonly skinContact: boolean | undefined;
  readonly energyExpendedKj: number | undefined;
  /** Oldest first. One unit on the wire is 1/1024 s, so a millisecond value is rarely whole. */
  readonly rrIntervalsMs: readonly number[];
}

const flag = {
  heartRate16Bit: 0x01,
  contactDetected: 0x02,
  contactSupported: 0x04,
  energyPresent: 0x08,
  rrPresent: 0x10,
  reserved: 0xe0,
} as const;

const noIntervals: readonly number[] = [];

/**
 * Decodes a notification of any length (a larger ATT_MTU carries more intervals). Discards what is shorter or longer
 * than its flags say, an odd byte among the intervals, and an interval flag with no interval.
 */
export function decodeHeartRateMeasurement(bytes: Uint8Array): Result<HeartRateMeasurement, DiscardCode> {
  const flags = bytes[0] ?? 0;
  const is16Bit = (flags & flag.heartRate16Bit) !== 0;
  const hasEnergy = (flags & flag.energyPresent) !== 0;
  const hasRr = (flags & flag.rrPresent) !== 0;
  const fixedByteCount = 1 + (is16Bit ? 2 : 1) + (hasEnergy ? 2 : 0);
  // Reserved flag bits may announce fields we do not know; without one, more bytes are an error.
  const wrongLength = checkLength(
    bytes,
    fixedByteCount + (hasRr ? 2 : 0),
    hasRr || (flags & flag.reserved) !== 0,
  );
  if (wrongLength !== undefined) return wrongLength;
  if (hasRr && (bytes.length - fixedByteCount) % 2 !== 0) {
    return discard('trailingBytes');
  }
  let rrIntervalsMs = noIntervals;
  if (hasRr) {
    const intervals: number[] = [];
    for (let offset = fixedByteCount; offset < bytes.length; offset += 2) {
      intervals.push((uint16At(bytes, offset) * 1000) / 1024);
    }
    rrIntervalsMs = intervals;
  }
  return ok({
    heartRateBpm: is16Bit ? uint16At(bytes, 1) : bytes[1]!,
    skinContact: (flags & flag.contactSupported) === 0 ? undefined : (flags & flag.contactDetected) !== 0,
    energyExpendedKj: hasEnergy ? uint16At(bytes, fixedByteCount - 2) : undefined,
    rrIntervalsMs,
  });
}
