import { describe, expect, test } from 'vitest';
import { rmssdMs, sdnnMs } from '../../../src/signal/heart-rate-variability.ts';

// Reference values 7.01, 7.02 (definitions of Task Force 1996), worked by hand: sum of squares 15625 = 125^2.
const example = [800, 810, 790, 820, 780, 830, 800, 760, 840, 805];

describe('variability', () => {
  test('agrees with the values worked by hand', () => {
    expect(rmssdMs(example)).toBeCloseTo(41.666666666666664, 9);
    expect(sdnnMs(example)).toBeCloseTo(23.576117859675993, 9);
  });
  test('is not known below two intervals', () => {
    expect(rmssdMs([800])).toBeNull();
    expect(sdnnMs([])).toBeNull();
  });
});
