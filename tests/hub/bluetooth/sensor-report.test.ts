// The report of a sensor that a person may send: what it tells of the sensor, and that it tells nothing of the person.

import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { SensorPacket, SensorStatus } from '../../../hub/base/ports/sensor-source.ts';
import {
  type ReportSurroundings,
  reportText,
  SensorReportBuilder,
} from '../../../hub/sensors/bluetooth/sensor-report.ts';
import { encodeHeartRateMeasurement } from '../../../hub/sensors/simulated/encode-heart-rate-measurement.ts';
import { encodePlxContinuous } from '../../../hub/sensors/simulated/encode-plx-continuous.ts';
import { said } from '../../../shared/said.ts';
import { type Percent, processMs } from '../../../shared/units.ts';

const where: ReportSurroundings = {
  program: '0.1.0',
  node: '20.19.0',
  platform: 'linux',
  architecture: 'x64',
  system: '6.1',
  library: '@abandonware/noble',
  transport: 'kernel',
};
const words = { about: 'About.', toFillIn: 'Here.' };
const sensorId = 'bt:c0:ff:ee:12:34:56';
const status = (link: SensorStatus['link'], more: Partial<SensorStatus> = {}): SensorStatus => ({
  sensorId,
  name: 'Strap of Marit 4711',
  kinds: ['heartRate'],
  source: 'bluetooth',
  link,
  detail: null,
  batteryPercent: null,
  rssiDbm: -61,
  ...more,
});
const packet = (characteristic: string, bytes: Uint8Array, atMs: number): SensorPacket => ({
  sensorId,
  characteristic,
  bytes,
  receivedAtMs: processMs(atMs),
});
const beat = (heartRateBpm: number, atMs: number, rrIntervalsMs: readonly number[] = []) =>
  packet('2a37', encodeHeartRateMeasurement({ heartRateBpm, skinContact: true, rrIntervalsMs }), atMs);

describe('what it tells', () => {
  test('the table, how often packets came, how long they were, and what of them was read', () => {
    const report = new SensorReportBuilder(1_000);
    report.status(status('connecting'), 1_100);
    report.status(status('connected', { rssiDbm: -70, batteryPercent: 80 as Percent }), 3_000);
    report.table([
      { service: '180d', characteristic: '2a37', properties: ['notify'] },
      { service: '180d', characteristic: '2a38', properties: ['read'] },
    ]);
    report.packet(beat(61, 3_500, [980]));
    report.packet(beat(62, 4_500, [970, 960]));
    report.packet(beat(62, 5_500));
    report.packet(packet('2a37', Uint8Array.of(0x10), 6_500));
    report.packet(packet('2a19', Uint8Array.of(80), 6_600));
    const told = report.build(where, words, 61_000);
    expect(told.listenedS).toBe(60);
    expect(told.links).toEqual({
      made: 1,
      lost: 0,
      firstAfterMs: 2_000,
      firstPacketAfterMs: 500,
      signalDbm: { least: -70, most: -61 },
      tellsBattery: true,
      hindrances: [],
    });
    expect(told.characteristics).toEqual([
      {
        service: '180d',
        characteristic: '2a37',
        properties: ['notify'],
        packets: 4,
        bytes: { least: 1, most: 6 },
        intervalMs: { tenthPercentile: 1_000, median: 1_000, ninetiethPercentile: 1_000, longest: 1_000 },
        understood: 3,
        notUnderstood: { truncated: 1 },
        withPart: { rrIntervals: 2, skinContact: 3 },
      },
      {
        service: '180d',
        characteristic: '2a38',
        properties: ['read'],
        packets: 0,
        bytes: null,
        intervalMs: null,
        understood: 0,
        notUnderstood: {},
        withPart: {},
      },
      expect.objectContaining({ service: null, characteristic: '2a19', packets: 1, understood: 1 }),
    ]);
  });

  test('a silence between two links is no interval', () => {
    const report = new SensorReportBuilder(0);
    report.status(status('connected'), 0);
    report.packet(beat(60, 1_000));
    report.packet(beat(60, 2_000));
    report.status(status('lost', { detail: said('sensor.notHeard') }), 3_000);
    report.status(status('connected'), 50_000);
    report.packet(beat(60, 51_000));
    report.packet(beat(60, 52_000));
    const told = report.build(where, words, 60_000);
    expect(told.links).toMatchObject({ made: 2, lost: 1 });
    expect(told.characteristics[0]?.intervalMs?.longest).toBe(1_000);
  });

  test('of a sensor that never answered, that it did not', () => {
    const report = new SensorReportBuilder(0);
    report.status(status('searching', { rssiDbm: null }), 10);
    const told = report.build(where, words, 60_000);
    expect(told.links).toMatchObject({
      made: 0,
      firstAfterMs: null,
      firstPacketAfterMs: null,
      signalDbm: null,
    });
    expect(told.characteristics).toEqual([]);
  });
});

describe('what it does not tell', () => {
  test('no name, no address in either order, wherever they stand', () => {
    const report = new SensorReportBuilder(0);
    report.status(status('connected', { detail: said('said.asTold', { text: 'Marit' }) }), 0);
    report.table([
      {
        service: '0000c0ffee1234560000000000000001',
        characteristic: '5634 12ee ffc0'.replaceAll(' ', ''),
        properties: [],
      },
      { service: '180a', characteristic: '2a25', properties: ['read'] },
    ]);
    report.packet(packet('2a25', new TextEncoder().encode('SN-4711-Marit'), 10));
    const text = reportText(report.build(where, words, 1_000), sensorId);
    for (const secret of ['Marit', '4711', 'c0ffee123456', '563412eeffc0', 'c0:ff', 'SN-'])
      expect(text.toLowerCase()).not.toContain(secret.toLowerCase());
    // It is still what it was, less what was taken out.
    expect(JSON.parse(text).characteristics[0].service).toBe('0000xxxxxxxxxxxx0000000000000001');
    expect(text).toContain('said.asTold');
  });

  test('no reading: whatever heart rate and saturation were, the report is the same', () => {
    const reportOf = (heartRateBpm: number, spo2Percent: number, rrMs: number): string => {
      const report = new SensorReportBuilder(0);
      report.status(status('connected'), 0);
      report.packet(beat(heartRateBpm, 1_000, [rrMs]));
      report.packet(packet('2a5f', encodePlxContinuous({ spo2Percent, pulseRateBpm: heartRateBpm }), 1_500));
      report.packet(packet('2a19', Uint8Array.of(spo2Percent), 1_600));
      return reportText(report.build(where, words, 60_000), sensorId);
    };
    const calm = reportOf(60, 98, 1_000);
    fc.assert(
      fc.property(
        fc.integer({ min: 30, max: 200 }),
        fc.integer({ min: 40, max: 100 }),
        fc.integer({ min: 300, max: 2_000 }),
        (heartRateBpm, spo2Percent, rrMs) => {
          expect(reportOf(heartRateBpm, spo2Percent, rrMs)).toBe(calm);
        },
      ),
    );
  });

  test('whatever bytes come, it never throws and holds none of them', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(fc.constantFrom('2a37', '2a5f', '2a25', '2a00', 'abcd'), fc.uint8Array({ maxLength: 40 })),
          { maxLength: 30 },
        ),
        (packets) => {
          const report = new SensorReportBuilder(0);
          for (const [index, [characteristic, bytes]] of packets.entries())
            report.packet(packet(characteristic, bytes, index * 700));
          const told = report.build(where, words, 60_000);
          for (const { packets: count, understood, notUnderstood } of told.characteristics)
            expect(understood + Object.values(notUnderstood).reduce((sum, each) => sum + each, 0)).toBe(
              count,
            );
        },
      ),
    );
  });
});
