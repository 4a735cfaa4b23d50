// Sessions, athletes, pages, alarms, crashes and a failing disk in any order: no true condition without a signal, no ended
// session that a page believes running. The long run is tests/bench/session-machine.bench.ts.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { explore, happenings } from '../support/session-machine.ts';

test('whatever happens in whatever order, what stands is shown and sounds, and what ended unasked is told', async () => {
  let steps = 0;
  await fc.assert(
    fc.asyncProperty(fc.commands([...happenings], { maxCommands: 60, size: '+1' }), async (commands) => {
      steps += await explore(commands);
    }),
    { numRuns: 60, seed: 20_311_105, endOnFailure: false },
  );
  expect(steps).toBeGreaterThan(500);
}, 120_000);
