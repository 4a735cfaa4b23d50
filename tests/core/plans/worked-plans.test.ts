// Plans against rows worked by hand. Every shape and number here: common practice, no source.

import { describe, expect, test } from 'vitest';
import type { Plan } from '../../../shared/plan.ts';
import { said } from '../../../shared/said.ts';
import { sayInEnglish } from '../../../shared/words/say.ts';
import { checkPlan } from '../../../src/plans/check-plan.ts';
import { describePlan } from '../../../src/plans/describe-plan.ts';
import {
  makeIntervalSeries,
  makeMaximalAttempts,
  makePoolIntervals,
  makeTableFromRows,
  makeTwelveMinuteSwim,
  makeWalkBySteps,
  makeWalkByTime,
  swimDistanceMeters,
} from '../../../src/plans/generate-plan.ts';
import { dryMinimumRecovery, minimumRecoveryMs } from '../../../src/plans/minimum-recovery.ts';
import { planSteps, recoveryAfterMs } from '../../../src/plans/plan-steps.ts';
import { carbonDioxideTableOf, oxygenTableOf, plansOfEveryKind } from '../../support/usual-plans.ts';

const rowsOf = (plan: Plan) =>
  plan.kind === 'holdTable' ? plan.rows.map((row) => [row.ceilingSeconds, row.recoverySeconds]) : [];

describe('self-paced interval series (common practice, no source)', () => {
  test('8 starts every 4 min: a 2 min hold leaves 2 min, a 3 min hold leaves 1 min', () => {
    const plan = makeIntervalSeries(8, 240);
    const steps = planSteps(plan);
    expect(steps).toHaveLength(8);
    expect(recoveryAfterMs(plan, steps[0]!, 120_000)).toBe(120_000);
    expect(recoveryAfterMs(plan, steps[0]!, 180_000)).toBe(60_000);
  });

  test('a hold of 3:30 keeps its minimum recovery: a third of it, so the next start moves by 40 s', () => {
    const plan = makeIntervalSeries(8, 240);
    expect(recoveryAfterMs(plan, planSteps(plan)[0]!, 210_000)).toBe(70_000);
  });

  test('described to the end of the minimum recovery: starts on the clock, 2 min lead-in, 33 min long', () => {
    const description = describePlan(makeIntervalSeries(8, 240));
    expect(description.rows.map((row) => row.startsAtMs)).toEqual(
      [2, 6, 10, 14, 18, 22, 26, 30].map((minutes) => minutes * 60_000),
    );
    expect(description.rows[0]).toMatchObject({ expectedMs: 180_000, recoveryMs: 60_000 });
    expect(description.rows[7]?.recoveryMs).toBeNull();
    expect(description.lengthMs).toBe(33 * 60_000);
  });
});

describe('tables from the numbers they are given (common practice, no source)', () => {
  test('carbon dioxide from 3:00: eight holds of 1:30, recoveries 2:00 falling by 15 s, not below 0:45', () => {
    expect(rowsOf(carbonDioxideTableOf(180))).toEqual([
      [90, 120],
      [90, 105],
      [90, 90],
      [90, 75],
      [90, 60],
      [90, 45],
      [90, 45],
      [90, 45],
    ]);
  });

  test('carbon dioxide from 5:00: the recovery stops shrinking at a third of 2:30', () => {
    expect(rowsOf(carbonDioxideTableOf(300)).map((row) => row[1])).toEqual([
      120, 105, 90, 75, 60, 50, 50, 50,
    ]);
  });

  test('oxygen from 3:00: eight holds from 1:10 to 2:25, recovery 2:00', () => {
    // 40 % to 80 % of 180 s in seven equal steps: 72, 82.3, 92.6, 102.9, 113.1, 123.4, 133.7, 144, to the 5 s.
    expect(rowsOf(oxygenTableOf(180))).toEqual(
      [70, 80, 95, 105, 115, 125, 135, 145].map((ceiling) => [ceiling, 120]),
    );
  });

  test('explicit rows stay as they are, and their shape is recognised', () => {
    const rows = [
      { ceilingSeconds: 60, recoverySeconds: 90 },
      { ceilingSeconds: 60, recoverySeconds: 75 },
      { ceilingSeconds: 60, recoverySeconds: 60 },
    ];
    expect(makeTableFromRows('Three', rows)).toMatchObject({ shape: 'carbonDioxide', rows });
    expect(
      makeTableFromRows(
        'Growing',
        [60, 70, 80].map((ceilingSeconds) => ({ ceilingSeconds, recoverySeconds: 90 })),
      ).shape,
    ).toBe('oxygen');
    expect(makeTableFromRows('One', rows.slice(0, 1)).shape).toBe('own');
  });
});

describe('maximal holds, walks, pool (common practice, no source)', () => {
  test('one maximal hold from 3:00: warm-ups 1:10, 1:30, 1:50 with twice as long after each, at least 2:00', () => {
    const plan = makeMaximalAttempts(180);
    expect(plan.warmUps).toEqual([
      { ceilingSeconds: 70, recoverySeconds: 140 },
      { ceilingSeconds: 90, recoverySeconds: 180 },
      { ceilingSeconds: 110, recoverySeconds: 220 },
    ]);
    expect(planSteps(plan).map((step) => sayInEnglish(step.label))).toEqual([
      'Warm-up 1',
      'Warm-up 2',
      'Warm-up 3',
      'Maximal hold 1',
    ]);
    expect(planSteps(plan).at(-1)?.ceilingMs).toBeNull();
  });

  test('walks by time and by steps: twice the walk as recovery', () => {
    expect(describePlan(makeWalkByTime(4, 40)).rows[0]).toMatchObject({
      effort: said('plan.effort.upTo', { ceilingMs: 40_000 }),
      recoveryMs: 80_000,
    });
    // 45 steps at one a second last 45 s.
    expect(describePlan(makeWalkBySteps(4, 45)).rows[0]).toMatchObject({
      effort: said('plan.effort.steps', { steps: 45 }),
      expectedMs: 45_000,
      recoveryMs: 90_000,
    });
  });

  test('pool: 8 times 50 m in a 25 m pool ends each repetition at the second lap', () => {
    const steps = planSteps(makePoolIntervals(8, 50, 25, 120));
    expect(steps).toHaveLength(8);
    expect(steps.every((step) => step.lapsToEnd === 2)).toBe(true);
  });

  test('12-minute swim: 23 lengths of 25 m and 10 m more are 585 m', () => {
    expect(makeTwelveMinuteSwim(25).lengthSeconds).toBe(12 * 60);
    expect(swimDistanceMeters(23, 25, 10)).toBe(585);
  });
});

describe('minimum recovery', () => {
  test('dry default: 45 s, or a third of the hold', () => {
    expect(minimumRecoveryMs(dryMinimumRecovery, 60_000)).toBe(45_000);
    expect(minimumRecoveryMs(dryMinimumRecovery, 240_000)).toBe(80_000);
  });

  test('a plan that breaks it says so and needs a choice', () => {
    const plan = makeTableFromRows('Short', [
      { ceilingSeconds: 180, recoverySeconds: 30 },
      { ceilingSeconds: 180, recoverySeconds: 30 },
    ]);
    const warnings = checkPlan(plan);
    expect(warnings).toMatchObject([{ code: 'recoveryTooShort', stepIndex: 0, needsChoice: true }]);
    expect(warnings.map((warning) => sayInEnglish(warning.said))).toEqual([
      'Hold 1 up to 3:00 would leave 0:30 of recovery; at least 1:00 is kept, so later starts will move.',
    ]);
  });

  test('a preview that may cross the floor needs a choice', () => {
    const plan = makeIntervalSeries(2, 240);
    const previewed = (crossing: 'likely' | 'possible' | 'unlikely') =>
      checkPlan(plan, { floorSpo2Percent: 88, steps: [{ stepIndex: 1, lowestSpo2Percent: 87.4, crossing }] });
    expect(previewed('likely').map((warning) => [warning.code, warning.needsChoice])).toEqual([
      ['previewCrossesFloor', true],
    ]);
    expect(previewed('possible').map((warning) => warning.code)).toEqual(['previewCrossesFloor']);
    expect(previewed('unlikely')).toEqual([]);
  });

  test('starter plans break nothing; only walks, water and maximal holds need a choice', () => {
    for (const plan of plansOfEveryKind()) {
      const codes = checkPlan(plan).filter((warning) => warning.needsChoice);
      const expected = plan.kind === 'apneaWalk' || plan.kind.match(/pool|Swim|maximal/) !== null ? 1 : 0;
      expect(codes.length, plan.title).toBe(expected);
    }
  });
});
