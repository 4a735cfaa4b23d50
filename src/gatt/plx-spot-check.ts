// PLX Spot-Check Measurement, characteristic 0x2A5E (Pulse Oximeter Service v1.0.1 s3.1, Tables 3.2 and 3.3).

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { GattDateTime } from './date-time.ts';
import { dateTimeAt, dateTimeByteCount } from './date-time.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';
import { uint16At, uint24At } from './little-endian.ts';
import type { PlxValues } from './plx-continuous.ts';
import type { DeviceStatus, MeasurementStatus } from './plx-status.ts';
import { decodeDeviceStatus, decodeMeasurementStatus } from './plx-status.ts';
import type { Sfloat } from './sfloat.ts';
import { sfloatAt } from './sfloat.ts';

export interface PlxSpotCheck {
  readonly values: PlxValues;
  readonly timestamp: GattDateTime | undefined;
  readonly measurementStatus: readonly MeasurementStatus[] | undefined;
  readonly deviceStatus: readonly DeviceStatus[] | undefined;
  /** In percent. */
  readonly pulseAmplitudeIndex: Sfloat | undefined;
  readonly deviceClockNotSet: boolean;
}

const flag = {
  timestamp: 0x01,
  measurementStatus: 0x02,
  deviceStatus: 0x04,
  pulseAmplitudeIndex: 0x08,
  deviceClockNotSet: 0x10,
  reserved: 0xe0,
} as const;

/** Discards wrong lengths (as for the continuous measurement) and a time stamp that is no time. */
export function decodePlxSpotCheck(bytes: Uint8Array): Result<PlxSpotCheck, DiscardCode> {
  const flags = bytes[0] ?? 0;
  const has = (bit: number): boolean => (flags & bit) !== 0;
  const byteCount =
    5 +
    (has(flag.timestamp) ? dateTimeByteCount : 0) +
    (has(flag.measurementStatus) ? 2 : 0) +
    (has(flag.deviceStatus) ? 3 : 0) +
    (has(flag.pulseAmplitudeIndex) ? 2 : 0);
  const wrongLength = checkLength(bytes, byteCount, has(flag.reserved));
  if (wrongLength !== undefined) return wrongLength;
  let offset = 5;
  const take = (length: number): number => {
    offset += length;
    return offset - length;
  };
  const timestamp = has(flag.timestamp) ? dateTimeAt(bytes, take(dateTimeByteCount)) : undefined;
  if (has(flag.timestamp) && timestamp === undefined) {
    return discard('outOfRange');
  }
  return ok({
    values: { spo2Percent: sfloatAt(bytes, 1), pulseRateBpm: sfloatAt(bytes, 3) },
    timestamp,
    measurementStatus: has(flag.measurementStatus)
      ? decodeMeasurementStatus(uint16At(bytes, take(2)))
      : undefined,
    deviceStatus: has(flag.deviceStatus) ? decodeDeviceStatus(uint24At(bytes, take(3))) : undefined,
    pulseAmplitudeIndex: has(flag.pulseAmplitudeIndex) ? sfloatAt(bytes, take(2)) : undefined,
    deviceClockNotSet: has(flag.deviceClockNotSet),
  });
}
