// Whose a sensor is, by which one falls silent and comes back.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { monotonicMs } from '../../../shared/units.ts';
import { createAnswerWatch, silentAfterMs } from '../../../src/signal/answering-sensor.ts';

/** `offAtS` to `backAtS`: readings that cannot be used; `everyS` between two packets. */
function statesOf(
  sensors: Readonly<Record<string, { offAtS?: number; backAtS?: number; everyS: number }>>,
  untilS: number,
) {
  const watch = createAnswerWatch();
  for (let second = 0; second <= untilS; second += 1)
    for (const [sensorId, { offAtS = 1e9, backAtS = 1e9, everyS }] of Object.entries(sensors))
      if (second % everyS === 0)
        watch.push(sensorId, monotonicMs(second * 1_000), second < offAtS || second >= backAtS);
  return Object.fromEntries(watch.states(monotonicMs(untilS * 1_000)));
}

test('the one that was taken off and put back has answered; the others are steady', () => {
  fc.assert(
    fc.property(
      fc.integer({ min: 2, max: 10 }),
      fc.integer({ min: 8, max: 20 }),
      fc.integer({ min: 1, max: 4 }),
      (offAtS, offS, everyS) => {
        const states = statesOf(
          { theirs: { offAtS, backAtS: offAtS + offS, everyS }, other: { everyS } },
          44,
        );
        expect(states).toEqual({ theirs: 'answered', other: 'steady' });
      },
    ),
  );
});

test('a reading of movement that is shorter than a slow oximeter waits is no answer', () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 3 }), fc.integer({ min: 2, max: 20 }), (offS, offAtS) => {
      expect(statesOf({ one: { offAtS, backAtS: offAtS + offS, everyS: 1 } }, 40)).toEqual({ one: 'steady' });
    }),
  );
});

test('while it is off it is silent; one never read can tell nothing', () => {
  expect(statesOf({ off: { offAtS: 5, everyS: 1 }, never: { offAtS: 0, everyS: 1 } }, 20)).toEqual({
    off: 'silent',
    never: 'unheard',
  });
  const watch = createAnswerWatch();
  watch.push('one', monotonicMs(0), true);
  expect(watch.states(monotonicMs(silentAfterMs - 1)).get('one')).toBe('steady');
});
