// PLX Features, characteristic 0x2A60 (Pulse Oximeter Service v1.0.1 s3.3, Tables 3.8 and 3.9).

import type { Result } from '../result.ts';
import { ok } from '../result.ts';
import type { DiscardCode } from './discard-reason.ts';
import { checkLength, discard } from './discard-reason.ts';
import { namesOfSetBits } from './flag-names.ts';
import { uint16At, uint24At } from './little-endian.ts';
import type { DeviceStatus, MeasurementStatus } from './plx-status.ts';
import { decodeDeviceStatus, decodeMeasurementStatus } from './plx-status.ts';

export type PlxFeature =
  | 'measurementStatusSupport'
  | 'deviceStatusSupport'
  | 'spotCheckStorage'
  | 'spotCheckTimestamp'
  | 'fastMetric'
  | 'slowMetric'
  | 'pulseAmplitudeIndex'
  | 'multipleBonds';

const featureBits: readonly PlxFeature[] = [
  'measurementStatusSupport',
  'deviceStatusSupport',
  'spotCheckStorage',
  'spotCheckTimestamp',
  'fastMetric',
  'slowMetric',
  'pulseAmplitudeIndex',
  'multipleBonds',
];

export interface PlxFeatures {
  readonly features: readonly PlxFeature[];
  /** The status bits the sensor can set; undefined where it does not say. */
  readonly measurementStatusSupport: readonly MeasurementStatus[] | undefined;
  readonly deviceStatusSupport: readonly DeviceStatus[] | undefined;
}

export function decodePlxFeatures(bytes: Uint8Array): Result<PlxFeatures, DiscardCode> {
  if (bytes.length < 2) {
    return discard(bytes.length === 0 ? 'empty' : 'truncated');
  }
  const bits = uint16At(bytes, 0);
  const hasMeasurement = (bits & 0x01) !== 0;
  const hasDevice = (bits & 0x02) !== 0;
  const byteCount = 2 + (hasMeasurement ? 2 : 0) + (hasDevice ? 3 : 0);
  const wrongLength = checkLength(bytes, byteCount, (bits & 0xff00) !== 0);
  if (wrongLength !== undefined) return wrongLength;
  return ok({
    features: namesOfSetBits(bits, featureBits),
    measurementStatusSupport: hasMeasurement ? decodeMeasurementStatus(uint16At(bytes, 2)) : undefined,
    deviceStatusSupport: hasDevice ? decodeDeviceStatus(uint24At(bytes, hasMeasurement ? 4 : 2)) : undefined,
  });
}
