import { expect, test } from 'vitest';
import { burstDurationMs, signalPatterns } from '../../src/alarms/signal-patterns.ts';
import { AlarmVibration } from '../../web/audio/alarm-vibration.ts';

test('vibrates once a burst, at once on a change, and stops with the sound', () => {
  const calls: number[][] = [];
  const vibration = new AlarmVibration((patternMs) => calls.push(patternMs));
  const { sound, vibrationMs } = signalPatterns.high;
  const periodMs = burstDurationMs(sound) + sound.interburstMs;
  vibration.update(null, 0);
  expect(calls).toEqual([]);
  for (let nowMs = 0; nowMs < periodMs * 2; nowMs += 200) vibration.update('high', nowMs);
  expect(calls).toEqual([[...vibrationMs], [...vibrationMs]]);
  vibration.update('medium', periodMs * 2);
  expect(calls.at(-1)).toEqual([...signalPatterns.medium.vibrationMs]);
  vibration.update(null, periodMs * 2 + 200);
  vibration.update(null, periodMs * 2 + 400);
  expect(calls).toHaveLength(4);
  expect(calls.at(-1)).toEqual([]);
});
