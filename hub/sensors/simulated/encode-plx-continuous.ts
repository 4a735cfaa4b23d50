// PLX Continuous Measurement (0x2A5F) bytes, as an oximeter's firmware would write them. Written apart from the decoder.

import { encodeSfloat, sfloatNotAvailable } from './encode-sfloat.ts';

export interface PlxValuesToEncode {
  /** Undefined: not available. */
  readonly spo2Percent: number | undefined;
  readonly pulseRateBpm: number | undefined;
}

export interface PlxContinuousToEncode extends PlxValuesToEncode {
  readonly fast?: PlxValuesToEncode;
  readonly slow?: PlxValuesToEncode;
  /** Bits of PLXS v1.0.1 Table 3.4. */
  readonly measurementStatus?: number;
  /** Bits of Table 3.5. */
  readonly deviceStatus?: number;
  /** Percent, one decimal; undefined: the field is left out. */
  readonly pulseAmplitudeIndex?: number | undefined;
  /** Digits after the point of the saturations (0 as most sensors, 1 as some). */
  readonly decimals?: number;
  /** Digits after the point of the pulse rates (0 as most sensors) and of the pulse amplitude index (1). */
  readonly pulseDecimals?: number;
  readonly indexDecimals?: number;
}

export function encodePlxContinuous(reading: PlxContinuousToEncode): Uint8Array {
  const decimals = reading.decimals ?? 0;
  const bytes: number[] = [0];
  const word = (value: number): void => {
    bytes.push(value % 256, Math.floor(value / 256) % 256);
  };
  const pair = (values: PlxValuesToEncode): void => {
    word(values.spo2Percent === undefined ? sfloatNotAvailable : encodeSfloat(values.spo2Percent, decimals));
    word(
      values.pulseRateBpm === undefined
        ? sfloatNotAvailable
        : encodeSfloat(values.pulseRateBpm, reading.pulseDecimals ?? 0),
    );
  };
  let flags = 0;
  pair(reading);
  if (reading.fast !== undefined) {
    flags += 1;
    pair(reading.fast);
  }
  if (reading.slow !== undefined) {
    flags += 2;
    pair(reading.slow);
  }
  if (reading.measurementStatus !== undefined) {
    flags += 4;
    word(reading.measurementStatus);
  }
  if (reading.deviceStatus !== undefined) {
    flags += 8;
    word(reading.deviceStatus % 65_536);
    bytes.push(Math.floor(reading.deviceStatus / 65_536) % 256);
  }
  if (reading.pulseAmplitudeIndex !== undefined) {
    flags += 16;
    word(encodeSfloat(reading.pulseAmplitudeIndex, reading.indexDecimals ?? 1));
  }
  bytes[0] = flags;
  return Uint8Array.from(bytes);
}
