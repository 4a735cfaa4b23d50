// A frightened hand taps twice: the second tap acknowledges nothing that has come up under it.

import { expect, test } from 'vitest';
import { HurriedHand } from '../../web/state/hurried-hand.ts';

test('the first press is meant, whatever the time', () => {
  expect(new HurriedHand().isMeant('a', 0)).toBe(true);
});

test('a press on another alarm is meant only 600 ms after the one before, on the same at once', () => {
  const hand = new HurriedHand();
  hand.pressed('a', 1_000);
  expect(hand.isMeant('a', 1_001)).toBe(true);
  expect(hand.isMeant('b', 1_599)).toBe(false);
  expect(hand.isMeant('b', 1_600)).toBe(true);
});

test('tapping on and on keeps nobody from the next alarm', () => {
  const hand = new HurriedHand();
  const taken: number[] = [];
  hand.pressed('a', 0);
  for (let atMs = 150; atMs <= 900; atMs += 150)
    if (hand.isMeant('b', atMs)) {
      taken.push(atMs);
      hand.pressed('b', atMs);
    }
  expect(taken[0]).toBe(600);
});
