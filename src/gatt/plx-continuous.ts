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

/** Of a saturation and a pulse rate. */
const valuesBytes = 4;

const valuesAt = (bytes: Uint8Array, offset: number): PlxValues => ({
  spo2Percent: sfloatAt(bytes, offset),
  pulseRateBpm: sfloatAt(bytes, offset + 2),
});

/** Discards what is shorter than its flags say, or longer with no reserved flag to explain it. */
export function decodePlxContinuous(bytes: Uint8Array): Result<PlxContinuous, DiscardCode> {
  const flags = bytes[0] ?? 0;
  // Where each field begins; the next begins where it ends, whether it is there or not.
  const fastAt = 1 + valuesBytes;
  const slowAt = fastAt + ((flags & flag.fast) !== 0 ? valuesBytes : 0);
  const measurementAt = slowAt + ((flags & flag.slow) !== 0 ? valuesBytes : 0);
  const deviceAt = measurementAt + ((flags & flag.measurementStatus) !== 0 ? 2 : 0);
  const amplitudeAt = deviceAt + ((flags & flag.deviceStatus) !== 0 ? 3 : 0);
  const byteCount = amplitudeAt + ((flags & flag.pulseAmplitudeIndex) !== 0 ? 2 : 0);
  const wrongLength = checkLength(bytes, byteCount, (flags & flag.reserved) !== 0);
  if (wrongLength !== undefined) return wrongLength;
  return ok({
    normal: valuesAt(bytes, 1),
    fast: slowAt > fastAt ? valuesAt(bytes, fastAt) : undefined,
    slow: measurementAt > slowAt ? valuesAt(bytes, slowAt) : undefined,
    measurementStatus:
      deviceAt > measurementAt ? decodeMeasurementStatus(uint16At(bytes, measurementAt)) : undefined,
    deviceStatus: amplitudeAt > deviceAt ? decodeDeviceStatus(uint24At(bytes, deviceAt)) : undefined,
    pulseAmplitudeIndex: byteCount > amplitudeAt ? sfloatAt(bytes, amplitudeAt) : undefined,
  });
}
