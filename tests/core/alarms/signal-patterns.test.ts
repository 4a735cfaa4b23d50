// Alarm signals against the bands of IEC 60601-1-8 Tables 2-4, second hand (reference 6.02-6.09, alarm_golden).

import { describe, expect, test } from 'vitest';
import { burstDurationMs, type SoundPattern, signalPatterns } from '../../../src/alarms/signal-patterns.ts';

const gapsOf = (sound: SoundPattern): number[] =>
  sound.pulseStartsMs
    .slice(1)
    .map((start, index) => start - sound.pulseStartsMs[index]! - sound.pulseDurationMs);

const within = (value: number, [least, most]: readonly [number, number]): void => {
  expect(value).toBeGreaterThanOrEqual(least);
  expect(value).toBeLessThanOrEqual(most);
};

test('lights: colour, flash rate and duty (6.02-6.04)', () => {
  const { high, medium, low } = signalPatterns;
  expect(high.light.colourName).toBe('red');
  within(high.light.flashHz, [1.4, 2.8]);
  within(high.light.dutyFraction, [0.2, 0.6]);
  expect(medium.light.colourName).toBe('yellow');
  within(medium.light.flashHz, [0.4, 0.8]);
  within(medium.light.dutyFraction, [0.2, 0.6]);
  expect(['cyan', 'yellow']).toContain(low.light.colourName);
  expect(low.light).toMatchObject({ flashHz: 0, dutyFraction: 1 });
});

test('high: 10 pulses grouped 3-2, 3-2 (6.05-6.07)', () => {
  const { sound } = signalPatterns.high;
  expect(sound.pulseStartsMs).toHaveLength(10);
  within(sound.pulseDurationMs, [75, 200]);
  const gaps = gapsOf(sound);
  const spacing = gaps[0]!;
  within(spacing, [50, 125]);
  const group = 2 * spacing + sound.pulseDurationMs;
  const half = [spacing, spacing, group, spacing];
  expect(gaps).toEqual([...half, gaps[4], ...half]);
  within(gaps[4]!, [350, 1300]);
  within(sound.interburstMs, [2_500, 15_000]);
});

test('medium: 3 pulses; low: 1 or 2 (6.05, 6.08)', () => {
  for (const { sound } of [signalPatterns.medium, signalPatterns.low]) {
    within(sound.pulseDurationMs, [125, 250]);
    for (const gap of gapsOf(sound)) within(gap, [125, 250]);
  }
  expect(signalPatterns.medium.sound.pulseStartsMs).toHaveLength(3);
  within(signalPatterns.medium.sound.interburstMs, [2_500, 30_000]);
  within(signalPatterns.low.sound.pulseStartsMs.length, [1, 2]);
  expect(signalPatterns.low.sound.interburstMs).toBeGreaterThan(15_000);
});

describe.each(['high', 'medium', 'low'] as const)('%s', (priority) => {
  const { sound, vibrationMs } = signalPatterns[priority];
  test('spectrum and rise (6.09)', () => {
    within(sound.fundamentalHz, [150, 1000]);
    const harmonics = sound.components.filter(
      ({ multiple, levelDb }) =>
        multiple > 1 &&
        multiple * sound.fundamentalHz >= 300 &&
        multiple * sound.fundamentalHz <= 4000 &&
        Math.abs(levelDb) <= 15,
    );
    expect(harmonics.length).toBeGreaterThanOrEqual(4);
    within(sound.riseMs / sound.pulseDurationMs, [0.1, 0.2]);
  });
  test('vibration is no longer than the burst', () => {
    expect(vibrationMs.reduce((sum, ms) => sum + ms, 0)).toBeLessThanOrEqual(burstDurationMs(sound));
  });
});
