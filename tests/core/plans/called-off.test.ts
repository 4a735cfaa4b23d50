// Which hold of a run was called off, when and why; a bad signal is no reason.

import { describe, expect, test } from 'vitest';
import type { PlanRunEvent } from '../../../shared/plan-run.ts';
import { monotonicMs } from '../../../shared/units.ts';
import { calledOffOf } from '../../../src/plans/called-off.ts';
import { makeTableFromRows } from '../../../src/plans/generate-plan.ts';
import { createPlanRun, replayPlanRun } from '../../../src/plans/plan-run.ts';
import { athleteRunOf } from '../../../src/plans/plan-run-state.ts';

const athleteId = 'mira';
const plan = makeTableFromRows(
  'Evening table',
  [60, 60, 60, 60].map((ceilingSeconds) => ({ ceilingSeconds, recoverySeconds: 120 })),
);
const at = (seconds: number) => monotonicMs(seconds * 1_000);
const begins = (seconds: number, holdId: string): PlanRunEvent => ({
  type: 'holdStarted',
  atMs: at(seconds),
  athleteId,
  holdId,
  startedAtMs: at(seconds),
  source: 'mark',
});
const ends = (seconds: number, holdId: string): PlanRunEvent => ({
  type: 'holdEnded',
  atMs: at(seconds),
  athleteId,
  holdId,
  endedAtMs: at(seconds),
  source: 'mark',
  lowestSpo2Percent: 90,
  floorSpo2Percent: 88,
});
const alarms = (
  seconds: number,
  ...present: Extract<PlanRunEvent, { type: 'alarms' }>['present']
): PlanRunEvent => ({
  type: 'alarms',
  atMs: at(seconds),
  athleteId,
  present,
});

function calledOff(...events: readonly PlanRunEvent[]) {
  const created = createPlanRun(plan, 0, {
    athletes: [{ athleteId, offsetMs: 0 }],
    oneAtATime: false,
    assumeFromCues: false,
    acceptedWarnings: ['noRecovery', 'shortRecovery', 'manyHolds'],
  });
  if (!created.ok) throw new Error('not created');
  const athleteRun = athleteRunOf(replayPlanRun(created.value, events), athleteId)!;
  return calledOffOf(athleteRun, events);
}

/** Lead-in of 120 s; then a hold of 50 s every 170 s or so. */
const first = [begins(120, 'h1'), ends(170, 'h1')];

describe('a run that was called off', () => {
  test('by an alarm in the second hold', () => {
    expect(calledOff(...first, begins(295, 'h2'), alarms(330, 'floorBreached'), ends(335, 'h2'))).toEqual({
      holdNumber: 2,
      plannedCount: 4,
      atMs: 330_000,
      why: 'floorBreached',
    });
  });

  test('by a person, whatever sensors were doing', () => {
    expect(
      calledOff(
        ...first,
        begins(295, 'h2'),
        alarms(310, 'signalPoor', 'sensorLost'),
        { type: 'abort', atMs: at(320), athleteId },
        ends(322, 'h2'),
      ),
    ).toEqual({ holdNumber: 2, plannedCount: 4, atMs: 320_000, why: 'person' });
  });

  test('not by a sensor that was lost or read badly', () => {
    expect(
      calledOff(
        ...first,
        begins(295, 'h2'),
        alarms(310, 'signalPoor', 'sensorLost'),
        ends(340, 'h2'),
        alarms(341),
      ),
    ).toBeNull();
  });

  test('ended by a person with holds left', () => {
    expect(calledOff(...first, { type: 'end', atMs: at(200), athleteId: null })).toEqual({
      holdNumber: 1,
      plannedCount: 4,
      atMs: 200_000,
      why: 'endedEarly',
    });
    expect(calledOff(...first)).toBeNull();
  });
});
