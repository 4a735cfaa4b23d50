// A running plan tells the detector when holds are to begin.

import { afterEach, expect, test } from 'vitest';
import { PlanRuns } from '../../hub/plans/plan-runs.ts';
import { makeIntervalSeries } from '../../src/plans/generate-plan.ts';
import { type ServedTestHub, serveTestHub, testLog } from '../support/serve-test-hub.ts';

let served: ServedTestHub | undefined;
afterEach(() => served?.close());

test('each planned start is told once, in the process time it falls in', async () => {
  served = await serveTestHub();
  const { hub, store, clock } = served;
  hub.startSession(['mira'], '');
  const told: { athleteId: string; inMs: number; toleranceMs: number }[] = [];
  const expectHold = hub.expectHold.bind(hub);
  hub.expectHold = (athleteId, startAtMs, toleranceMs) => {
    told.push({ athleteId, inMs: startAtMs - clock.nowMs(), toleranceMs });
    expectHold(athleteId, startAtMs, toleranceMs);
  };
  const runs = new PlanRuns({ hub, store, log: testLog, makeId: () => 'run-1' });
  runs.open();
  const begun = runs.start(
    makeIntervalSeries(),
    {
      athletes: [{ athleteId: 'mira', offsetMs: 0 }],
      oneAtATime: false,
      assumeFromCues: true,
      acceptedWarnings: ['previewCrossesFloor'],
    },
    null,
  );
  expect(begun.ok).toBe(true);
  clock.advance(5_000);
  expect(told.length).toBe(1);
  expect(told[0]!.athleteId).toBe('mira');
  expect(told[0]!.inMs).toBeGreaterThan(0);
  // The series starts every four minutes; the second start is told once the first effort is over.
  clock.advance(8 * 60_000);
  expect(told.length).toBeGreaterThanOrEqual(2);
  expect(new Set(told.map((one) => one.toleranceMs)).size).toBe(1);
  await runs.close();
});
