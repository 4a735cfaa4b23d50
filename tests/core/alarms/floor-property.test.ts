// The floor alarm is never talked out of it: whatever bytes an oximeter sends and whatever else happens, 3 s of readings
// below the floor with a valid flag have a high alarm standing. Exceptions: the standard's own invalid flags, and the
// placeholders 0, 127 and 255, which are no readings.

import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { monotonicMs, percent } from '../../../shared/units.ts';
import type { AthleteSettings } from '../../../shared/views.ts';
import { createPipeline, type Pipeline, type PipelineEvent } from '../../../src/pipeline.ts';

const floorPercent = 88;
const settings: AthleteSettings = {
  floorSpo2Percent: percent(floorPercent),
  thresholdsPercent: [],
  heartRateLowBpm: null,
  heartRateHighBpm: null,
  maxHoldDurationMs: null,
  forecastAlarm: 'high',
};

/** PLXS v1.0.1 Table 3.4: bits 9, 10, 11 (from storage, demonstration, testing), 13 (unavailable), 15 (invalid). */
const invalidMeasurementBits = (1 << 9) | (1 << 10) | (1 << 11) | (1 << 13) | (1 << 15);
/** PLXS v1.0.1 Table 3.5: bits 1 malfunction, 3 inadequate, 7 non-pulsatile, 11 unconnected, 14, 15 sensor faults. */
const invalidDeviceBits = (1 << 1) | (1 << 3) | (1 << 7) | (1 << 11) | (1 << 14) | (1 << 15);

interface OximeterNotification {
  readonly gapMs: number;
  readonly sensorId: 'ox' | 'ox2';
  readonly spo2: number;
  readonly fast: number | null;
  readonly pulse: number;
  readonly measurementBits: number;
  readonly deviceBits: number;
}

/** PLX Continuous (0x2A5F): flags, normal, [fast], measurement status, device status (24 bits). */
function bytesOf({ spo2, fast, pulse, measurementBits, deviceBits }: OximeterNotification): Uint8Array {
  const pair = (value: number): number[] => [value & 255, value >> 8, pulse & 255, 0];
  return Uint8Array.of(
    (fast === null ? 0 : 1) | 0b100 | 0b1000,
    ...pair(spo2),
    ...(fast === null ? [] : pair(fast)),
    measurementBits & 255,
    measurementBits >> 8,
    deviceBits & 255,
    (deviceBits >> 8) & 255,
    0,
  );
}

const isValid = ({ measurementBits, deviceBits }: OximeterNotification): boolean =>
  (measurementBits & invalidMeasurementBits) === 0 && (deviceBits & invalidDeviceBits) === 0;
const isReading = (value: number): boolean => value > 0 && value <= 100;

const anyBits = fc.oneof(
  { weight: 5, arbitrary: fc.constant(0) },
  fc.constantFrom(1 << 5, 1 << 6, 1 << 12, 1 << 14, 1 << 9, 1 << 13, 1 << 15),
  fc.integer({ min: 0, max: 65_535 }),
);
/** About the floor, far from it, impossible: jumps of every size. */
const anySpo2 = fc.oneof(
  { weight: 4, arbitrary: fc.integer({ min: 80, max: 92 }) },
  { weight: 4, arbitrary: fc.integer({ min: 1, max: 87 }) },
  fc.integer({ min: 0, max: 130 }),
  fc.constantFrom(0, 97, 100, 127, 255),
);
const notification: fc.Arbitrary<OximeterNotification> = fc.record({
  gapMs: fc.oneof(
    { weight: 4, arbitrary: fc.constant(1_000) },
    fc.integer({ min: 0, max: 4_000 }),
    fc.integer({ min: 0, max: 30_000 }),
  ),
  sensorId: fc.constantFrom('ox', 'ox', 'ox', 'ox2'),
  spo2: anySpo2,
  fast: fc.option(anySpo2, { freq: 2 }),
  pulse: fc.constantFrom(0, 40, 60, 61, 90, 200, 255),
  measurementBits: anyBits,
  deviceBits: anyBits,
});
/** Runs of the same value, so that 3 s of low readings are common. */
const notifications = fc
  .array(fc.tuple(notification, fc.integer({ min: 1, max: 8 })), { minLength: 1, maxLength: 25 })
  .map((runs) => runs.flatMap(([one, count]) => Array.from({ length: count }, () => one)));
type Happening = (atMs: number) => PipelineEvent;
const happening: fc.Arbitrary<Happening> = fc.oneof(
  fc.constantFrom('holdStart' as const, 'holdEnd' as const, 'breathing' as const).map(
    (kind): Happening =>
      (atMs) => ({ type: 'mark', mark: { markId: `m${atMs}`, kind, atMs: monotonicMs(atMs) } }),
  ),
  fc.constant<Happening>((atMs) => ({ type: 'acknowledge', atMs: monotonicMs(atMs) })),
  fc.boolean().map(
    (paused): Happening =>
      (atMs) => ({ type: 'pauseAudio', atMs: monotonicMs(atMs), paused }),
  ),
  fc.boolean().map(
    (connected): Happening =>
      (atMs) => ({
        type: 'link',
        atMs: monotonicMs(atMs),
        sensorId: 'ox',
        measures: ['oximeter'],
        connected,
      }),
  ),
  fc.integer({ min: 30, max: 200 }).map(
    (bpm): Happening =>
      (atMs) => ({
        type: 'packet',
        atMs: monotonicMs(atMs),
        sensorId: 'strap',
        characteristic: '2a37',
        bytes: Uint8Array.of(0x06, bpm),
      }),
  ),
);

const highAlarmStands = (pipeline: Pipeline): boolean =>
  pipeline.state.alarms.some(
    ({ kind, priority, conditionPresent }) =>
      kind === 'floorBreached' && priority === 'high' && conditionPresent,
  );

describe('3 s of valid readings below the floor', () => {
  test('have a high alarm standing, whatever else is sent and whatever happens', () => {
    let crossings = 0;
    fc.assert(
      fc.property(
        notifications,
        fc.array(fc.tuple(fc.nat(200), happening), { maxLength: 20 }),
        (sent, others) => {
          const pipeline = createPipeline(settings);
          const lowSince = new Map<string, number>();
          let nowMs = 0;
          sent.forEach((one, index) => {
            nowMs += one.gapMs;
            for (const [at, make] of others) if (at === index) pipeline.push(make(nowMs));
            pipeline.push({
              type: 'packet',
              atMs: monotonicMs(nowMs),
              sensorId: one.sensorId,
              characteristic: '2a5f',
              bytes: bytesOf(one),
            });
            if (!isValid(one)) return;
            // Of two readings in one notification each is watched by itself; where one is missing, the other is both.
            const fast = one.fast !== null && isReading(one.fast) ? one.fast : one.spo2;
            for (const [key, value] of [
              [`${one.sensorId} normal`, isReading(one.spo2) ? one.spo2 : fast],
              [`${one.sensorId} fast`, fast],
            ] as const) {
              // Above 100 is flagged by nobody, but is no saturation: it neither shows a fall nor contradicts one.
              if (!isReading(value)) continue;
              if (value >= floorPercent) lowSince.delete(key);
              else if (!lowSince.has(key)) lowSince.set(key, nowMs);
              const sinceMs = lowSince.get(key);
              if (sinceMs === undefined || nowMs - sinceMs < 3_000) continue;
              crossings += 1;
              if (!highAlarmStands(pipeline))
                throw new Error(`no high alarm at ${nowMs}, low since ${sinceMs} (${key})`);
            }
          });
        },
      ),
      { numRuns: Number(process.env.FLOOR_PROPERTY_RUNS ?? 120) },
    );
    // The inputs must reach what the property is about.
    expect(crossings).toBeGreaterThan(500);
  }, 120_000);

  test('an oximeter that begins to send a second reading in a fall goes on from what it sent before', () => {
    const pipeline = createPipeline(settings);
    const plain = { sensorId: 'ox', gapMs: 0, pulse: 60, measurementBits: 0, deviceBits: 0 } as const;
    const send = (atMs: number, spo2: number, fast: number | null): void => {
      const bytes = bytesOf({ ...plain, spo2, fast });
      pipeline.push({
        type: 'packet',
        atMs: monotonicMs(atMs),
        sensorId: 'ox',
        characteristic: '2a5f',
        bytes,
      });
    };
    send(1_000, 92, null);
    send(2_000, 84, null);
    send(3_000, 83, null);
    // The fast one is above the floor: only what was read before says that the other has been low for 3 s.
    send(5_000, 82, 90);
    expect(highAlarmStands(pipeline)).toBe(true);
  });

  test('readings that the sensor itself calls invalid raise no floor alarm', () => {
    for (const [measurementBits, deviceBits] of [
      [1 << 15, 0],
      [1 << 13, 0],
      [0, 1 << 3],
      [0, 1 << 11],
    ] as const) {
      const pipeline = createPipeline(settings);
      for (let second = 1; second <= 20; second += 1)
        pipeline.push({
          type: 'packet',
          atMs: monotonicMs(1_000 * second),
          sensorId: 'ox',
          characteristic: '2a5f',
          bytes: bytesOf({
            gapMs: 0,
            sensorId: 'ox',
            spo2: 70,
            fast: null,
            pulse: 60,
            measurementBits,
            deviceBits,
          }),
        });
      expect(highAlarmStands(pipeline)).toBe(false);
    }
  });
});

test('a real ten seconds below 82 %: the alarm comes within 3 s of the first reading and stands to the last', () => {
  // fixtures/controlled-desaturation: recording 100004, slot 2, its seconds 756 to 765 are 56 to 65 of the extract.
  const lines = readFileSync(
    new URL('../../../fixtures/controlled-desaturation/subject-4-slot-2.csv', import.meta.url),
    'utf8',
  ).split('\n');
  const channels = {
    spo2_percent: 'spo2Percent',
    pulse_rate_bpm: 'pulseRateBpm',
    heart_rate_bpm: 'heartRateBpm',
  } as const;
  const pipeline = createPipeline({ ...settings, floorSpo2Percent: percent(82) });
  const standing: number[] = [];
  for (const line of lines) {
    const [time, name, value] = line.split(',');
    const channel = channels[name as keyof typeof channels];
    if (channel === undefined) continue;
    pipeline.push({
      type: 'sample',
      sample: {
        channel,
        atMs: monotonicMs(Number(time) * 1_000),
        value: Number(value),
        sensorId: channel === 'heartRateBpm' ? 'ecg' : 'ox',
        quality: 'good',
        reasons: [],
      },
    });
    if (channel === 'spo2Percent' && highAlarmStands(pipeline)) standing.push(Number(time));
    // People who see an alarm acknowledge it; the next crossing must show by itself.
    pipeline.push({ type: 'acknowledge', atMs: pipeline.state.atMs });
  }
  expect(standing).toEqual(expect.arrayContaining([59, 60, 61, 62, 63, 64, 65]));
});
