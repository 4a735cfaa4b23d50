// Every vector here is from the table of published values (Bluetooth SIG specifications and the public library tests
// named there); "derived" ones were worked out by hand from the specification.

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decodeBatteryLevel } from '../../../src/gatt/battery-level.ts';
import { decodeBodySensorLocation } from '../../../src/gatt/body-sensor-location.ts';
import { decodePacket } from '../../../src/gatt/decode-packet.ts';
import { decodeDeviceText, decodePnpId } from '../../../src/gatt/device-information.ts';
import { decodeHeartRateMeasurement } from '../../../src/gatt/heart-rate-measurement.ts';
import { decodePlxContinuous } from '../../../src/gatt/plx-continuous.ts';
import { decodePlxFeatures } from '../../../src/gatt/plx-features.ts';
import { decodePlxSpotCheck } from '../../../src/gatt/plx-spot-check.ts';
import { deviceStatusBits, measurementStatusBits } from '../../../src/gatt/plx-status.ts';
import { decodeRecordAccess } from '../../../src/gatt/record-access.ts';
import { decodeSfloat, sfloatAt } from '../../../src/gatt/sfloat.ts';

const hex = (text: string): Uint8Array =>
  Uint8Array.from(text.split(' ').filter(Boolean), (pair) => Number.parseInt(pair, 16));

describe('SFLOAT', () => {
  it.each([
    ['72 00', 114],
    ['62 00', 98],
    ['E8 F3', 100],
    ['D4 F3', 98],
    ['AC F3', 94],
    ['BE F5', 147],
    ['66 E3', 8.7],
    ['7A E3', 8.9],
    ['57 F0', 8.7],
    ['01 FE', -51.1],
    ['01 02', 513],
    ['FF 02', 767],
    ['BE E0', 1.9],
    ['62 10', 980],
    ['FD 77', 20_450_000_000],
    ['03 78', -20_450_000_000],
    // The negative control: a decoder with a biased exponent would say 98.
    ['62 80', 9.8e-7],
  ])('%s is %d', (bytes, value) => {
    expect(sfloatAt(hex(bytes), 0)).toBeCloseTo(value, 12);
    expect(sfloatAt(hex(bytes), 0)).toBe(value);
  });

  it.each([
    ['FF 07', 'NaN'],
    ['00 08', 'NRes'],
    ['FE 07', '+INFINITY'],
    ['02 08', '-INFINITY'],
    ['01 08', 'reserved'],
  ])('%s is the reserved word %s (PLXS v1.0.1 Table 5.1)', (bytes, name) => {
    expect(sfloatAt(hex(bytes), 0)).toBe(name);
  });

  it('every word is a finite number or a reserved word', () => {
    let reserved = 0;
    for (let word = 0; word < 65_536; word += 1) {
      const value = decodeSfloat(word);
      if (typeof value === 'number') expect(Number.isFinite(value)).toBe(true);
      else reserved += 1;
    }
    expect(reserved).toBe(5);
  });
});

describe('Heart Rate Measurement 0x2A37', () => {
  it.each([
    ['00 55', 85, undefined, undefined, []],
    ['04 FF', 255, false, undefined, []],
    ['1E 55 32 00 21 00', 85, true, 50, [(33 * 1000) / 1024]],
    ['1F 01 01 32 01 01 00 02 01 FF FF', 257, true, 306, [1, 258, 65_535].map((rr) => (rr * 1000) / 1024)],
    ['10 5A 00 08 00 10', 90, undefined, undefined, [2000, 4000]],
    ['06 5A', 90, true, undefined, []],
    // Bit 1 without bit 2: contact is not supported.
    ['02 50', 80, undefined, undefined, []],
    ['10 3C 00 04', 60, undefined, undefined, [1000]],
  ])('%s', (bytes, heartRateBpm, skinContact, energyExpendedKj, rrIntervalsMs) => {
    expect(decodeHeartRateMeasurement(hex(bytes))).toEqual({
      ok: true,
      value: { heartRateBpm, skinContact, energyExpendedKj, rrIntervalsMs },
    });
  });

  it('16 4B 33 03 55 03: intervals in 1/1024 s, not in ms', () => {
    const result = decodeHeartRateMeasurement(hex('16 4B 33 03 55 03'));
    expect(result.ok && result.value.rrIntervalsMs[0]).toBeCloseTo(799.805, 3);
    expect(result.ok && result.value.rrIntervalsMs[1]).toBeCloseTo(833.008, 3);
  });

  it.each([
    ['', 'empty'],
    ['00', 'truncated'],
    ['01 55', 'truncated'],
    ['08 55 01', 'truncated'],
    // Flagged intervals but none there (public library test: invalid).
    ['17 01 01', 'truncated'],
    ['10 3C 00', 'truncated'],
    ['10 3C 00 04 01', 'trailingBytes'],
    ['00 55 01', 'trailingBytes'],
  ])('%s is discarded as %s', (bytes, code) => {
    const result = decodeHeartRateMeasurement(hex(bytes));
    expect(result.ok).toBe(false);
    expect(!result.ok && result.reason).toBe(code);
  });

  it('reads all intervals of a long notification (ATT_MTU above 23)', () => {
    const bytes = Uint8Array.from([0x10, 60, ...Array.from({ length: 40 }, () => [0, 4]).flat()]);
    const result = decodeHeartRateMeasurement(bytes);
    expect(result.ok && result.value.rrIntervalsMs).toHaveLength(40);
  });
});

describe('PLX Continuous 0x2A5F', () => {
  const base = {
    fast: undefined,
    slow: undefined,
    measurementStatus: undefined,
    deviceStatus: undefined,
    pulseAmplitudeIndex: undefined,
  };
  it.each([
    ['00 64 00 5A 00', { ...base, normal: { spo2Percent: 100, pulseRateBpm: 90 } }],
    ['00 E8 F3 84 F3', { ...base, normal: { spo2Percent: 100, pulseRateBpm: 90 } }],
    [
      '1C 5F 00 5A 00 20 00 00 00 00 57 F0',
      {
        ...base,
        normal: { spo2Percent: 95, pulseRateBpm: 90 },
        measurementStatus: ['measurementOngoing'],
        deviceStatus: [],
        pulseAmplitudeIndex: 8.7,
      },
    ],
    [
      '1F DE F3 CA F3 CA F3 5A F5 D4 F3 B2 F2 20 01 00 00 00 7A E3',
      {
        normal: { spo2Percent: 99, pulseRateBpm: 97 },
        fast: { spo2Percent: 97, pulseRateBpm: 137 },
        slow: { spo2Percent: 98, pulseRateBpm: 69 },
        measurementStatus: ['measurementOngoing', 'fullyQualified'],
        deviceStatus: [],
        pulseAmplitudeIndex: 8.9,
      },
    ],
    ['00 FF 07 FF 07', { ...base, normal: { spo2Percent: 'NaN', pulseRateBpm: 'NaN' } }],
    [
      '08 62 00 48 00 20 08 00',
      {
        ...base,
        normal: { spo2Percent: 98, pulseRateBpm: 72 },
        deviceStatus: ['lowPerfusion', 'sensorUnconnectedToUser'],
      },
    ],
  ])('%s', (bytes, value) => {
    expect(decodePlxContinuous(hex(bytes))).toEqual({ ok: true, value });
  });

  it.each([
    ['', 'empty'],
    ['01 62 00 48 00 61', 'truncated'],
    ['00 62 00 48', 'truncated'],
    ['00 62 00 48 00 01', 'trailingBytes'],
  ])('%s is discarded as %s', (bytes, code) => {
    const result = decodePlxContinuous(hex(bytes));
    expect(!result.ok && result.reason).toBe(code);
  });

  it('ignores fields behind a reserved flag', () => {
    const result = decodePlxContinuous(hex('20 62 00 48 00 01 02 03'));
    expect(result.ok && result.value.normal.spo2Percent).toBe(98);
  });

  it('has the poor-signal bit, so that low perfusion is bit 5 and not 6 (Table 3.5)', () => {
    expect(deviceStatusBits.indexOf('poorSignal')).toBe(4);
    expect(deviceStatusBits.indexOf('lowPerfusion')).toBe(5);
    expect(deviceStatusBits.indexOf('sensorDisconnected')).toBe(15);
    expect(measurementStatusBits.indexOf('invalid')).toBe(15);
    expect(measurementStatusBits.indexOf('demonstration')).toBe(10);
  });
});

describe('PLX Spot-Check 0x2A5E', () => {
  it('0F AC F3 ... (public library test)', () => {
    expect(decodePlxSpotCheck(hex('0F AC F3 BE F5 E8 07 0B 1D 17 08 39 20 40 22 00 00 66 E3'))).toEqual({
      ok: true,
      value: {
        values: { spo2Percent: 94, pulseRateBpm: 147 },
        timestamp: { year: 2024, month: 11, day: 29, hours: 23, minutes: 8, seconds: 57 },
        measurementStatus: ['measurementOngoing', 'questionable'],
        deviceStatus: ['equipmentMalfunction', 'lowPerfusion'],
        pulseAmplitudeIndex: 8.7,
        deviceClockNotSet: false,
      },
    });
  });
  it('10 62 00 48 00: the device clock is not set', () => {
    const result = decodePlxSpotCheck(hex('10 62 00 48 00'));
    expect(result.ok && result.value.deviceClockNotSet).toBe(true);
    expect(result.ok && result.value.timestamp).toBe(undefined);
  });
  it('discards a month of 13 and a cut time stamp', () => {
    const month = decodePlxSpotCheck(hex('01 62 00 48 00 E8 07 0D 1D 17 08 39'));
    expect(!month.ok && month.reason).toBe('outOfRange');
    const cut = decodePlxSpotCheck(hex('01 62 00 48 00 E8 07 0B'));
    expect(!cut.ok && cut.reason).toBe('truncated');
  });
});

describe('PLX Features 0x2A60', () => {
  it('A3 00 40 10 80 01 00 (public library test)', () => {
    expect(decodePlxFeatures(hex('A3 00 40 10 80 01 00'))).toEqual({
      ok: true,
      value: {
        features: ['measurementStatusSupport', 'deviceStatusSupport', 'slowMetric', 'multipleBonds'],
        measurementStatusSupport: ['earlyEstimate', 'calibrationOngoing'],
        deviceStatusSupport: ['nonPulsatileSignal', 'questionablePulse'],
      },
    });
  });
  it('00 00: nothing', () => {
    expect(decodePlxFeatures(hex('00 00'))).toEqual({
      ok: true,
      value: { features: [], measurementStatusSupport: undefined, deviceStatusSupport: undefined },
    });
  });
  it('discards a cut field', () => {
    expect(decodePlxFeatures(hex('A3 00 40 10 80')).ok).toBe(false);
    expect(decodePlxFeatures(hex('A3')).ok).toBe(false);
  });
});

describe('Record Access Control Point 0x2A52', () => {
  it.each([
    ['01 01', { op: 'reportAllRecords' }],
    ['02 01', { op: 'deleteAllRecords' }],
    ['03 00', { op: 'abort' }],
    ['04 01', { op: 'reportNumberOfAllRecords' }],
    ['05 00 02 01', { op: 'numberOfRecords', recordCount: 258 }],
    ['06 00 01 01', { op: 'response', requestOpCode: 1, response: 'success' }],
    ['06 00 01 06', { op: 'response', requestOpCode: 1, response: 'noRecordsFound' }],
    ['06 00 03 07', { op: 'response', requestOpCode: 3, response: 'abortUnsuccessful' }],
  ])('%s', (bytes, value) => {
    expect(decodeRecordAccess(hex(bytes))).toEqual({ ok: true, value });
  });
  it.each([
    ['', 'empty'],
    ['06 01 01', 'badOperator'],
    ['01 00', 'badOperator'],
    ['07 00', 'outOfRange'],
    ['06 00 01 0A', 'outOfRange'],
    ['05 00 02', 'truncated'],
    ['01 01 00', 'trailingBytes'],
  ])('%s is discarded as %s', (bytes, code) => {
    const result = decodeRecordAccess(hex(bytes));
    expect(!result.ok && result.reason).toBe(code);
  });
});

describe('Battery 0x2A19, location 0x2A38, device information', () => {
  it('battery', () => {
    expect(decodeBatteryLevel(hex('64'))).toEqual({ ok: true, value: { batteryPercent: 100 } });
    expect(decodeBatteryLevel(hex('0F'))).toEqual({ ok: true, value: { batteryPercent: 15 } });
    expect(decodeBatteryLevel(hex('64 00')).ok).toBe(false);
    expect(decodeBatteryLevel(hex('65')).ok).toBe(false);
    expect(decodeBatteryLevel(hex('')).ok).toBe(false);
  });
  it('location', () => {
    expect(decodeBodySensorLocation(hex('01'))).toEqual({ ok: true, value: { location: 'chest' } });
    expect(decodeBodySensorLocation(hex('06'))).toEqual({ ok: true, value: { location: 'foot' } });
    expect(decodeBodySensorLocation(hex('07')).ok).toBe(false);
  });
  it('text', () => {
    const bytes = (text: string): Uint8Array => new TextEncoder().encode(text);
    expect(decodeDeviceText(bytes('Bræðra 2.1'))).toEqual({ ok: true, value: { text: 'Bræðra 2.1' } });
    expect(decodeDeviceText(bytes('A1\0\0'))).toEqual({ ok: true, value: { text: 'A1' } });
    expect(decodeDeviceText(bytes('a\nb'))).toEqual({ ok: true, value: { text: 'a b' } });
    expect(decodeDeviceText(hex('C3 28')).ok).toBe(false);
    expect(decodeDeviceText(new Uint8Array(513).fill(65)).ok).toBe(false);
  });
  it('PnP ID', () => {
    expect(decodePnpId(hex('01 5B 00 34 12 00 02'))).toEqual({
      ok: true,
      value: { vendorIdSource: 'bluetoothSig', vendorId: 0x5b, productId: 0x1234, productVersion: 0x200 },
    });
    expect(decodePnpId(hex('03 5B 00 34 12 00 02')).ok).toBe(false);
  });
});

describe('any bytes', () => {
  const characteristics = [
    '2a37',
    '2a38',
    '2a5e',
    '2a5f',
    '2a60',
    '2a52',
    '2a19',
    '2a50',
    '2a24',
    '2a29',
    '0000',
    'constructor',
  ];
  it('give a reading or a discard with a reason, never an exception', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...characteristics),
        fc.uint8Array({ maxLength: 64 }),
        (characteristic, bytes) => {
          const before = bytes.slice();
          const result = decodePacket(characteristic, bytes);
          if (!result.ok) expect(result.reason.length).toBeGreaterThan(4);
          expect(bytes).toEqual(before);
        },
      ),
      { numRuns: 3_000 },
    );
  });
  it('a prefix of a valid measurement is never taken for another measurement', () => {
    const whole = hex('1F DE F3 CA F3 CA F3 5A F5 D4 F3 B2 F2 20 01 00 00 00 7A E3');
    for (let length = 0; length < whole.length; length += 1) {
      expect(decodePlxContinuous(whole.subarray(0, length)).ok).toBe(false);
    }
  });
});
