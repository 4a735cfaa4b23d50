// PLX Continuous Measurement, characteristic 0x2A5F (Pulse Oximeter Service v1.0.1 s3.2, Tables 3.6 and 3.7).

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength } from './discard-reason.ts';
import { uint16At, uint24At } from './little-endian.ts';
import type { DeviceStatus, MeasurementStatus } from './plx-status.ts';
import { decodeDeviceStatus, decodeMeasurementStatus } from './plx-status.ts';
import type { Sfloat } from './sfloat.ts';
import { sfloatAt } from './sfloat.ts';

/** Saturation and pulse rate as one measurement; 'NaN' where not available. */
export interface PlxValues {
  readonly spo2Percent: Sfloat;
  readonly pulseRateBpm: Sfloat;
}

export interface PlxContinuous {
  readonly normal: PlxValues;
  /** Shorter averaging than normal; undefined where the sensor does not offer it. */
  readonly fast: PlxValues | undefined;
  readonly slow: PlxValues | undefined;
  /** Undefined where the field is absent; an empty list means "present, nothing set". */
  readonly measurementStatus: readonly MeasurementStatus[] | undefined;
  readonly deviceStatus: readonly DeviceStatus[] | undefined;
  /** In percent. */
  readonly pulseAmplitudeIndex: Sfloat | undefined;
}

const flag = {
  fast: 0x01,
  slow: 0x02,
  measurementStatus: 0x04,
  deviceStatus: 0x08,
  pulseAmplitudeIndex: 0x10,
  reserved: 0xe0,
} as const;

/** Discards what is shorter than its flags say, or longer with no reserved flag to explain it. */
export function decodePlxContinuous(bytes: Uint8Array): Result<PlxContinuous, DiscardCode> {
  const flags = bytes[0] ?? 0;
  const has = (bit: number): boolean => (flags & bit) !== 0;
  const byteCount =
    5 +
    (has(flag.fast) ? 4 : 0) +
    (has(flag.slow) ? 4 : 0) +
    (has(flag.measurementStatus) ? 2 : 0) +
    (has(flag.deviceStatus) ? 3 : 0) +
    (has(flag.pulseAmplitudeIndex) ? 2 : 0);
  const wrongLength = checkLength(bytes, byteCount, has(flag.reserved));
  if (wrongLength !== undefined) return wrongLength;
  let offset = 1;
  const take = (length: number): number => {
    offset += length;
    return offset - length;
  };
  const values = (): PlxValues => {
    const at = take(4);
    return { spo2Percent: sfloatAt(bytes, at), pulseRateBpm: sfloatAt(bytes, at + 2) };
  };
  return ok({
    normal: values(),
    fast: has(flag.fast) ? values() : undefined,
    slow: has(flag.slow) ? values() : undefined,
    measurementStatus: has(flag.measurementStatus)
      ? decodeMeasurementStatus(uint16At(bytes, take(2)))
      : undefined,
    deviceStatus: has(flag.deviceStatus) ? decodeDeviceStatus(uint24At(bytes, take(3))) : undefined,
    pulseAmplitudeIndex: has(flag.pulseAmplitudeIndex) ? sfloatAt(bytes, take(2)) : undefined,
  });
}
