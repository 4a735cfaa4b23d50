// The simulated sensors' readings as the bytes their standard characteristics would carry.

import type { StrapReading } from './chest-strap.ts';
import { encodeHeartRateMeasurement } from './encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from './encode-plx-continuous.ts';
import type { OximeterReading } from './finger-oximeter.ts';

/** Bits of PLXS v1.0.1 Tables 3.4 and 3.5 that the simulated oximeter sets. */
const measurementOngoing = 1 << 5;
const poorSignal = 1 << 4;
const lowPerfusion = 1 << 5;
const sensorUnconnectedToUser = 1 << 11;

/** Characteristic 0x2A37. */
export const encodeStrapReading = (reading: StrapReading): Uint8Array =>
  encodeHeartRateMeasurement({
    heartRateBpm: reading.heartRateBpm,
    skinContact: reading.skinContact,
    rrIntervalsMs: reading.rrIntervalsMs,
  });

/** Characteristic 0x2A5F. */
export const encodeOximeterReading = (reading: OximeterReading): Uint8Array =>
  encodePlxContinuous({
    spo2Percent: reading.spo2Percent,
    pulseRateBpm: reading.pulseRateBpm,
    measurementStatus: measurementOngoing,
    deviceStatus:
      (reading.poorSignal ? poorSignal : 0) +
      (reading.lowPerfusion ? lowPerfusion : 0) +
      (reading.fingerInProbe ? 0 : sensorUnconnectedToUser),
    pulseAmplitudeIndex: reading.perfusionIndexPercent,
  });
