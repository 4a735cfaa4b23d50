// Encoders of the simulator against decoders of the core: written apart, so a shared mistake is unlikely.

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { encodeHeartRateMeasurement } from '../../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../../hub/sensors/simulated/encode-plx-continuous.ts';
import { encodeSfloat, sfloatNotAvailable } from '../../../hub/sensors/simulated/encode-sfloat.ts';
import { decodeHeartRateMeasurement } from '../../../src/gatt/heart-rate-measurement.ts';
import { decodePlxContinuous } from '../../../src/gatt/plx-continuous.ts';
import {
  decodeDeviceStatus,
  decodeMeasurementStatus,
  deviceStatusBits,
  measurementStatusBits,
} from '../../../src/gatt/plx-status.ts';
import { decodeSfloat } from '../../../src/gatt/sfloat.ts';

const optional = <Value>(arbitrary: fc.Arbitrary<Value>) => fc.option(arbitrary, { nil: undefined });

describe('round trips', () => {
  it('SFLOAT', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: -2045, max: 2045 }),
        fc.integer({ min: 0, max: 8 }),
        (mantissa, decimals) => {
          const value = mantissa / 10 ** decimals;
          expect(decodeSfloat(encodeSfloat(value, decimals))).toBe(value);
        },
      ),
    );
    expect(decodeSfloat(sfloatNotAvailable)).toBe('NaN');
    expect(encodeSfloat(98)).toBe(0x0062);
    expect(encodeSfloat(8.7, 1)).toBe(0xf057);
    expect(() => encodeSfloat(2046)).toThrow(RangeError);
    expect(() => encodeSfloat(Number.NaN)).toThrow(RangeError);
  });

  it('heart rate', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 400 }),
        optional(fc.boolean()),
        optional(fc.integer({ min: 0, max: 65_535 })),
        fc.array(fc.integer({ min: 0, max: 65_535 }), { maxLength: 20 }),
        (heartRateBpm, skinContact, energyExpendedKj, units) => {
          const rrIntervalsMs = units.map((unit) => (unit * 1000) / 1024);
          const bytes = encodeHeartRateMeasurement({
            heartRateBpm,
            skinContact,
            energyExpendedKj,
            rrIntervalsMs,
          });
          expect(decodeHeartRateMeasurement(bytes)).toEqual({
            ok: true,
            value: { heartRateBpm, skinContact, energyExpendedKj, rrIntervalsMs },
          });
        },
      ),
    );
  });

  it('pulse oximetry', () => {
    const values = fc.record({
      spo2Percent: optional(fc.integer({ min: 0, max: 100 })),
      pulseRateBpm: optional(fc.integer({ min: 0, max: 400 })),
    });
    const decoded = (pair: { spo2Percent: number | undefined; pulseRateBpm: number | undefined }) => ({
      spo2Percent: pair.spo2Percent ?? 'NaN',
      pulseRateBpm: pair.pulseRateBpm ?? 'NaN',
    });
    fc.assert(
      fc.property(
        values,
        optional(values),
        optional(values),
        optional(fc.integer({ min: 0, max: 65_535 })),
        optional(fc.integer({ min: 0, max: 65_535 })),
        optional(fc.integer({ min: 0, max: 200 })),
        fc.integer({ min: 0, max: 1 }),
        (normal, fast, slow, measurementStatus, deviceStatus, tenths, decimals) => {
          const bytes = encodePlxContinuous({
            ...normal,
            ...(fast === undefined ? {} : { fast }),
            ...(slow === undefined ? {} : { slow }),
            ...(measurementStatus === undefined ? {} : { measurementStatus }),
            ...(deviceStatus === undefined ? {} : { deviceStatus }),
            pulseAmplitudeIndex: tenths === undefined ? undefined : tenths / 10,
            decimals,
          });
          expect(decodePlxContinuous(bytes)).toEqual({
            ok: true,
            value: {
              normal: decoded(normal),
              fast: fast === undefined ? undefined : decoded(fast),
              slow: slow === undefined ? undefined : decoded(slow),
              measurementStatus:
                measurementStatus === undefined ? undefined : decodeMeasurementStatus(measurementStatus),
              deviceStatus: deviceStatus === undefined ? undefined : decodeDeviceStatus(deviceStatus),
              pulseAmplitudeIndex: tenths === undefined ? undefined : tenths / 10,
            },
          });
        },
      ),
    );
    expect(decodeDeviceStatus(0xffff)).toEqual(deviceStatusBits);
    expect(decodeMeasurementStatus(0xffff)).toEqual(measurementStatusBits.filter((name) => name !== null));
  });
});
