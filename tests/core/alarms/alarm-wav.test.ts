// The alarm sound as bytes: a valid WAV whose pulses lie where the pattern says and whose tones are the pattern's.

import { describe, expect, test } from 'vitest';
import { alarmWav } from '../../../src/alarms/alarm-wav.ts';
import { burstDurationMs, signalPatterns } from '../../../src/alarms/signal-patterns.ts';

/** Level of one tone in dB against full scale, by Goertzel's algorithm. */
function levelDb(samples: Int16Array, hz: number, rate: number): number {
  const w = (2 * Math.PI * hz) / rate;
  let one = 0;
  let two = 0;
  for (const sample of samples) {
    const next = sample / 32_768 + 2 * Math.cos(w) * one - two;
    two = one;
    one = next;
  }
  const power = one * one + two * two - 2 * Math.cos(w) * one * two;
  return 10 * Math.log10((4 * power) / samples.length ** 2 + 1e-12);
}

describe.each(['high', 'medium', 'low'] as const)('%s', (priority) => {
  const { sound } = signalPatterns[priority];
  const bytes = alarmWav(sound);
  const view = new DataView(bytes.buffer);
  const rate = view.getUint32(24, true);
  const samples = new Int16Array(bytes.buffer.slice(44));
  const at = (ms: number): number => Math.round((ms / 1000) * rate);

  test('is a WAV of the burst and says its own sizes', () => {
    const text = (from: number): string => String.fromCharCode(...bytes.subarray(from, from + 4));
    expect([text(0), text(8), text(12), text(36)]).toEqual(['RIFF', 'WAVE', 'fmt ', 'data']);
    expect(view.getUint32(4, true)).toBe(bytes.length - 8);
    expect(view.getUint32(40, true)).toBe(bytes.length - 44);
    expect(samples.length / rate).toBeCloseTo(burstDurationMs(sound) / 1000, 3);
  });

  test('sounds in every pulse, is silent between, never clips', () => {
    for (const startMs of sound.pulseStartsMs) {
      const pulse = samples.subarray(at(startMs), at(startMs + sound.pulseDurationMs));
      expect(Math.max(...pulse)).toBeGreaterThan(10_000);
      const gap = samples.subarray(
        at(startMs + sound.pulseDurationMs) + 2,
        at(startMs + sound.pulseDurationMs + 40),
      );
      expect(gap.every((sample) => sample === 0)).toBe(true);
    }
    expect(Math.max(...samples.map(Math.abs))).toBeLessThan(32_000);
  });

  test('has its fundamental and four harmonics within 15 dB (reference 6.09), and little between', () => {
    const steady = samples.subarray(at(sound.riseMs), at(sound.pulseDurationMs - sound.riseMs));
    const fundamental = levelDb(steady, sound.fundamentalHz, rate);
    for (const multiple of [2, 3, 4, 5])
      expect(Math.abs(levelDb(steady, multiple * sound.fundamentalHz, rate) - fundamental)).toBeLessThan(15);
    expect(levelDb(steady, 1.5 * sound.fundamentalHz, rate)).toBeLessThan(fundamental - 20);
  });
});

test('trailing silence lengthens the file by as much', () => {
  const { sound } = signalPatterns.low;
  expect(alarmWav(sound, 1_000).length - alarmWav(sound).length).toBe(2 * 22_050);
});
