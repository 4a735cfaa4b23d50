import { describe, expect, it } from 'vitest';
import { scaledClock } from '../../hub/base/scaled-clock.ts';
import { createFakeClock } from '../support/fake-clock.ts';

describe('a scaled clock', () => {
  it('runs both times and its timers as many times faster', () => {
    const real = createFakeClock();
    const fast = scaledClock(real, 20);
    const zeroMs = fast.nowMs();
    const wallZeroMs = fast.wallNowMs();
    const seen: number[] = [];
    const cancel = fast.every(500, () => seen.push(fast.nowMs() - zeroMs));
    fast.after(1_200, () => seen.push(-1));
    real.advance(100);
    expect(fast.nowMs() - zeroMs).toBe(2_000);
    expect(fast.wallNowMs() - wallZeroMs).toBe(2_000);
    expect(seen).toEqual([500, 1_000, -1, 1_500, 2_000]);
    cancel();
    real.advance(100);
    expect(seen).toHaveLength(5);
    expect(real.timerCount).toBe(0);
  });

  it('runs slower too, is the same clock at 1, and refuses nonsense', () => {
    const real = createFakeClock();
    const slow = scaledClock(real, 0.5);
    const zeroMs = slow.nowMs();
    real.advance(1_000);
    expect(slow.nowMs() - zeroMs).toBe(500);
    expect(scaledClock(real, 1)).toBe(real);
    for (const scale of [0, -1, Number.NaN, Number.POSITIVE_INFINITY]) {
      expect(() => scaledClock(real, scale)).toThrow(RangeError);
    }
  });
});
