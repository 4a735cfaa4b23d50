import { expect, test } from 'vitest';
import { SessionClock } from '../../web/state/session-clock.ts';

test('carries the hub time forward by the page clock', () => {
  const clock = new SessionClock();
  expect(clock.nowMs(1_000)).toBeNull();
  clock.stamp(60_000, 1_000);
  expect(clock.nowMs(1_500)).toBe(60_500);
});

test('a delayed stamp does not make readings look younger', () => {
  const clock = new SessionClock();
  clock.stamp(60_000, 1_000);
  // Said at 60.5 s of the session but heard 700 ms late.
  clock.stamp(60_500, 2_200);
  expect(clock.nowMs(2_200)).toBe(61_200);
});

test('a hub whose time runs slower is followed once the window has passed', () => {
  const clock = new SessionClock();
  clock.stamp(60_000, 0);
  for (let count = 1; count <= 12; count += 1) clock.stamp(50_000 + count * 500, count * 500);
  expect(clock.nowMs(6_000)).toBe(56_000);
});

test('time runs at the scale of the demo', () => {
  const clock = new SessionClock();
  clock.setTimeScale(10);
  clock.stamp(0, 100);
  expect(clock.nowMs(600)).toBe(5_000);
});
