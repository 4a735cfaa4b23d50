// Sessions, athletes, pages, alarms, crashes and a failing disk in any order: no true condition without a signal, no ended
// session that a page believes running. The long run is tests/bench/session-machine.bench.ts.

import fc from 'fast-check';
import { expect, test } from 'vitest';
import { explore, happenings, World } from '../support/session-machine.ts';

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

test('a page whose sound is taken away as its alarms are put aside counts for nothing at once', async () => {
  const world = new World();
  try {
    await world.boot();
    world.hub?.startSession(['mira', 'teo'], '');
    world.pass(6, 97);
    const unheard = () =>
      world.hub?.snapshotOf('mira')?.alarms.find(({ kind }) => kind === 'pageUnresponsive');
    const alarmId = unheard()?.alarmId;
    expect(alarmId).toBeDefined();

    // One page draws and is silent, the other sounds and does not draw.
    const [silent, blank] = [world.pages[1]!, world.pages[0]!];
    silent.sounds = blank.shows = false;
    for (const page of world.pages) world.connect(page);
    world.pass(3, null);
    world.setSound(blank, false);
    world.acknowledge(blank);
    for (let second = 1; second <= 6; second += 1) {
      world.pass(1, 97);
      world.check();
      // It has not passed and come again: it is the one that a person has seen.
      expect(unheard()).toMatchObject({ alarmId, conditionPresent: true, acknowledged: true });
    }
  } finally {
    world.close();
  }
});
