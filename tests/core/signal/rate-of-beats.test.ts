// A rate from beats alone: steady over a beat that was missed, and nothing across a silence. And by a whole pipeline, that a
// sensor of beats is not called lost while it sends.

import { describe, expect, test } from 'vitest';
import { monotonicMs, percent } from '../../../shared/units.ts';
import { createPipeline } from '../../../src/pipeline.ts';
import type { SensorProfile } from '../../../src/profiles/sensor-profile.ts';
import { beatSample } from '../../../src/signal/profile-sources.ts';
import { createRateOfBeats } from '../../../src/signal/rate-of-beats.ts';

const ratesOf = (intervals: readonly number[], fromMs = 0) => {
  const rateOf = createRateOfBeats();
  let atMs = fromMs;
  return intervals.map((intervalMs) => {
    atMs += intervalMs;
    return rateOf(beatSample('patch', atMs, intervalMs, []))?.value;
  });
};

describe('a rate from beats', () => {
  test('is that of the middle interval, from the third on', () => {
    expect(ratesOf([1_000, 1_000, 1_000, 1_000])).toEqual([undefined, undefined, 60, 60]);
  });
  test('is not moved by one beat missed or one too many', () => {
    expect(ratesOf([800, 800, 800, 800, 1_600, 800, 800]).slice(2)).toEqual([75, 75, 75, 75, 75]);
    expect(ratesOf([800, 800, 800, 800, 400, 400, 800]).slice(2)).toEqual([75, 75, 75, 75, 75]);
  });
  test('follows a heart that slows within three beats', () => {
    expect(ratesOf([600, 600, 600, 600, 600, 1_200, 1_200, 1_200]).at(-1)).toBe(50);
  });
  test('takes nothing over a silence, and no interval that no heart has', () => {
    const rateOf = createRateOfBeats();
    for (const atMs of [1_000, 2_000, 3_000]) rateOf(beatSample('patch', atMs, 1_000, []));
    expect(rateOf(beatSample('patch', 12_000, 500, []))).toBeUndefined();
    expect(rateOf(beatSample('patch', 12_100, 100, []))).toBeUndefined();
  });
});

const characteristic = '5c1d000227aa4d3e8f106a0b9d3c7e21';
/** A chest electrode that sends 250 numbers a second, 25 at a time. */
const electrode: SensorProfile = {
  name: 'Rill electrode',
  measures: ['heartRate'],
  match: { services: [], namePrefix: 'Rill' },
  link: { service: '5c1d000127aa4d3e8f106a0b9d3c7e21', notify: characteristic, start: [] },
  frame: null,
  fields: [
    {
      gives: 'ecg',
      at: 0,
      type: 'i16le',
      bits: null,
      scale: 1,
      offset: 0,
      invalid: [],
      count: 'rest',
      rateHz: 250,
      when: null,
    },
  ],
};

test('an electrode by profile (SIMULATED): its rate is known, it is not lost while it sends, and is when it stops', () => {
  const settings = {
    floorSpo2Percent: percent(80),
    thresholdsPercent: [],
    heartRateLowBpm: null,
    heartRateHighBpm: null,
    maxHoldDurationMs: null,
    forecastAlarm: 'off' as const,
  };
  const pipeline = createPipeline(settings, [electrode]);
  const link = { type: 'link', sensorId: 'rill', measures: ['heartRate'], connected: true } as const;
  pipeline.push({ ...link, atMs: monotonicMs(0) });
  const wave = (atMs: number): number => {
    const fromBeat = ((atMs + 450) % 900) - 450;
    return Math.round(1_000 * Math.exp(-(fromBeat ** 2) / (2 * 12 ** 2)) + 50 * Math.sin(atMs / 600));
  };
  const kinds = () => pipeline.state.alarms.map(({ kind, subject }) => `${kind} ${subject}`);
  for (let atMs = 100; atMs <= 40_000; atMs += 100) {
    const bytes = new Uint8Array(50);
    const view = new DataView(bytes.buffer);
    for (let i = 0; i < 25; i += 1) view.setInt16(2 * i, wave(atMs - 100 + 4 * i), true);
    pipeline.push({ type: 'packet', atMs: monotonicMs(atMs), sensorId: 'rill', characteristic, bytes });
    if (atMs > 15_000) expect(kinds()).toEqual([]);
  }
  expect(pipeline.state.latestHeartRate?.value).toBeCloseTo(60_000 / 900, 0);
  pipeline.push({ type: 'advance', atMs: monotonicMs(51_000) });
  expect(kinds()).toEqual(['sensorLost heartRateSensor']);
});
