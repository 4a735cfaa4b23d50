// Numbers and lengths of time as people type them.

import { expect, test } from 'vitest';
import { readNumber, readSeconds } from '../../web/state/typed-number.ts';

test.each([
  ['1:35', 95],
  ['95', 95],
  [' 95 s ', 95],
  ['0:05', 5],
  ['2 min', 120],
  ['12:00', 720],
  ['1:02:05', 3725],
  ['1:5', 65],
  ['1:75', undefined],
  ['', undefined],
  ['soon', undefined],
  ['-5', undefined],
])('%j is %s seconds', (text, seconds) => {
  expect(readSeconds(text)).toBe(seconds);
});

test.each([
  ['25', 25],
  ['12.5', 12.5],
  ['12,5', 12.5],
  ['16 2/3', 50 / 3],
  ['16⅔', 50 / 3],
  ['33 1/3', 100 / 3],
  ['2/3', 2 / 3],
  ['5/0', undefined],
  ['', undefined],
  ['m', undefined],
])('%j is %s', (text, value) => {
  const read = readNumber(text);
  if (value === undefined) expect(read).toBeUndefined();
  else expect(read).toBeCloseTo(value, 12);
});
