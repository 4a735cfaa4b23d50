// The filter that tells a curve's own error from the oximeter's noise: what it finds, and how sure it says it is.

import { describe, expect, test } from 'vitest';
import { MisfitFilter } from '../../../src/oxygen/misfit.ts';
import { createRandom } from '../../support/corpus/seeded-random.ts';

/** One curve that is off by `off(second)`, heard once a second. */
function heard(seconds: number, off: (second: number) => number): MisfitFilter {
  const filter = new MisfitFilter(1, 1);
  for (let second = 0; second < seconds; second++) {
    filter.expect(second, 1, 1);
    filter.hear(0, off(second));
  }
  return filter;
}

test('a curve that is off by a level stays off by it', () => {
  expect(heard(60, () => 1).ahead(0, 20)).toBeCloseTo(1, 0);
});

test('a curve that is ever less steep than the readings goes on so, though not for ever', () => {
  const filter = heard(60, (second) => -0.1 * second);
  expect(filter.ahead(0, 0)).toBeGreaterThan(-6.2);
  expect(filter.ahead(0, 0)).toBeLessThan(-5);
  expect(filter.ahead(0, 20)).toBeLessThan(filter.ahead(0, 0) - 0.7);
  expect(filter.ahead(0, 20)).toBeGreaterThan(-8.2);
});

test('surer once it has heard readings, less sure the farther ahead, and less where slopes go wronger', () => {
  expect(heard(30, () => 0).spreadAhead(20)).toBeLessThan(heard(0, () => 0).spreadAhead(20));
  const filter = heard(30, () => 0);
  for (let aheadS = 0; aheadS < 40; aheadS += 5)
    expect(filter.spreadAhead(aheadS + 5)).toBeGreaterThan(filter.spreadAhead(aheadS));
  expect(new MisfitFilter(1, 2).spreadAhead(20)).toBeGreaterThan(new MisfitFilter(1, 1).spreadAhead(20));
});

test('a movement of twenty points moves it by less than one, a doubtful one by less still', () => {
  const moved = (trust: number): number => {
    const filter = heard(30, () => 0);
    filter.expect(30, 1, trust);
    filter.hear(0, -20);
    return -filter.ahead(0, 0);
  };
  expect(moved(1)).toBeLessThan(1);
  expect(moved(0.3)).toBeLessThan(moved(1));
});

test('forgetting is being new', () => {
  const filter = heard(30, (second) => second);
  filter.forget();
  expect(filter.ahead(0, 20)).toBe(0);
  expect(filter.spreadAhead(20)).toBe(new MisfitFilter(1, 1).spreadAhead(20));
});

test('all curves at once are told what each is told by itself, whichever times were asked for before and whatever lags they get', () => {
  const filter = new MisfitFilter(3, 1);
  const lagS = Float64Array.of(4, 11.25, 19.5);
  const shifts = new Float64Array(4);
  const spreads = new Float64Array(4);
  for (let second = 0; second < 60; second++) {
    filter.expect(second, 1, 1);
    for (let index = 0; index < 3; index++) filter.hear(index, (index - 1) * 0.1 * second);
    if (second % 20 === 10) {
      lagS[second % 3] = second / 3;
      filter.lagsChanged();
    }
    for (const aheadS of second % 4 === 0 ? [0, 3, 9, 0] : [0, 3]) {
      filter.aheadInto(aheadS, lagS, shifts, spreads, 1);
      for (let index = 0; index < 3; index++) {
        expect(shifts[1 + index]).toBe(filter.ahead(index, aheadS + lagS[index]!));
        expect(spreads[1 + index]).toBe(filter.spreadAhead(aheadS + lagS[index]!));
      }
    }
  }
});

describe('readings of its own kind', () => {
  /** Slope that drifts, noise that stays for seconds, rounding: as the filter takes them to be. */
  function course(seed: number, seconds: number): { truth: number[]; read: number[] } {
    const random = createRandom(seed);
    const [truth, read]: [number[], number[]] = [[], []];
    let [slope, level, noise] = [0.03 * random.normal(), 0.5 * random.normal(), 0.35 * random.normal()];
    for (let second = 0; second < seconds; second++) {
      truth.push(level);
      read.push(Math.round(level + noise));
      level += slope;
      slope = slope * Math.exp(-1 / 40) + 0.03 * Math.sqrt(1 - Math.exp(-2 / 40)) * random.normal();
      noise = noise * Math.exp(-1 / 8) + 0.35 * Math.sqrt(1 - Math.exp(-2 / 8)) * random.normal();
    }
    return { truth, read };
  }

  test('where they will be 20 s ahead lies within its spread in 60 to 76 of 100 cases (68 by the normal distribution)', () => {
    let inside = 0;
    for (let seed = 1; seed <= 400; seed++) {
      const { truth, read } = course(seed, 81);
      const filter = heard(61, (second) => read[second]!);
      if (Math.abs(truth[80]! - filter.ahead(0, 20)) < filter.spreadAhead(20)) inside++;
    }
    expect(inside / 400).toBeGreaterThan(0.6);
    expect(inside / 400).toBeLessThan(0.76);
  });
});
