// No state of the alarm engine has a true condition and no signal: every sequence of three events from each of five
// beginnings, and long random ones. `npx tsx tests/bench/alarm-walk.bench.ts` goes five deep, over a million steps.

import * as fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  beginnings,
  brokenPromise,
  freshWalk,
  symbols,
  walk,
  walkAll,
} from '../../support/alarm-corpus/alarm-walk.ts';

test.each(beginnings)('every three events after [%s, %s, %s ...]', (...beginning) => {
  const steps = walkAll(
    beginning.filter((symbol) => symbol !== undefined),
    3,
  );
  expect(steps).toBeGreaterThanOrEqual(13 + 13 ** 2 + 13 ** 3);
});

test('no long story breaks a promise', () => {
  fc.assert(
    fc.property(fc.array(fc.constantFrom(...symbols), { maxLength: 120 }), (story) => {
      let state = freshWalk();
      for (const symbol of story) {
        state = walk(state, symbol);
        expect(brokenPromise(state)).toBeNull();
      }
    }),
    { numRuns: 150 },
  );
});

describe('the judge is one', () => {
  test('it finds an engine that has forgotten its alarms', () => {
    const low = beginnings[2]!.slice(0, -1).reduce(walk, freshWalk());
    expect(brokenPromise(low)).toBeNull();
    const forgetful = { ...low, engine: { ...low.engine, alarms: [], tracked: [] } };
    expect(brokenPromise(forgetful)).toMatch(/below the floor and no alarm/);
  });
});
